"""Rows that tell a thing twice, or in two ways, as `--table` meets them."""

from __future__ import annotations

import pytest

from analysis.cli import main
from analysis.errors import TableError
from analysis.pieces.repeats import check_repeats
from analysis.pieces.table import read_table
from analysis.services.tables import table_from_csv

HEAD = "piece,pour,cast_on,mix,stage,void_area_percent,note\n"


def rows(*lines):
    return HEAD + "\n".join(lines) + "\n"


TWICE = rows(
    "1,A,2026-03-02,grey,,0.2,",
    "2,A,2026-03-02,grey,,0.4,",
    " 1,A,2026-03-02,grey,,0.2,",
)


def test_row_that_stands_twice_is_refused():
    with pytest.raises(TableError, match=r"Line 4 repeats line 2, piece 1 of pour A"):
        table_from_csv(TWICE)


@pytest.mark.parametrize("day", ["2026-03-03", "2026-03-03T07:30"])
def test_pour_of_two_days_is_refused(day):
    given = rows("1,A,2026-03-02,grey,,0.2,", f"2,A,{day},grey,,0.4,")
    with pytest.raises(
        TableError, match=r"Line 3: pour A was cast on 2026-03-03 here and on .*line 2"
    ):
        table_from_csv(given)


@pytest.mark.parametrize(
    "second",
    [
        "1,B,2026-03-03,grey,,0.2,",  # numbers that begin anew with each pour
        "1,A,2026-03-02,grey,,0.3,",  # another photo of the piece
        "1,A,2026-03-02,grey,filled,0.2,",  # the piece at a later stage
        "1,A,2026-03-02,grey,,0.2,left half",  # what tells two photos apart
        "2,A,,grey,,0.2,",  # a day not told
        "2,A,2026-03-02T07:30,grey,,0.2,",  # the same day, with a time
    ],
)
def test_rows_that_only_look_alike_are_taken(second):
    assert len(table_from_csv(rows("1,A,2026-03-02,grey,,0.2,", second))) == 2


def test_nameless_rows_may_be_any_two_pieces():
    check_repeats(read_table("piece,pour,void_area_percent\n,A,0.2\n,A,0.2\n"))


def test_two_pours_without_a_name_may_have_two_days():
    check_repeats(read_table("piece,pour,cast_on\n1,,2026-03-02\n2,,2026-03-03\n"))


def test_many_columns_of_many_levels_are_told_apart():
    names = [f"c{k}" for k in range(40)]
    lines = [",".join(["1", "A", *(f"x{n + k}" for k in range(40))]) for n in range(50)]
    heading = ",".join(["piece", "pour", *names])
    check_repeats(read_table("\n".join([heading, *lines])))
    with pytest.raises(TableError, match=r"Line 52 repeats line 9,"):
        check_repeats(read_table("\n".join([heading, *lines, lines[7]])))


@pytest.mark.parametrize(
    "asked",
    [["compare", "--by", "mix"], ["track"]],
)
def test_commands_refuse_it_too(tmp_path, capsys, asked):
    file = tmp_path / "pieces.csv"
    file.write_text(TWICE)
    assert main([*asked, "--table", str(file)]) == 2
    assert "Line 4 repeats line 2" in capsys.readouterr().err
