"""`report` and the files of `export`: written, named, refused in one sentence."""

from __future__ import annotations

import json

import pytest

from analysis.cli import main
from analysis.services import example
from analysis.services.log import open_log
from tests.support.pages import words_of
from tests.support.wording import codes_in


@pytest.fixture(scope="module")
def log(tmp_path_factory):
    folder = tmp_path_factory.mktemp("log")
    example.build_example(open_log(folder))
    return folder


@pytest.mark.parametrize(
    ("kind", "name", "said"),
    [
        ("piece", "221", "% void area"),
        ("trial", "joints_sealed", "open joints"),
        ("batch", "P26", "Pour P26"),
        ("form", "Trough A", "Last faces"),
    ],
)
def test_each_sheet_is_written(kind, name, said, log, tmp_path, capsys):
    out = tmp_path / "sheet.pdf"
    code = main(["report", kind, name, "--log", str(log), "--out", str(out)])

    assert (code, capsys.readouterr().err) == (0, "")
    read = words_of(out.read_bytes())
    assert said in read
    assert codes_in(read) == []


def test_piece_is_judged_by_what_is_asked(log, tmp_path):
    out = tmp_path / "sheet.pdf"
    options = ["--criterion", "dbv_porosity", "--page", "Letter", "--unit", "inch"]
    asked = ["report", "piece", "221", "--log", str(log), "--out", str(out)]

    assert main([*asked, *options]) == 0
    assert "DBV" in words_of(out.read_bytes())


def test_readings_leave_by_the_name_of_the_file(log, tmp_path):
    def export(name, *options):
        out = tmp_path / name
        assert main(["export", "--log", str(log), "--out", str(out), *options]) == 0
        return out

    every = json.loads(export("all.json").read_text())
    one = json.loads(export("one.coco.json", "--piece", "221").read_text())
    figures = json.loads(export("one.json", "--piece", "221").read_text())

    assert len(every["images"]) == 12
    assert len(one["images"]) == 1
    voids = sum(each["category_id"] == 1 for each in one["annotations"])
    assert figures["void_count"] == voids
    assert export("one.png", "--piece", "221").read_bytes().startswith(b"\x89PNG")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        (["report", "piece", "none", "--out", "a.pdf"], "no piece 'none'"),
        (["report", "batch", "none", "--out", "a.pdf"], "no pour 'none'"),
        (["report", "form", "none", "--out", "a.pdf"], "no form 'none'"),
        (["report", "trial", "none", "--out", "a.pdf"], "no factor 'none'"),
        (["report", "piece", "1", "--out", "no/a.pdf"], "cannot be written"),
        (
            ["report", "piece", "221", "--out", "a.pdf", "--criterion", "x"],
            "no criterion",
        ),
        (["export", "--out", "a.txt", "--piece", "221"], "no reading's name"),
        (["export", "--out", "a.json", "--piece", "1"], "no reading"),
    ],
)
def test_refusals_are_one_sentence(asked, said, log, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    assert main([*asked, "--log", str(log)]) == 2
    err = capsys.readouterr().err

    assert said in err
    assert err.count("\n") == 1
    assert list(tmp_path.iterdir()) == []


def test_blank_log_is_refused(capsys):
    assert main(["report", "piece", "1", "--log", " ", "--out", "a.pdf"]) == 2
    assert "name of the log is blank" in capsys.readouterr().err
