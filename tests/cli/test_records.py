"""`import`, `export`, `backup`, `restore`: all or nothing, one sentence."""

import json
from datetime import date

import pytest

from analysis.cli import main
from analysis.model.log import Piece, Pour
from analysis.services import records
from analysis.services.log import open_log

GOOD = "piece,pour,cast_on,joint_sealing\n007,12,2026-03-31,none\n008,12,2026-03-31,\n"
BAD = (
    "piece;pour;cast_on;vibration_s;void_area_percent;eye\n"
    "007;12;31.03.2026;1.200;1,25;9\n;12;2026-03-31;40;0,80;8\n"
)


@pytest.fixture
def run(capsys):
    def command(*words):
        code = main([str(word) for word in words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return command


@pytest.fixture
def file(tmp_path):
    def write(text, name="pieces.csv"):
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return path

    return write


@pytest.fixture
def log(tmp_path):
    log = open_log(tmp_path / "log")
    pieces = [Piece(name=name, pour_id=0) for name in ("1", "2")]
    pour = Pour(name="1", cast_on=date(2026, 1, 5))
    records.add_pour_with_pieces(log, pour, pieces, save_token="one")
    return log


def refused(result, *wanted):
    code, _, err = result
    assert code == 2
    assert err.count("\n") == 1
    assert err.endswith(".\n")
    assert "went wrong inside" not in err
    for text in wanted:
        assert text in err


def test_table_is_imported_into_a_new_log(run, file, tmp_path):
    code, out, err = run("import", file(GOOD), "--log", tmp_path / "new")

    assert (code, out, err) == (0, "Imported: 2 pieces.\n", "")
    log = open_log(tmp_path / "new", create=False)
    found = {one.piece.name: one.piece for one in records.list_castings(log)}
    assert found["007"].joint_sealing == "none"
    assert found["008"].joint_sealing is None


def test_dry_run_writes_nothing_not_even_a_log(run, file, tmp_path):
    code, out, _ = run("import", file(GOOD), "--log", tmp_path / "new", "--dry-run")

    assert (code, out) == (0, "Would be imported: 2 pieces.\n")
    assert not (tmp_path / "new").exists()


@pytest.mark.usefixtures("log")
def test_dry_run_tells_of_names_in_use(run, file, tmp_path):
    table = file("piece,pour,cast_on\n1,9,2026-03-31\n")

    result = run("import", table, "--log", tmp_path / "log", "--dry-run")

    refused(result, "1 cell of pieces.csv cannot be read")
    assert "Line 2, piece: '1'" in result[1]


def test_every_line_that_will_not_go_in_is_told_and_nothing_goes_in(
    run, file, tmp_path, log
):
    result = run("import", file(BAD), "--log", tmp_path / "log")

    refused(result, "Nothing was imported, because 3 cells")
    assert result[1].splitlines() == [
        (
            "Line 2, casting date: '31.03.2026' could be two dates: say whether the "
            "day or the month comes first."
        ),
        "Line 2, vibration: '1.200' could be 1200 or 1,200: write it without doubt.",
        "Line 3, piece: is blank.",
        "Not imported: eye.",
    ]
    assert len(records.list_castings(log)) == 2


def test_answers_settle_what_was_in_doubt(run, file, tmp_path):
    text = "Stück;Guss;Datum\n007;12;01.02.2026\n"
    options = ["--column", "Stück=piece", "--column", "Guss=pour"]
    options += ["--column", "Datum=cast_on", "--date-order", "dmy", "--json", "-"]

    code, out, _ = run("import", file(text), "--log", tmp_path / "new", *options)

    answer = json.loads(out)
    assert code == 0
    assert (answer["pieces"], answer["imported"], answer["problems"]) == (1, 1, [])
    (found,) = records.list_castings(open_log(tmp_path / "new"))
    assert found.pour.cast_on == date(2026, 2, 1)


@pytest.mark.parametrize("name", ["out.csv", "out.xlsx"])
@pytest.mark.usefixtures("log")
def test_export_goes_in_again(run, tmp_path, name):
    code, out, _ = run("export", "--log", tmp_path / "log", "--out", tmp_path / name)
    assert code == 0
    assert name in out

    code, out, _ = run("import", tmp_path / name, "--log", tmp_path / "other")

    assert (code, out.splitlines()[-1]) == (0, "Imported: 2 pieces.")


@pytest.mark.usefixtures("log")
def test_export_with_a_decimal_comma(run, tmp_path):
    out = tmp_path / "out.csv"
    run("export", "--log", tmp_path / "log", "--out", out, "--decimal", ",")

    assert out.read_bytes().startswith(b"\xef\xbb\xbfpiece;pour;cast_on;")


def test_backup_goes_round(run, tmp_path, log):
    zipped = tmp_path / "log.zip"
    code, out, _ = run("backup", "--log", tmp_path / "log", "--out", zipped)
    assert code == 0
    assert "log.zip" in out

    code, out, _ = run("restore", zipped, "--log", tmp_path / "again")

    assert code == 0
    assert "2 pieces" in out
    again = open_log(tmp_path / "again", create=False)
    assert records.list_castings(again) == records.list_castings(log)


def test_database_put_aside_is_restored_by_a_path_from_here(
    run, tmp_path, log, monkeypatch
):
    monkeypatch.chdir(log.file.parent)
    code, _, _ = run("restore", log.file.name, "--log", tmp_path / "new")
    assert code == 0
    assert (tmp_path / "new" / "log.sqlite").exists()


@pytest.mark.usefixtures("log")
def test_restore_moves_aside_only_when_asked(run, tmp_path):
    zipped = tmp_path / "log.zip"
    run("backup", "--log", tmp_path / "log", "--out", zipped)
    refused(run("restore", zipped, "--log", tmp_path / "log"), "choose an empty folder")

    code, _, _ = run("restore", zipped, "--log", tmp_path / "log", "--replace")

    assert code == 0
    assert len(list((tmp_path / "log").glob("replaced-*-log.sqlite"))) == 1


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (["import", "none.csv", "--log", "{0}/log"], "There is no file"),
        (["import", "{0}/p.csv", "--log", " "], "The name of the log is blank"),
        (["import", "{0}/p.csv", "--log", "{0}/log", "--column", "a=b"], "OWN=NAME"),
        (["import", "{0}/p.csv", "--log", "{0}/log", "--date-order", "x"], "choice"),
        (["import", "{0}/empty.csv", "--log", "{0}/log"], "no line"),
        (["export", "--log", "{0}/log", "--out", "{0}/a.txt"], ".csv or .xlsx"),
        (["export", "--log", "{0}/nowhere", "--out", "{0}/a.csv"], "no log"),
        (["export", "--log", "{0}/log", "--out", "{0}/none/a.csv"], "folder"),
        (["backup", "--log", "{0}/nowhere", "--out", "{0}/a.zip"], "no log"),
        (["backup", "--log", "{0}/log", "--out", "{0}/log/log.sqlite"], "itself"),
        (["restore", "{0}/none.zip", "--log", "{0}/x"], "There is no file"),
        (["restore", "{0}/p.csv", "--log", "{0}/x"], "not a whole backup"),
        (["restore", "{0}/p.csv", "--log", "sqlite:///x.db"], "into a folder"),
        (["backup", "--log", "{0}/log"], "required"),
    ],
)
@pytest.mark.usefixtures("log")
def test_what_cannot_be_done_is_one_sentence(run, file, tmp_path, words, why):
    file(GOOD, "p.csv")
    file("piece,pour,cast_on\n", "empty.csv")

    refused(run(*(word.format(tmp_path) for word in words)), why)


def test_a_log_is_copied_and_told(run, log, tmp_path):
    target = tmp_path / "moved.json"
    code, out, err = run("migrate-log", log.file, tmp_path / "new", "--json", target)
    assert (code, err) == (0, "")
    assert out.splitlines()[-1] == (
        "Copied and compared: 2 pieces, 0 readings, 0 photos."
    )
    answer = json.loads(target.read_text())
    assert (answer["rows"]["piece"], answer["photos"], answer["missing"]) == (2, 0, [])
    assert len(records.list_castings(open_log(tmp_path / "new"))) == 2
    refused(run("migrate-log", log.file, tmp_path / "new"), "The new log is not empty")
    refused(run("migrate-log", tmp_path / "gone", tmp_path / "x"), "There is no log")
