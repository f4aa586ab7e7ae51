"""What is written never takes the place of the log it was read from."""

from __future__ import annotations

import pytest

from analysis.cli import main
from analysis.services.log import list_castings, open_log

TABLE = "piece,pour,cast_on,void_area_percent,mix\n1,A,2026-01-01,0.3,grey\n"


@pytest.fixture
def log(tmp_path):
    table = tmp_path / "pieces.csv"
    table.write_text(TABLE, encoding="utf-8")
    assert main(["import", str(table), "--log", str(tmp_path / "log")]) == 0
    return open_log(tmp_path / "log")


@pytest.mark.parametrize("end", ["", "-wal"])
@pytest.mark.parametrize(
    "asked",
    [
        ["report", "piece", "1", "--out"],
        ["track", "--json"],
        ["compare", "--by", "mix", "--json"],
        ["plan", "--by", "joint_sealing", "--sheet"],
        ["plan", "--by", "joint_sealing", "--json"],
        ["backup", "--out"],
    ],
    ids=" ".join,
)
def test_own_file_is_refused(asked, end, log, capsys):
    capsys.readouterr()
    target = f"{log.file}{end}"
    code = main([*asked, target, "--log", str(log.file.parent)])
    assert code == 2
    assert "is the log itself" in capsys.readouterr().err
    assert len(list_castings(log)) == 1


def test_photos_of_the_log_are_safe_too(log, capsys):
    log.photo_folder.mkdir(exist_ok=True)
    target = log.photo_folder / "sheet.pdf"
    code = main(
        ["report", "piece", "1", "--out", str(target), "--log", str(log.file.parent)]
    )
    assert code == 2
    assert "is the log itself" in capsys.readouterr().err
    assert not target.exists()


def test_sheet_says_whose_it_is(log, tmp_path, capsys):
    capsys.readouterr()
    out = tmp_path / "a.pdf"
    main(["report", "piece", "1", "--out", str(out), "--log", str(log.file.parent)])
    assert capsys.readouterr().out == f"Written: {out}, piece 1.\n"
