"""The test command: which browser it takes, in which order it asks."""

from __future__ import annotations

import importlib.util
import subprocess
from pathlib import Path

import pytest

spec = importlib.util.spec_from_file_location(
    "struckface_run", Path(__file__).parent / "run.py"
)
run = importlib.util.module_from_spec(spec)
spec.loader.exec_module(run)


@pytest.fixture
def no_browser(monkeypatch):
    monkeypatch.delenv("STRUCKFACE_BROWSER", raising=False)
    monkeypatch.setattr(run.shutil, "which", lambda _name: None)
    monkeypatch.setattr(run, "usual_places", lambda *_: [])


@pytest.mark.usefixtures("no_browser")
def test_no_browser_is_none():
    assert run.installed_browser() is None


@pytest.mark.usefixtures("no_browser")
def test_browser_on_the_path_is_taken(monkeypatch):
    known = {"msedge": "/bin/msedge", "google-chrome": "/bin/google-chrome"}
    monkeypatch.setattr(run.shutil, "which", known.get)

    assert run.installed_browser() == "/bin/google-chrome"


@pytest.mark.usefixtures("no_browser")
def test_browser_in_its_usual_place_is_taken(monkeypatch, tmp_path):
    (tmp_path / "chrome").touch()
    places = [tmp_path / "missing", tmp_path / "chrome"]
    monkeypatch.setattr(run, "usual_places", lambda *_: places)

    assert run.installed_browser() == str(tmp_path / "chrome")


@pytest.mark.usefixtures("no_browser")
@pytest.mark.parametrize("there", [True, False])
def test_named_browser_goes_first_if_it_exists(there, monkeypatch, tmp_path):
    named = tmp_path / "named"
    if there:
        named.touch()
    monkeypatch.setenv("STRUCKFACE_BROWSER", str(named))
    monkeypatch.setattr(run.shutil, "which", lambda _name: "/bin/other")

    assert run.installed_browser() == (str(named) if there else "/bin/other")


@pytest.mark.parametrize(
    ("system", "environment", "place"),
    [
        (
            "win32",
            {"PROGRAMFILES(X86)": "C:/Program Files (x86)"},
            "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
        ),
        (
            "darwin",
            {},
            "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
        ),
    ],
)
def test_usual_places_of_each_system(system, environment, place):
    places = run.usual_places(system, environment, Path("/home/caster"))

    assert Path(place) in places


def test_linux_browsers_are_on_the_path():
    assert run.usual_places("linux", {}, Path("/home/caster")) == []


def test_without_any_browser_the_tests_do_not_pass_as_if_run(monkeypatch, capsys):
    monkeypatch.setattr(run.provision, "provide", lambda *_: Path("python"))
    for search in ("installed_browser", "playwright_browser", "fetch_browser"):
        monkeypatch.setattr(run, search, lambda *_: None)

    assert run.main([]) == 2
    assert "STRUCKFACE_BROWSER" in capsys.readouterr().err


def test_install_that_fails_is_one_sentence(monkeypatch, capsys):
    def fail(*_):
        msg = "The packages could not be installed."
        raise run.provision.ProvisionError(msg)

    monkeypatch.setattr(run.provision, "provide", fail)

    assert run.main([]) == 2
    assert capsys.readouterr().err == "The packages could not be installed.\n"


@pytest.mark.usefixtures("no_browser")
@pytest.mark.parametrize(
    ("root", "debian", "program"),
    [(True, True, "apt"), (True, False, "playwright"), (False, True, "playwright")],
)
def test_missing_browser_is_fetched_the_systems_way(root, debian, program, monkeypatch):
    asked = []
    monkeypatch.setattr(run.system_packages, "is_root", lambda: root)
    monkeypatch.setattr(run, "_is_debian", lambda: debian)
    monkeypatch.setattr(
        run.system_packages, "apt_install", lambda _: asked.append("apt")
    )
    monkeypatch.setattr(run.console, "run_visibly", lambda it: asked.append(it[2]))
    monkeypatch.setattr(run, "playwright_browser", lambda _: None)

    run.fetch_browser(Path("python"))

    assert asked == [program]


@pytest.fixture
def stages(monkeypatch):
    """Answer pytest's runs with the given codes; keep what each was asked."""
    asked = []

    def prepare(*codes):
        answers = iter(codes)

        def answer(command, **_):
            asked.append(command)
            return subprocess.CompletedProcess(command, next(answers))

        monkeypatch.setattr(run.subprocess, "run", answer)
        return asked

    return prepare


def test_walks_come_after_all_else_and_less_crowded(stages):
    asked = stages(0, 0)

    assert run.run_stages(["pytest"], ["-x"], {}) == 0
    first, second = (" ".join(command) for command in asked)
    assert "-n 3" in first
    assert "-m not browser -x" in first
    assert "-n 2" in second
    assert "-m browser -x" in second


def test_failed_walk_is_run_once_more_and_told(stages, capsys):
    asked = stages(0, 1, 0)

    assert run.run_stages(["pytest"], [], {}) == 0
    assert asked[-1] == ["pytest", "-m", "browser", "--last-failed"]
    assert "once more" in capsys.readouterr().out


def test_walk_that_fails_twice_has_failed(stages):
    stages(0, 1, 1)
    assert run.run_stages(["pytest"], [], {}) == 1


def test_other_failures_are_never_run_again(stages):
    asked = stages(1, 0)

    assert run.run_stages(["pytest"], [], {}) == 1
    assert len(asked) == 2


@pytest.mark.parametrize(
    ("codes", "code"), [((5, 0), 0), ((0, 5), 0), ((5, 5), 5), ((2, 0), 2), ((5, 2), 2)]
)
def test_a_stage_without_tests_is_no_failure(stages, codes, code):
    stages(*codes)
    assert run.run_stages(["pytest"], ["tests/voids"], {}) == code


def test_marked_tests_are_run_alone(stages):
    asked = stages(1)

    assert run.run_stages(["pytest"], ["-m", "slow"], {}) == 1
    assert len(asked) == 1
