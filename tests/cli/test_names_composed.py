"""Names that another system writes with two signs for one are the same names."""

from __future__ import annotations

from datetime import date

import pytest

from analysis.cli import main
from analysis.model.log import Piece, Pour
from analysis.model.workshop import Form
from analysis.services import records
from analysis.services.log import list_castings, open_log

# An umlaut as it is typed (Unicode, form NFC), and as some systems keep it (NFD).
ONE, TWO = "S\u00e4ule", "Sa\u0308ule"


@pytest.fixture
def log(tmp_path):
    log = open_log(tmp_path / "log")
    form = records.add(log, Form(name=ONE), save_token="form").id
    pour = Pour(name=ONE, cast_on=date(2026, 3, 1))
    piece = Piece(name=ONE, pour_id=0, form_id=form)
    records.add_pour_with_pieces(log, pour, [piece], save_token="pour")
    return log


@pytest.mark.parametrize("kind", ["piece", "batch", "form"])
@pytest.mark.parametrize("name", [TWO, f" {ONE} "])
def test_a_sheet_is_found_by_either(log, tmp_path, kind, name, capsys):
    words = ["report", kind, name, "--log", str(log.file)]
    code = main([*words, "--out", str(tmp_path / "sheet.pdf")])
    assert "There is no" not in capsys.readouterr().err
    assert (code == 0) == (tmp_path / "sheet.pdf").exists()


@pytest.mark.parametrize(
    ("row", "pieces"),
    [
        (f"{TWO},{TWO},2026-03-01,{TWO}", 1),
        (f"N1,{TWO},2026-03-01,{TWO}", 2),
        (f"N1,P2,2026-03-02,{TWO}\n{TWO} 2,P3,2026-03-02,{ONE}", 3),
    ],
)
def test_a_table_says_beforehand_what_the_log_will_say(
    log, tmp_path, row, pieces, capsys
):
    table = tmp_path / "table.csv"
    table.write_text(f"piece,pour,cast_on,form\n{row}\n", "utf-8")
    words = ["import", str(table), "--log", str(log.file)]
    dry = main([*words, "--dry-run"])
    assert (dry, main(words)) == ((0, 0) if pieces > 1 else (dry, dry))
    assert len(list_castings(log)) == pieces
    assert "already a" not in capsys.readouterr().err
