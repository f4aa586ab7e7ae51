"""A column of many rows as its few values, and which of them each row has.

A log of a hundred thousand pieces holds a few words many times over. What is looked at,
checked or written of a value is done once for each value, not once for each row.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Column:
    """A column by its values.

    Attributes
    ----------
    values : tuple
        The values that occur, k of them; None is not known.
    code : ndarray of int64, (n,)
        Place in `values` of each row's value, 0 to k - 1.
    """

    values: tuple[Any, ...]
    code: NDArray[np.int64]

    def __len__(self) -> int:
        """Count the rows."""
        return len(self.code)

    def taken(self, rows: NDArray[np.int64]) -> Column:
        """Return some of the rows, in the order given."""
        return Column(values=self.values, code=self.code[rows])

    def mapped(self, rule: Callable[[Any], Any]) -> Column:
        """Return what a rule makes of each value."""
        return Column(values=tuple(map(rule, self.values)), code=self.code)

    def put(self, rows: NDArray[np.int64], cells: Sequence[Any]) -> Column:
        """Return the column with other cells in some of its rows."""
        other = coded(cells)
        code = self.code.copy()
        code[rows] = len(self.values) + other.code
        return Column(values=(*self.values, *other.values), code=code)

    def cells(self) -> list[Any]:
        """Return the rows' values."""
        return list(map(self.values.__getitem__, self.code.tolist()))

    def as_met(self) -> tuple[list[Any], NDArray[np.int64], NDArray[np.int64]]:
        """Return the values in use as they are first met, that row, and new codes."""
        rows = np.arange(len(self.code))
        first = np.full(len(self.values), len(rows), dtype=np.int64)
        first[self.code[::-1]] = rows[::-1]  # the last one written is the first row
        order = np.argsort(first, kind="stable")
        # Values of no row have `first` beyond all rows and come last: they go.
        order = order[: int((first < len(rows)).sum())]
        place = np.empty(len(self.values), dtype=np.int64)
        place[order] = np.arange(len(order))
        return [self.values[n] for n in order.tolist()], first[order], place[self.code]


def coded(cells: Sequence[Any]) -> Column:
    """Return a column of cells.

    Parameters
    ----------
    cells : sequence
        One a row; what can be a key of a dict.

    Examples
    --------
    >>> found = coded(["tape", None, "tape"])
    >>> found.values, found.code.tolist()
    (('tape', None), [0, 1, 0])
    """
    known = {cell: place for place, cell in enumerate(dict.fromkeys(cells))}
    code = np.fromiter(map(known.__getitem__, cells), np.int64, len(cells))
    return Column(values=tuple(known), code=code)


def each_word(cells: NDArray[np.str_], rule: Callable[[str], str]) -> NDArray[np.str_]:
    """Return what a rule makes of each cell of a column of words.

    Examples
    --------
    >>> each_word(np.array(["tape", "none", "tape"]), str.upper).tolist()
    ['TAPE', 'NONE', 'TAPE']
    """
    levels, which = np.unique(cells, return_inverse=True)
    words = np.array([rule(level) for level in levels.tolist()], dtype=np.str_)
    return words[which] if len(levels) else cells


def alike(value: object, count: int) -> Column:
    """Return a column that holds one value.

    Examples
    --------
    >>> alike(None, 2).cells()
    [None, None]
    """
    return Column(values=(value,), code=np.zeros(count, dtype=np.int64))


def places(
    keys: Sequence[int] | NDArray[np.int64], among: Sequence[int] | NDArray[np.int64]
) -> NDArray[np.int64]:
    """Return the place of each key among others, -1 where it is not.

    Parameters
    ----------
    keys, among : sequence of int
        Keys of a log; `among` holds each once.

    Examples
    --------
    >>> places([7, 3, 9], [3, 7]).tolist()
    [1, 0, -1]
    """
    wanted = np.asarray(keys, dtype=np.int64)
    given = np.asarray(among, dtype=np.int64)
    if not len(given):
        return np.full(len(wanted), -1, dtype=np.int64)
    order = np.argsort(given, kind="stable")
    # A key beyond the last one is told a place after the end.
    at = np.minimum(np.searchsorted(given[order], wanted), len(given) - 1)
    found = order[at]
    return np.where(given[found] == wanted, found, -1)
