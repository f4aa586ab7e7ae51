from __future__ import annotations

import numpy as np
import pytest

from analysis.errors import TableError
from analysis.pieces.sealing import joints_sealed
from analysis.pieces.table import piece_table, read_table

HEAD = "piece,pour,joint_sealing,void_area_percent\n"


def test_blank_is_unknown_and_none_is_a_level():
    table = read_table(HEAD + "1,A,none,0\n2,A,,\n")
    assert table.text["joint_sealing"].tolist() == ["none", ""]
    assert table.text["joints_sealed"].tolist() == ["no", ""]
    values = table.number["void_area_percent"]
    assert values[0] == 0
    assert np.isnan(values[1])


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "cp1252"])
def test_spreadsheet_exports_are_read(encoding):
    text = "piece;pour;release_agent;void_area_percent\n1;A;Öl;1,25\n2;B;None;0,80\n"
    table = read_table(text.encode(encoding))
    assert table.text["release_agent"].tolist() == ["Öl", "None"]
    assert table.number["void_area_percent"].tolist() == [1.25, 0.8]


def test_text_that_looks_like_numbers_stays_text_for_names():
    table = read_table(HEAD + "007,1:2,none,0.5\n12E5,1-2,none,0.5\n")
    assert table.text["piece"].tolist() == ["007", "12E5"]
    assert table.text["pour"].tolist() == ["1:2", "1-2"]


def test_further_columns_are_factors_and_numbers_where_they_are():
    table = read_table("piece,pour,water_l,hands\n1,A,8.5,two\n2,B,,four\n")
    assert table.number["water_l"][0] == 8.5
    assert "hands" not in table.number


def test_levels_that_differ_in_capitals_only_are_one():
    table = read_table(HEAD + "1,A,Tape,1\n2,A,tape,1\n3,A,TAPE ,1\n")
    assert set(table.text["joint_sealing"].tolist()) == {"Tape"}


def test_quoted_commas_and_empty_lines():
    table = read_table('piece,pour,hands\n1,A,"two, old"\n\n2,B,four\n')
    assert table.text["hands"].tolist() == ["two, old", "four"]
    assert table.line.tolist() == [2, 4]


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "The table is empty"),
        (HEAD, "heading but no row"),
        ("piece,,pour\n1,2,3\n", "a column without a name"),
        ("piece,pour,pour\n1,2,3\n", "'pour' stands twice"),
        ("piece,mix\n1,2\n", "no column 'pour'"),
        ("piece,pour,joints_sealed\n1,2,yes\n", "is derived from 'joint_sealing'"),
        (HEAD + "1,A,none\n", "Line 2 has 3 cells where the heading has 4"),
        (
            HEAD + "1,A,none,much\n",
            r"Line 2: void_area_percent \(void area\) must be a number",
        ),
        (
            HEAD + "1,A,none,1\n2,A,none,nan\n",
            r"Line 3: void_area_percent \(void area\) must",
        ),
        (
            HEAD + "1,A,none,inf\n",
            r"Line 2: void_area_percent \(void area\) must be a number",
        ),
        (
            HEAD + "1,A,none,1_0\n",
            r"Line 2: void_area_percent \(void area\) must be a number",
        ),
        (HEAD + "1,A,none,-3\n", "between 0 and 100; -3 was given"),
        (HEAD + "1,A,none,250\n", "between 0 and 100; 250 was given"),
        ("piece,pour,void_count\n1,A,1.5\n", "a whole number, 0 or more; 1.5"),
        ("piece,pour,face_area_mm2\n1,A,0\n", "a number, more than 0; 0 was given"),
        (
            "piece,pour,cast_on\n1,A,13.02.2026\n",
            r"Line 2: cast_on \(casting date\) must be a date",
        ),
        ('piece,pour,hands\n1,A,"two"x\n', "Line 2 cannot be read"),
    ],
)
def test_refusals_name_line_and_cure(text, words):
    with pytest.raises(TableError, match=words):
        read_table(text)


def test_rows_of_the_log_are_the_same_table():
    rows = [{"piece": 1, "pour": "A", "void_area_percent": 0.5, "joint_sealing": None}]
    table = piece_table(rows)
    assert table.text["joints_sealed"].tolist() == [""]
    assert table.number["void_area_percent"].tolist() == [0.5]


def test_no_row_of_the_log_is_an_empty_table():
    assert len(piece_table([])) == 0


@pytest.mark.parametrize(
    ("kind", "sealed"),
    [("tape", "yes"), ("none", "no"), ("Open", "no"), ("mixed", "mixed"), (" ", "")],
)
def test_joints_sealed(kind, sealed):
    assert joints_sealed(kind) == sealed


def test_columns_are_sealed():
    table = read_table(HEAD + "1,A,none,0\n")
    with pytest.raises(ValueError, match="read-only"):
        table.number["void_area_percent"][0] = 5


def test_what_spreadsheets_add_is_taken_off():
    table = read_table("sep=;\npiece;pour;release_agent\n1;A;'=oil\n2;A;it's\n")
    assert table.text["release_agent"].tolist() == ["=oil", "it's"]
    assert table.line.tolist() == [3, 4]
    with pytest.raises(TableError, match="Line 3 has 1 cells where the heading has 2"):
        read_table("sep=;\npiece;pour\n1\n")


@pytest.mark.parametrize("day", ["2026-01-05", "2026-01-05T12:30", "2026-01-05 12:30"])
def test_time_behind_a_day_is_passed_over(day):
    read_table(f"piece,pour,cast_on\n1,A,{day}\n")
    with pytest.raises(
        TableError, match=r"Line 2: cast_on \(casting date\) must be a date"
    ):
        read_table(f"piece,pour,cast_on\n1,A,{day}zzz\n")
