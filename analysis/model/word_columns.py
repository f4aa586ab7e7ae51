"""Columns of words, and the levels they hold, each found once and when asked for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from analysis.checks import frozen, sealed

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray


class Levels(NamedTuple):
    """A column of words by its levels.

    Attributes
    ----------
    names : ndarray of str, (k,)
        The levels that occur, in order: ``""``, unknown, comes first.
    code : ndarray of int64, (n,)
        Place in `names` of each row's word.
    """

    names: NDArray[np.str_]
    code: NDArray[np.int64]

    def where(self, of_level: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Return for each row what holds for its level.

        Examples
        --------
        >>> found = levels_of(np.array(["oil", "", "wax"]))
        >>> found.where(found.names != "").tolist()
        [True, False, True]
        """
        return of_level[self.code]

    @property
    def known(self) -> NDArray[np.bool_]:
        """Whether each row's word is known, (n,)."""
        return self.where(self.names != "")

    def columns(self) -> NDArray[np.float64]:
        """Return a column of zeros and ones for each level but the first, (n, k - 1).

        Examples
        --------
        >>> levels_of(np.array(["wax", "oil", "wax"])).columns().tolist()
        [[1.0], [0.0], [1.0]]
        """
        others = np.arange(1, len(self.names))
        return np.asarray(self.code[:, None] == others, dtype=np.float64)

    def taken(self, rows: NDArray[np.bool_] | NDArray[np.int64]) -> Levels:
        """Return the levels of some rows; those left without a row are gone.

        Examples
        --------
        >>> found = levels_of(np.array(["oil", "", "wax"])).taken(np.array([2, 2]))
        >>> found.names.tolist(), found.code.tolist()
        (['wax'], [0, 0])
        """
        code = self.code[rows]
        if len(self.names) == 1 and len(code):  # most columns of a log, blank ones
            return Levels(self.names, frozen(code))
        used = np.bincount(code, minlength=len(self.names)) > 0
        # Old code to new: how many levels before it are in use.
        place = np.cumsum(used) - 1
        return Levels(frozen(self.names[used]), frozen(place[code]))


def levels_of(cells: NDArray[np.str_]) -> Levels:
    """Return a column by its levels.

    Examples
    --------
    >>> found = levels_of(np.array(["wax", "oil", "wax"]))
    >>> found.names.tolist(), found.code.tolist()
    (['oil', 'wax'], [1, 0, 1])
    """
    names, code = np.unique(cells, return_inverse=True)
    return Levels(frozen(names), frozen(code.astype(np.int64).reshape(-1)))


class WordColumns(Mapping[str, "NDArray[np.str_]"]):
    """Columns of words by their names.

    A table has fifty columns, most of them blank, and a question looks at a few: cells
    are written out, and levels looked for, where they are first asked for. In a large
    log sorting the words of a column takes longer than most of what is done with them.

    Parameters
    ----------
    given : mapping of str to (ndarray of str, or Levels)
        Columns of n rows; the names of levels may be in any order, and stand twice.
    rows : ndarray of int64, optional
        The rows to take of them; all by default.

    Examples
    --------
    >>> columns = WordColumns({"oil": np.array(["b", "a", "b"])})
    >>> columns["oil"].tolist(), columns.levels("oil").names.tolist()
    (['b', 'a', 'b'], ['a', 'b'])
    """

    __slots__ = ("_cells", "_given", "_levels", "_rows")

    def __init__(
        self,
        given: Mapping[str, NDArray[np.str_] | Levels] | WordColumns,
        rows: NDArray[np.int64] | None = None,
    ) -> None:
        """Hold the columns; arrays are sealed."""
        self._given, self._rows = given, rows
        self._cells: dict[str, NDArray[np.str_]] = {}
        self._levels: dict[str, Levels] = {}

    def __getitem__(self, name: str) -> NDArray[np.str_]:
        if name not in self._cells:
            its = self._given[name]
            if isinstance(its, Levels):
                its = frozen(its.names[its.code])
            self._cells[name] = (
                sealed(its) if self._rows is None else frozen(its[self._rows])
            )
        return self._cells[name]

    def levels(self, name: str) -> Levels:
        """Return a column by its levels."""
        if name not in self._levels:
            self._levels[name] = self._levels_of(name)
        return self._levels[name]

    def _levels_of(self, name: str) -> Levels:
        if isinstance(self._given, WordColumns):
            its = self._given.levels(name)
        else:
            given = self._given[name]
            if isinstance(given, Levels):  # a few words in the order they were met
                words = levels_of(given.names)
                its = Levels(words.names, frozen(words.code[given.code]))
            else:
                its = levels_of(given)
        return its if self._rows is None else its.taken(self._rows)

    def __iter__(self) -> Iterator[str]:
        return iter(self._given)

    def __len__(self) -> int:
        return len(self._given)

    def __contains__(self, name: object) -> bool:
        return name in self._given
