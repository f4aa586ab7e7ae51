"""`track`: fixed keys, a summary, one sentence for anything that cannot be done."""

import json
from datetime import date, timedelta

import pytest

from analysis.model.log import Piece, Pour
from analysis.services.log import add_pour_with_pieces, open_log
from tests.support.track_tables import csv_of, shares_of

KEYS = {"chart", "baseline_pours", "points", "rules", "notes"}
POINT_KEYS = {
    "pour",
    "cast_on",
    "n_pieces",
    "value_percent",
    "centre_percent",
    "lower_percent",
    "upper_percent",
    "signals",
}


@pytest.fixture
def table(tmp_path):
    path = tmp_path / "pieces.csv"
    path.write_text(csv_of(shares_of(24)), encoding="utf-8")
    return path


@pytest.fixture
def verb():
    return "track"


def test_keys_are_the_fixed_ones(answer, table):
    found = answer("--table", table)

    assert set(found) == KEYS
    assert all(set(point) == POINT_KEYS for point in found["points"])
    assert all(set(rule) == {"name", "source"} for rule in found["rules"])
    assert len(found["points"]) == 24
    assert found["points"][0]["cast_on"] == "2026-01-05"
    assert found["points"][0]["n_pieces"] == 2
    assert found["baseline_pours"][0] == "B001"


def test_drift_is_marked_and_a_steady_shop_is_not(answer, tmp_path, table):
    drifted = tmp_path / "drift.csv"
    drifted.write_text(csv_of(shares_of(24, late_factor=3.0)), encoding="utf-8")

    steady = answer("--table", table)["points"]
    found = answer("--table", drifted)["points"]

    assert not any(point["signals"] for point in steady)
    assert "smoothed mean beyond its limits" in found[-1]["signals"]
    assert found[-1]["value_percent"] > found[-1]["upper_percent"]


def test_few_pours_have_null_limits_and_a_note(answer, tmp_path):
    few = tmp_path / "few.csv"
    few.write_text(csv_of(shares_of(3)), encoding="utf-8")

    found = answer("--table", few)

    assert found["baseline_pours"] == []
    assert found["points"][0]["centre_percent"] is None
    assert any("Too early for limits" in note for note in found["notes"])


def test_form_and_product_line_choose_the_pieces(answer, tmp_path):
    path = tmp_path / "two.csv"
    path.write_text(
        "piece,pour,cast_on,form,product_line,void_area_percent\n"
        "1,A,2026-01-05,T1,smooth,0.2\n"
        "2,A,2026-01-05,T2,smooth,0.9\n"
        "3,B,2026-01-06,T3,open,5\n",
        encoding="utf-8",
    )

    of_form = answer("--table", path, "--form", "T2")
    of_line = answer("--table", path, "--product-line", "open")

    assert [p["value_percent"] for p in of_form["points"]] == [pytest.approx(0.9)]
    assert [p["pour"] for p in of_line["points"]] == ["B"]


def test_json_goes_to_a_file(run, table, tmp_path):
    target = tmp_path / "track.json"

    assert run("--table", table, "--json", target) == (0, "", "")
    assert set(json.loads(target.read_text(encoding="utf-8"))) == KEYS


def test_without_json_a_short_summary_is_printed(run, table):
    code, out, err = run("--table", table)

    assert (code, err) == (0, "")
    assert out.startswith("No drift: none of 24 pours stands out.\n")
    assert "Newest: pour B024" in out
    assert len(out.splitlines()) < 6


def test_log_without_a_measured_piece_is_refused(refused, tmp_path):
    log = open_log(tmp_path / "log")
    pieces = [Piece(name="1", pour_id=0)]
    pour = Pour(name="A", cast_on=date(2026, 1, 5))
    add_pour_with_pieces(log, pour, pieces, save_token="one")

    assert "measure a piece" in refused("--log", tmp_path / "log")


def test_log_is_followed_like_a_table(answer, tmp_path):
    from analysis.storage.exchange import import_pieces, preview_import  # noqa: PLC0415

    log = open_log(tmp_path / "log")
    text = csv_of(shares_of(24)).encode()
    import_pieces(log, preview_import(log, text), save_token="all")
    table = tmp_path / "pieces.csv"
    table.write_bytes(text)

    of_log = answer("--log", tmp_path / "log")
    of_table = answer("--table", table)

    assert [p["value_percent"] for p in of_log["points"]] == pytest.approx(
        [p["value_percent"] for p in of_table["points"]]
    )
    assert of_log["baseline_pours"] == of_table["baseline_pours"]


class TestRefusals:
    def test_options(self, refused, table):
        assert "--table --log" in refused()
        assert "not allowed with" in refused("--table", table, "--log", "x")
        assert "Unrecognized arguments" in refused("--table", table, "--loud")
        assert "--form is blank" in refused("--table", table, "--form", " ")
        assert "--product-line is blank" in refused(
            "--table", table, "--product-line", ""
        )
        assert "expected one argument" in refused("--table")

    def test_files(self, refused, table, tmp_path):
        assert "There is no file" in refused("--table", tmp_path / "none.csv")
        assert "is a folder: name one table" in refused("--table", tmp_path)
        assert "is no file name" in refused("--table", "")
        assert "The name of the log is blank" in refused("--log", " ")
        assert "no log" in refused("--log", tmp_path / "nothing").lower()
        assert "named twice" in refused("--table", table, "--json", table)
        nowhere = tmp_path / "no" / "where.json"
        assert "cannot be written" in refused("--table", table, "--json", nowhere)

    @pytest.mark.parametrize(
        ("text", "says"),
        [
            ("", "The table is empty"),
            ("piece,pour\n", "no row"),
            ("piece,pour\n1,A\n", "no column 'void_area_percent' (void area)"),
            ("piece,pour,void_area_percent\n1,A,\n", "No row of the table has both"),
            ("piece,pour,void_area_percent\n1,A,nan\n", "Line 2"),
            ("piece,pour,void_area_percent\n1,A,101\n", "between 0 and 100"),
            ("piece,pour,void_area_percent\n1,A,1,2\n", "4 cells"),
            ("piece,pour,cast_on,void_area_percent\n1,A,May,1\n", "a date like"),
            ("\0\1\2", "column"),
        ],
    )
    def test_tables(self, refused, tmp_path, text, says):
        path = tmp_path / "bad.csv"
        path.write_text(text, encoding="utf-8")

        assert says in refused("--table", path)

    def test_pieces_that_are_not_there(self, refused, table):
        assert "T9" in refused("--table", table, "--form", "T9")
        assert "stools" in refused("--table", table, "--product-line", "stools")


def test_unknown_day_is_null(answer, tmp_path):
    path = tmp_path / "days.csv"
    path.write_text("piece,pour,void_area_percent\n1,A,0.5\n", encoding="utf-8")

    assert answer("--table", path)["points"][0]["cast_on"] is None


def test_pours_come_in_order_of_casting(answer, tmp_path):
    first = date(2026, 1, 5)
    rows = [
        f"{k},P{k},{first + timedelta(days=k)},0.{k + 1}" for k in reversed(range(4))
    ]
    path = tmp_path / "order.csv"
    path.write_text(
        "\n".join(["piece,pour,cast_on,void_area_percent", *rows]), encoding="utf-8"
    )

    found = answer("--table", path)["points"]

    assert [point["pour"] for point in found] == ["P0", "P1", "P2", "P3"]
