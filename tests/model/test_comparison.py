import numpy as np
import pytest

from analysis.model.comparison import PieceTable


def table():
    return PieceTable(
        text={"piece": np.array(["1", "2", "3"]), "mix": np.array(["a", "", "b"])},
        number={"void_area_percent": np.array([0.1, 0.2, np.nan])},
        line=np.array([2, 3, 4]),
    )


@pytest.mark.parametrize("rows", [np.array([2, 0]), np.array([True, False, True])])
def test_some_rows_are_a_table_of_their_own(rows):
    some = table().taken(rows)
    order = [2, 0] if rows.dtype != bool else [0, 2]
    assert some.text["piece"].tolist() == [("1", "2", "3")[n] for n in order]
    assert some.line.tolist() == [2 + n for n in order]
    assert list(some.text) == ["piece", "mix"]
    assert ("mix" in some.text, "oil" in some.text, len(some.text)) == (True, False, 2)
    assert some.text.get("oil") is None
    with pytest.raises(ValueError, match="read-only"):
        some.number["void_area_percent"][0] = 1.0
    assert some.text["mix"] is some.text["mix"]
    again = some.taken(np.array([1]))
    assert again.text["piece"].tolist() == [some.text["piece"][1]]
    assert {**again.text}.keys() == {"piece", "mix"}


def test_rows_taken_stay_when_the_places_given_change():
    rows = np.array([0, 1])
    some = table().taken(rows)
    rows[:] = 2
    assert some.text["piece"].tolist() == ["1", "2"]
