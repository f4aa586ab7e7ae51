"""What a table can be asked, and which pieces stand for a level."""

from __future__ import annotations

from datetime import date

import pytest

from analysis.compare.choices import factors, narrowed, outcomes
from analysis.compare.compare import compare
from analysis.compare.typical import typical_pieces
from analysis.model.comparison import CompareOptions
from analysis.pieces.table import read_table

TABLE = read_table(
    "piece,pour,cast_on,mix,oil,lot,stage,joint_sealing,void_area_percent,"
    "void_count,face_area_mm2,largest_void_mm\n"
    "1,A,2026-03-01,C25,x,1,filled,tape,0.2,3,1000,4\n"
    "2,A,2026-03-02,C25,x,2,as_struck,none,0.4,4,1000,\n"
    "3,B,,C40,x,3,as_struck,none,0.9,,1000,\n"
)


def test_factors_are_settings_tried_at_two_levels():
    # oil was always x; stage, pour and results are no settings
    assert factors(TABLE) == ("joints_sealed", "joint_sealing", "mix", "lot")


def test_a_column_with_many_values_is_no_choice():
    rows = "".join(f"{n},P{n},{n}\n" for n in range(20))

    assert factors(read_table("piece,pour,weight\n" + rows)) == ()


def test_outcomes_are_those_known_for_two_pieces():
    assert outcomes(TABLE) == ("void_area_percent", "voids_per_m2")


@pytest.mark.parametrize(
    ("asked", "left"),
    [
        ({}, ["1", "2", "3"]),
        ({"alike": {"mix": "C25"}}, ["1", "2"]),
        ({"alike": {"mix": "C25", "stage": "filled"}}, ["1"]),
        ({"alike": {"colour": "red"}}, []),
        ({"from_day": date(2026, 3, 2)}, ["2"]),
        ({"to_day": date(2026, 3, 1)}, ["1"]),
        ({"from_day": date(2026, 3, 1), "to_day": date(2026, 3, 2)}, ["1", "2"]),
    ],
)
def test_some_of_the_rows(asked, left):
    assert narrowed(TABLE, **asked).text["piece"].tolist() == left


def test_typical_piece_is_nearest_to_the_geometric_mean():
    # geometric means 0.2 and 0.6; 0.25 is nearer to 0.2 than 0.1 by its ratio
    rows = "1,A,a,0.1\n2,B,a,0.25\n3,C,a,0.32\n4,D,b,0.6\n5,E,b,0.6\n"
    answer = compare(
        read_table("piece,pour,mix,void_area_percent\n" + rows),
        CompareOptions(by="mix"),
    )

    assert typical_pieces(answer) == {"a": "2", "b": "4"}
    assert typical_pieces(answer, among={"1", "3", "5"}) == {"a": "3", "b": "5"}
    assert typical_pieces(answer, among=set()) == {}


def test_typical_pieces_of_another_pair():
    rows = "1,A,a,0.1\n2,B,b,0.2\n3,C,c,0.3\n"
    answer = compare(
        read_table("piece,pour,mix,void_area_percent\n" + rows),
        CompareOptions(by="mix"),
    )

    assert typical_pieces(answer, answer.pairs[-1]) == {"b": "2", "c": "3"}
