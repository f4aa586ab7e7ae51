"""Programs run with a sign of life, and what is told of them."""

from __future__ import annotations

import sys

import pytest

from ui.launch import console


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        (["Collecting numpy", "ERROR: No space left.", "hint"], "No space left"),
        (["E: Unable to locate package", ""], "Unable to locate package"),
        (["it broke"], "it broke"),
        ([], "no word"),
    ],
)
def test_last_complaint_is_told(lines, told):
    assert console.complaint(lines) == told


def test_shell_settings_that_mislead_pip_are_dropped(monkeypatch):
    monkeypatch.setenv("PIP_USER", "1")
    monkeypatch.setenv("PYTHONPATH", "/elsewhere")
    monkeypatch.setenv("STRUCKFACE_DATA", "/log")

    kept = console.clean_environment()

    assert "PIP_USER" not in kept
    assert "PYTHONPATH" not in kept
    assert kept["STRUCKFACE_DATA"] == "/log"


@pytest.mark.parametrize(
    ("line", "step"),
    [
        ("Collecting numpy==2.4.6 (from -r r.txt (line 5))", "looking for numpy"),
        (
            "  Downloading https://host/a/numpy-2.4.6-cp311.whl (16.6 MB)",
            "downloading numpy 2.4.6 (16.6 MB)",
        ),
        ("  Downloading numpy-2.4.6-cp311.whl.metadata (6.6 kB)", None),
        ("Installing collected packages: a, b, c", "unpacking 3 packages"),
        (
            "Building wheels for collected packages: a",
            "building wheels for collected packages: a",
        ),
        ("Requirement already satisfied: numpy", None),
        ("", None),
    ],
)
def test_pip_is_put_in_plain_words(line, step):
    assert console.pip_step(line) == step


def test_quiet_program_still_shows_a_sign_of_life(monkeypatch, capsys):
    monkeypatch.setattr(console, "TICK_S", 0.05)
    monkeypatch.setattr(console, "_QUIET_S", 0.1)
    program = "import time; print('Collecting numpy', flush=True); time.sleep(0.5)"

    code, lines = console.run_visibly(
        [sys.executable, "-c", program], read=console.pip_step
    )

    assert (code, lines) == (0, ["Collecting numpy"])
    assert capsys.readouterr().out.count("looking for numpy") >= 3


def test_program_that_is_not_there_is_no_crash():
    code, lines = console.run_visibly(["no-such-program-here"])

    assert code == 127
    assert "no-such-program-here" in lines[0]


def test_interrupted_program_is_ended(monkeypatch):
    started = []

    def interrupted(process, _read):
        started.append(process)
        process.stdout.close()
        raise KeyboardInterrupt

    monkeypatch.setattr(console, "_show", interrupted)
    with pytest.raises(KeyboardInterrupt):
        console.run_visibly([sys.executable, "-c", "import time; time.sleep(60)"])

    assert started[0].returncode not in (None, 0)
