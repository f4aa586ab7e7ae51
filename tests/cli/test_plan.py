"""``plan`` on the command line."""

from __future__ import annotations

import json

import pytest

from analysis.cli import main
from analysis.model.workshop import Form
from analysis.services.log import open_log
from analysis.services.records import add


@pytest.fixture
def folder(tmp_path):
    log = open_log(tmp_path)
    for name in "AB":
        add(log, Form(name=name, form_type="trough"), save_token=name)
    return tmp_path


def ask(folder, *more):
    return main(["plan", "--log", str(folder), "--by", "joint_sealing", *more])


LEVELS = ("--level", "tape", "--level", "none")


def test_keys(folder, capsys):
    assert ask(folder, *LEVELS, "--json", "-") == 0

    keys = json.loads(capsys.readouterr().out)
    assert keys["factor"] == "joint_sealing"
    assert keys["levels"] == ["tape", "none"]
    assert keys["power"] == 0.8
    assert keys["chance"] >= 0.8
    assert keys["pieces_per_level_per_pour"] == 1
    assert {one["form"] for one in keys["assignments"]} == {"A", "B"}
    assert len(keys["assignments"]) == 2 * keys["pours"]


def test_a_milder_ratio_takes_more_pours(folder, capsys):
    pours = []
    for ratio in ("0.4", "0.6"):
        assert ask(folder, *LEVELS, "--ratio", ratio, "--json", "-") == 0
        pours.append(json.loads(capsys.readouterr().out)["pours"])
    assert pours[0] < pours[1]


def test_words_and_sheet(folder, capsys):
    sheet = folder / "bench.pdf"

    assert ask(folder, *LEVELS, "--sheet", str(sheet)) == 0

    said = capsys.readouterr().out
    assert said.startswith("Cast ")
    assert "Pour 1, filled 1:" in said
    assert sheet.read_bytes()[:5] == b"%PDF-"


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ((), "name the two levels"),
        (("--level", "tape"), "two different levels"),
        ((*LEVELS, "--ratio", "1"), "Ratio"),
        ((*LEVELS, "--json", "no/such/folder.json"), "cannot be written"),
    ],
)
def test_refusals(folder, capsys, more, said):
    assert ask(folder, *more) == 2
    assert said in capsys.readouterr().err


@pytest.mark.parametrize(("log", "said"), [(" ", "is blank"), ("nowhere", "no log")])
def test_needs_a_log(tmp_path, monkeypatch, capsys, log, said):
    monkeypatch.chdir(tmp_path)
    assert main(["plan", "--log", log, "--by", "mix"]) == 2
    assert said in capsys.readouterr().err
