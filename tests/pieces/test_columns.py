"""Columns by their values say what the rows say, in any order and with any gaps."""

import numpy as np
import pytest

from analysis.errors import TableError
from analysis.pieces.columns import alike, coded, places
from analysis.pieces.table import piece_table, table_of_columns

ROWS = [
    {"piece": "1", "pour": "A", "mix": " Grey ", "air_c": 12.5, "method_version": "2"},
    {"piece": "2", "pour": "A", "mix": None, "air_c": None, "method_version": None},
    {"piece": "3", "pour": "B", "mix": "grey", "air_c": 12.5, "method_version": "2"},
    {"piece": "4", "pour": "B", "mix": "white", "air_c": -3.0, "method_version": ""},
]


def columns_of(rows):
    return {name: coded([row[name] for row in rows]) for name in rows[0]}


def same(one, other):
    assert list(one.text) == list(other.text)
    assert list(one.number) == list(other.number)
    for name in one.text:
        assert one.text[name].tolist() == other.text[name].tolist()
        assert one.text[name].dtype == other.text[name].dtype
    for name in one.number:
        np.testing.assert_array_equal(one.number[name], other.number[name])


@pytest.mark.parametrize("seed", range(4))
def test_columns_make_the_table_that_their_rows_make(seed):
    order = np.random.default_rng(seed).permutation(len(ROWS))
    rows = [ROWS[n] for n in order]
    same(table_of_columns(columns_of(rows), len(rows)), piece_table(rows))


def test_columns_taken_from_more_values_make_the_same_table():
    rows = [ROWS[3], ROWS[1]]
    taken = {
        name: column.taken(np.array([3, 1]))
        for name, column in columns_of(ROWS).items()
    }
    same(table_of_columns(taken, 2), piece_table(rows))


def test_a_value_out_of_bounds_is_told_with_its_first_row():
    bad = columns_of(ROWS) | {"air_c": coded([20.0, 900.0, None, 900.0])}
    with pytest.raises(
        TableError, match=r"Line 2: air_c \(air temperature\) must be a number, .*900"
    ):
        table_of_columns(bad, len(ROWS))


def test_some_rows_of_a_column_are_put_anew():
    column = coded(["tape", None, "tape"]).put(np.array([2, 0]), ["wax", "tape"])
    assert column.cells() == ["tape", None, "wax"]
    values, first, code = column.as_met()
    assert [values[n] for n in code] == ["tape", None, "wax"]
    assert first.tolist() == [0, 1, 2]


def test_nothing_is_a_column_too():
    assert coded([]).cells() == []
    assert alike(None, 0).as_met()[0] == []
    assert places([3, 4], []).tolist() == [-1, -1]
    assert len(table_of_columns({}, 0)) == 0
