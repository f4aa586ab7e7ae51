"""The environment: stamps, repair, and what is said while it is made."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import venv as venv_maker
from pathlib import Path

import pytest

from ui.launch import console, provision, stamps, system_packages

ROOT = Path(__file__).resolve().parents[2]


@pytest.fixture
def project(tmp_path):
    root = tmp_path / "Töpfe und Tröge"
    (root / "tests").mkdir(parents=True)
    (root / "requirements.txt").write_text("# nothing\n", encoding="utf-8")
    (root / "tests" / "requirements.txt").write_text(
        "# tools\n-r ../requirements.txt\n", encoding="utf-8"
    )
    return root


@pytest.fixture
def environment(project, monkeypatch):
    """An environment without pip: making one with it takes seconds."""
    venv_maker.create(project / ".venv", with_pip=False)
    monkeypatch.setattr(provision, "_PROBE", "print('3.11.9')")
    return project / ".venv"


def stamp(project, requirements="requirements.txt", python="3.11.9"):
    text = stamps.fingerprint(
        project / requirements, python=python, venv=project / ".venv"
    )
    stamps.write_stamps(project / ".venv", {requirements: text})


def pretend_to_install(monkeypatch, *, code=0, lines=()):
    commands = []

    def run(command, **_):
        commands.append(command)
        if "venv" in command:
            venv_maker.create(command[-1], with_pip=False)
            return 0, []
        return code, list(lines)

    monkeypatch.setattr(console, "run_visibly", run)
    return commands


@pytest.mark.parametrize(
    ("windows", "path"),
    [(True, ".venv/Scripts/python.exe"), (False, ".venv/bin/python")],
)
def test_python_of_an_environment_on_each_system(windows, path):
    python = provision.venv_python(Path(".venv"), windows=windows)

    assert python.as_posix() == path


def test_requirements_drawn_in_come_first(project):
    files = stamps.requirement_files(project / "tests" / "requirements.txt")

    assert files == [
        (project / "requirements.txt").resolve(),
        (project / "tests" / "requirements.txt").resolve(),
    ]


def test_project_tests_draw_in_what_the_app_needs():
    files = stamps.requirement_files(ROOT / "tests" / "requirements.txt")

    assert files[0] == ROOT / "requirements.txt"


def test_fingerprint_follows_all_that_decides(project):
    tests = project / "tests" / "requirements.txt"

    def now(python="3.11.9", folder=".venv"):
        return stamps.fingerprint(tests, python=python, venv=project / folder)

    before = now()
    assert now() == before
    assert now(python="3.12.0") != before
    assert now(folder="moved") != before
    (project / "requirements.txt").write_text("numpy\n", encoding="utf-8")
    assert now() != before


@pytest.mark.parametrize("text", ["", "{", "[1]", "\x00"])
def test_damaged_stamps_count_as_none(tmp_path, text):
    stamps._stamp_file(tmp_path).write_text(text)

    assert stamps.read_stamps(tmp_path) == {}


@pytest.mark.usefixtures("environment")
def test_stamped_environment_is_ready(project):
    stamp(project)

    assert provision.is_ready(project, project / "requirements.txt")
    assert not provision.is_ready(project, project / "tests" / "requirements.txt")


@pytest.mark.usefixtures("environment")
def test_changed_requirements_are_not_ready(project):
    stamp(project)
    (project / "requirements.txt").write_text("numpy\n", encoding="utf-8")

    assert not provision.is_ready(project, project / "requirements.txt")


@pytest.mark.usefixtures("environment")
def test_install_cut_short_is_not_ready(project):
    stamp(project)
    provision.distrust(project)

    assert not provision.is_ready(project, project / "requirements.txt")


def test_environment_without_its_python_is_not_ready(project, environment):
    stamp(project)
    provision.venv_python(environment).unlink()

    assert not provision.is_ready(project, project / "requirements.txt")


def test_environment_without_pip_is_broken(tmp_path):
    venv_maker.create(tmp_path / "bare", with_pip=False)

    assert provision.probe(tmp_path / "bare") is None


def test_ready_environment_is_left_alone(project, environment, monkeypatch):
    stamp(project)
    commands = pretend_to_install(monkeypatch)

    python = provision.provide(project, project / "requirements.txt")

    assert python == provision.venv_python(environment)
    assert commands == []


@pytest.mark.usefixtures("environment")
def test_tests_install_makes_the_app_ready_too(project, monkeypatch):
    commands = pretend_to_install(monkeypatch)

    provision.provide(project, project / "tests" / "requirements.txt")

    assert len(commands) == 1
    assert provision.is_ready(project, project / "requirements.txt")
    assert provision.is_ready(project, project / "tests" / "requirements.txt")


def test_new_environment_is_made_then_filled(project, monkeypatch):
    monkeypatch.setattr(provision, "_PROBE", "print('3.11.9')")
    commands = pretend_to_install(monkeypatch)

    provision.provide(project, project / "requirements.txt")

    assert [command[1:3] for command in commands] == [["-m", "venv"], ["-m", "pip"]]
    assert provision.is_ready(project, project / "requirements.txt")


def test_install_cut_short_is_made_again(project, environment, monkeypatch, capsys):
    left_over = environment / "half a package"
    left_over.touch()
    provision.distrust(project)
    pretend_to_install(monkeypatch)

    provision.provide(project, project / "requirements.txt")

    assert "incomplete" in capsys.readouterr().out
    assert not left_over.exists()
    assert provision.is_ready(project, project / "requirements.txt")


@pytest.mark.usefixtures("environment")
def test_killed_install_leaves_its_mark(project, monkeypatch):
    def killed(*_, **__):
        raise KeyboardInterrupt

    stamp(project)
    (project / "requirements.txt").write_text("numpy\n", encoding="utf-8")
    monkeypatch.setattr(console, "run_visibly", killed)

    with pytest.raises(KeyboardInterrupt):
        provision.provide(project, project / "requirements.txt")

    (project / "requirements.txt").write_text("# nothing\n", encoding="utf-8")
    assert not provision.is_ready(project, project / "requirements.txt")


def test_moved_environment_is_made_again(project, environment, monkeypatch):
    config = environment / "pyvenv.cfg"
    config.write_text("command = /usr/bin/python3 -m venv /elsewhere/.venv\n")
    commands = pretend_to_install(monkeypatch)

    provision.provide(project, project / "requirements.txt")

    assert commands[0][1:3] == ["-m", "venv"]


@pytest.mark.usefixtures("environment")
def test_failed_install_tells_the_reason(project, monkeypatch):
    pretend_to_install(
        monkeypatch, code=1, lines=["Collecting numpy", "ERROR: No space left."]
    )

    with pytest.raises(
        provision.ProvisionError, match=r"installed \(No space left\): check"
    ):
        provision.provide(project, project / "requirements.txt")

    assert not provision.is_ready(project, project / "requirements.txt")


def test_failed_environment_tells_the_reason(project, monkeypatch):
    monkeypatch.setattr(console, "run_visibly", lambda *_, **__: (1, ["Error: full"]))

    with pytest.raises(provision.ProvisionError, match=r"environment \(full\)"):
        provision.provide(project, project / "requirements.txt")


def test_environment_that_does_not_run_is_told(project, monkeypatch):
    pretend_to_install(monkeypatch)
    monkeypatch.setattr(provision, "_PROBE", "raise SystemExit(1)")

    with pytest.raises(provision.ProvisionError, match="does not run"):
        provision.provide(project, project / "requirements.txt")


def test_environment_in_use_by_this_very_run_is_told(project, environment, monkeypatch):
    monkeypatch.setattr(sys, "prefix", str(environment))
    provision.distrust(project)

    with pytest.raises(provision.ProvisionError, match="system's Python"):
        provision.provide(project, project / "requirements.txt")

    assert environment.exists()


def test_folder_that_cannot_be_written_is_told(project, monkeypatch):
    def refuse(*_, **__):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "mkdir", refuse)
    with pytest.raises(provision.ProvisionError, match="Permission denied"):
        provision._make_venv(project / ".venv")

    monkeypatch.setattr(Path, "open", refuse)
    with pytest.raises(provision.ProvisionError, match="Permission denied"):
        provision.provide(project, project / "requirements.txt")


@pytest.mark.parametrize(
    ("apt", "root", "words"),
    [
        (None, True, "without venv and ensurepip"),
        ("/usr/bin/apt-get", False, r"run 'sudo apt-get install python3\.\d+-venv'"),
        ("/usr/bin/apt-get", True, r"could not be installed \(no line\)"),
    ],
)
def test_python_without_ensurepip_is_told_what_to_do(monkeypatch, apt, root, words):
    monkeypatch.setattr(provision, "_can_make_venvs", lambda: False)
    monkeypatch.setattr(provision.shutil, "which", lambda _: apt)
    monkeypatch.setattr(system_packages, "is_root", lambda: root)
    monkeypatch.setattr(system_packages, "apt_install", lambda _: "no line")

    with pytest.raises(provision.ProvisionError, match=words):
        provision._fetch_venv_maker()


def test_apt_names_what_went_wrong(monkeypatch):
    lines = ["Reading package lists...", "E: Unable to locate package chromium"]
    monkeypatch.setattr(console, "run_visibly", lambda *_, **__: (100, lines))

    assert (
        system_packages.apt_install("chromium") == "Unable to locate package chromium"
    )


def test_second_install_waits_for_the_first(project):
    waiter = (
        f"import sys; sys.path.insert(0, {str(ROOT)!r})\n"
        "from pathlib import Path\n"
        "from ui.launch import console, provision\n"
        "console.TICK_S = 0.05\n"
        "with provision.only_one(Path(sys.argv[1])): console.say('mine')\n"
    )
    with provision.only_one(project):
        second = subprocess.Popen(
            [sys.executable, "-c", waiter, str(project)],
            stdout=subprocess.PIPE,
            text=True,
        )
        assert "waiting" in second.stdout.readline()
    with second:
        assert second.stdout.readline() == "mine\n"


@pytest.mark.skipif(os.name != "posix", reason="Windows locks by process")
def test_install_goes_on_holding_the_lock_when_its_starter_is_killed(project):
    starter = (
        f"import os, sys; sys.path.insert(0, {str(ROOT)!r})\n"
        "from pathlib import Path\n"
        "from ui.launch import console, provision\n"
        "program = 'import os; print(os.getpid(), flush=True); import time; '\n"
        "program += 'time.sleep(60)'\n"
        "def told(line): print(line, flush=True)\n"
        "with provision.only_one(Path(sys.argv[1])):\n"
        "    console.run_visibly([sys.executable, '-c', program], read=told)\n"
    )
    with subprocess.Popen(
        [sys.executable, "-c", starter, str(project)], stdout=subprocess.PIPE, text=True
    ) as first:
        installer = int(first.stdout.readline())
        first.kill()
    with (project / ".venv.lock").open("a+") as file:
        held = not provision._lock(file.fileno())
    os.kill(installer, signal.SIGKILL)

    assert held
