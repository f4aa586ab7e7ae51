"""Tables in and out: one reader for import and for tables that are compared."""

from __future__ import annotations

import io
from datetime import date

import numpy as np
import openpyxl
import pytest

from analysis.errors import TableError
from analysis.pieces import grid as grids
from analysis.pieces.cells import decimal_mark, to_day
from analysis.pieces.grid import read_grid, write_csv, write_xlsx
from analysis.pieces.table import read_table
from analysis.storage.exchange import preview_import
from analysis.storage.store import open_log

HEAD = "piece;pour;cast_on;vibration_s;void_area_percent\n"


@pytest.fixture
def log(tmp_path):
    return open_log(tmp_path)


def why_of_import(log, text):
    return [one.why for one in preview_import(log, text.encode()).problems]


@pytest.mark.parametrize(
    ("line", "why"),
    [
        ("1;A;2026-02-01;1.200;1,25", "could be 1200 or 1,200"),
        ("1;A;2026-02-01;60;1,25,0", "is not a number"),
        ("1;A;20260102;60;1,25", "is not a date"),
        ("1;A;2026-W05-1;60;1,25", "is not a date"),
        ("1;A;2026-02-30;60;1,25", "is not a date"),
        ("1;A;01.02.2026;60;1,25", "could be two dates"),
        ("1;A;01.02.202;60;1,25", "is not a date"),
    ],
)
def test_both_refuse_what_could_be_two_things(log, line, why):
    (told,) = why_of_import(log, HEAD + line + "\n")
    assert told.startswith(why)
    with pytest.raises(TableError, match=r"Line 2: (vibration_s|void_area|cast_on)"):
        read_table(HEAD + line + "\n")


def test_ambiguous_number_says_both_ways_of_reading_it():
    with pytest.raises(TableError, match=r"'1\.200' could be 1200 or 1,200: write it"):
        read_table(HEAD + "1;A;2026-02-01;1.200;1,25\n")


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_both_read_the_same_values(log, encoding):
    text = HEAD + "007;Öl;2026-02-01;60;1,25\n12E5;A;2026-02-13;1200;0,80\n"
    table = read_table(text.encode(encoding))
    rows = preview_import(log, text.encode(encoding)).rows
    assert table.text["piece"].tolist() == [row.piece for row in rows]
    assert table.text["pour"].tolist() == [row.pour for row in rows]
    for name in ("vibration_s", "void_area_percent"):
        assert table.number[name].tolist() == [getattr(row, name) for row in rows]


def test_points_in_a_file_parted_by_commas_part_no_thousands(log):
    text = "piece,pour,cast_on,void_area_percent\n1,A,2026-02-01,1.200\n"
    assert read_table(text).number["void_area_percent"].tolist() == [1.2]
    (row,) = preview_import(log, text.encode()).rows
    assert row.void_area_percent == 1.2
    assert decimal_mark(["1.200"], separator=";") is None


@pytest.mark.parametrize("order", ["dmy", "mdy", "ymd"])
def test_year_has_two_digits_or_four(order):
    with pytest.raises(TableError, match="is not a date"):
        to_day("1.2.202", order)
    assert to_day("1/3/26", "dmy") == date(2026, 3, 1)


def spreadsheet(rows, *, far=None):
    book = openpyxl.Workbook()
    for row in rows:
        book.active.append(row)
    if far is not None:
        book.active[far].number_format = "0.00"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


ROWS = [
    ["piece", "pour", "cast_on", "void_area_percent", "mix"],
    ["007", "1:2", date(2026, 2, 1), 1.25, "C25"],
    ["8", "1:2", None, 0, None],
]


def test_spreadsheet_is_read_by_both(log):
    data = spreadsheet(ROWS)
    table = read_table(data)
    assert table.text["piece"].tolist() == ["007", "8"]
    assert table.text["cast_on"].tolist() == ["2026-02-01", ""]
    assert table.number["void_area_percent"].tolist() == [1.25, 0.0]
    assert preview_import(log, data).rows[0].cast_on == date(2026, 2, 1)


@pytest.mark.parametrize("far", ["XFD3", "A1048576", "XFD1048576"])
def test_one_far_formatted_cell_costs_nothing(far):
    grid = read_grid(spreadsheet(ROWS, far=far))
    assert [len(row) for row in grid.rows] == [5, 4]
    assert grid.header == tuple(ROWS[0])


def test_too_many_columns_and_rows_are_told(monkeypatch):
    monkeypatch.setattr(grids, "LARGEST_COLUMNS", 3)
    monkeypatch.setattr(grids, "LARGEST_ROWS", 2)
    with pytest.raises(TableError, match="has 5 columns: keep only those"):
        read_table(spreadsheet(ROWS))
    with pytest.raises(TableError, match="more than 2 lines: split it there"):
        read_table("piece,pour\n1,A\n2,A\n3,A\n")


def test_broken_files_are_told():
    with pytest.raises(TableError, match="The table is empty"):
        read_grid(b"  \n")
    with pytest.raises(TableError, match="is not text with columns"):
        read_grid(b"\x00\x01\x02")
    with pytest.raises(TableError, match="cannot be read: save it again"):
        read_grid(b"PK\x03\x04 no archive")
    with pytest.raises(TableError, match="Line 2 cannot be read"):
        read_grid(b'piece,pour\n1,"A\n')


def test_spoilt_cells_of_a_spreadsheet_are_told():
    rows = [["piece", "pour", "mix"], ["1", "A", date(2026, 1, 2)]]
    with pytest.raises(TableError, match="Line 2: mix was turned into a date"):
        read_table(spreadsheet(rows))
    with pytest.raises(TableError, match="Line 2: mix is a formula"):
        read_table(spreadsheet([rows[0], ["1", "A", "=1+2"]]))
    with pytest.raises(TableError, match="Line 2: pour looks like a name a spreadsh"):
        read_table("piece,pour\n1,1.20E+06\n")
    with pytest.raises(TableError, match="Line 3: piece holds a NUL sign"):
        read_table("piece,pour\n1,A\n2\0,A\n")
    with pytest.raises(TableError, match=r"Line 3: mix holds a control .*\(U\+0007\)"):
        read_table("piece,pour,mix\n1,A,c\n2,A,d\x07\n")


@pytest.mark.parametrize("given", ["9999-12-31", "0001-01-01", "0206-03-02"])
def test_a_year_of_another_century_is_told(given):
    with pytest.raises(
        TableError,
        match=rf"Line 2: cast_on \(casting date\) '{given}' is not in the years 1900",
    ):
        read_table(f"piece,pour,cast_on\n1,A,{given}\n")


def test_written_tables_are_read_again():
    header = ("piece", "note", "void_area_percent")
    rows = [
        ["=1+1", "+1 drop", 1.2],
        ["007", "x\x0by", None],
        ["1/3", "-5 % oil", -5.0],
    ]
    for decimal, separator in ((".", ","), (",", ";")):
        data = write_csv(
            header, rows, separator=separator, decimal=decimal, encoding="utf-8"
        )
        assert [row[0] for row in read_grid(data).rows] == ["=1+1", "007", "1/3"]
    data, remarks = write_xlsx(header, rows)
    assert remarks == ("Line 3, note: a control character was left out.",)
    found = read_grid(data).rows
    assert [row[0] for row in found] == ["=1+1", "007", "1/3"]
    assert found[1][1] == "xy"


def test_many_lines_are_read_fast_enough_to_be_a_stream():
    # Not a timed test: the numbers must come by the whole column.
    lines = "".join(f"{n},{n},{n % 7}.25\n" for n in range(5000))
    table = read_table("piece,pour,void_area_percent\n" + lines)
    assert len(table) == 5000
    assert np.isclose(table.number["void_area_percent"].max(), 6.25)
