import numpy as np
import pytest

from analysis.model.word_columns import Levels, WordColumns, levels_of
from analysis.pieces.table import read_table

WORDS = np.array(["wax", "", "oil", "wax", "Oil", ""])


def ways():
    """Return the same column as an array, and as words in the order they are met."""
    met = Levels(np.array(["wax", "", "oil", "Oil", ""]), np.array([0, 1, 2, 0, 3, 4]))
    return WordColumns({"agent": WORDS}), WordColumns({"agent": met})


@pytest.mark.parametrize("columns", ways())
@pytest.mark.parametrize(
    "rows",
    [None, np.arange(6), np.array([4, 0, 0]), np.array([1, 5]), np.array([], int)],
)
def test_levels_are_those_of_numpy(columns, rows):
    some = columns if rows is None else WordColumns(columns, rows)
    cells = WORDS if rows is None else WORDS[rows]
    names, code = np.unique(cells, return_inverse=True)
    found = some.levels("agent")
    assert found.names.tolist() == names.tolist()
    assert found.code.tolist() == code.tolist()
    assert some["agent"].tolist() == cells.tolist()
    assert found.known.tolist() == (cells != "").tolist()
    assert found.columns().tolist() == (cells[:, None] == names[None, 1:]).tolist()
    assert some.levels("agent") is found
    with pytest.raises(ValueError, match="read-only"):
        found.code[:] = 0
    with pytest.raises(ValueError, match="read-only"):
        some["agent"][:] = ""


def test_levels_of_some_rows_by_a_mask():
    found = levels_of(WORDS).taken(WORDS != "oil")
    assert found.names.tolist() == ["", "Oil", "wax"]
    assert found.code.tolist() == [2, 0, 2, 1, 0]


def test_columns_given_cannot_be_changed_afterwards():
    cells = np.array(["a", "b"])
    columns = WordColumns({"mix": cells})
    table = read_table("piece,pour,mix\n1,A,x\n2,A,y\n")
    assert columns["mix"].tolist() == ["a", "b"]
    cells[0] = "c"
    assert columns["mix"].tolist() == ["a", "b"]
    with pytest.raises(TypeError, match="item assignment"):
        table.text["mix"] = cells
    with pytest.raises(KeyError, match="oil"):
        table.levels("oil")


def test_a_table_of_a_file_and_its_parts_hold_the_same_levels():
    rows = [
        f"{n},{n // 2},{'tape' if n % 3 else 'none'},{n % 2 or ''}" for n in range(9)
    ]
    table = read_table("\n".join(["piece,pour,joint_sealing,passes", *rows]))
    part = table.taken(np.array([8, 3, 0, 4])).taken(
        np.array([True, True, False, True])
    )
    for name in table.text:
        for one in (table, part):
            names, code = np.unique(one.text[name], return_inverse=True)
            assert one.levels(name).names.tolist() == names.tolist()
            assert one.levels(name).code.tolist() == code.tolist()
