"""Which casting came before which: one order for lists, charts and form uses."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

from analysis.model.word_columns import Levels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable

Sortable = TypeVar("Sortable", np.str_, np.int64)
_DAY = len("2026-02-13")
_LAST = "9999"  # pours without a day come behind those that have one


def casting_order(table: PieceTable) -> NDArray[np.int64]:
    r"""Return the place of each row's pour in the order cast.

    By day, then by time of day, then in the order saved, which is the order in which
    the table first names them. A pour without a time comes before the timed ones of
    its day, one without a day behind all others. The day of a pour is the first that
    any of its rows tells.

    Parameters
    ----------
    table : PieceTable
        Rows of pieces; `cast_at` (``HH:MM``) is looked at where it is there, else a
        time behind the day.

    Returns
    -------
    ndarray of int64, (n,)
        0 for the first pour.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = "1,B,2026-03-02,\n2,A,2026-03-01,\n3,C,2026-03-02,07:30\n"
    >>> table = read_table("piece,pour,cast_on,cast_at\n" + rows)
    >>> casting_order(table).tolist()
    [1, 0, 2]
    """
    days, times = (_levels(table, name) for name in ("cast_on", "cast_at"))
    _, first, which = np.unique(
        days.code * len(times.names) + times.code,
        return_index=True,
        return_inverse=True,
    )
    # A text for each moment, not for each of many rows; ranks sort as their texts do.
    keys = when_cast(days.names[days.code[first]], times.names[times.code[first]])
    _, rank = np.unique(keys, return_inverse=True)
    return order_of_pours(table.levels("pour").code, rank[which.reshape(-1)])


def _levels(table: PieceTable, name: str) -> Levels:
    if name in table.text:
        return table.levels(name)
    return Levels(np.array([""]), np.zeros(len(table), dtype=np.int64))


def when_cast(cast_on: NDArray[np.str_], cast_at: NDArray[np.str_]) -> NDArray[np.str_]:
    """Return a text for each row that sorts by day and time of day.

    Examples
    --------
    >>> days = np.array(["2026-03-02T07:30", "2026-03-02"])
    >>> when_cast(days, np.array(["", "18:00"])).tolist()
    ['2026-03-02 07:30', '2026-03-02 18:00']
    """
    return np.array(
        [
            f"{day[:_DAY]} {time[:5] or day[_DAY + 1 : _DAY + 6]}" if day else _LAST
            for day, time in zip(cast_on.tolist(), cast_at.tolist(), strict=True)
        ],
        dtype=np.str_,
    )


def order_of_pours(
    pour: NDArray[Sortable], when: NDArray[Sortable]
) -> NDArray[np.int64]:
    """Return the place of each row's pour, sorted by `when`, then as first named.

    Examples
    --------
    >>> order_of_pours(np.array(["b", "a", "b"]), np.array(["2", "1", "2"])).tolist()
    [1, 0, 1]
    """
    if not len(pour):
        return np.empty(0, dtype=np.int64)
    _, first, of_row = np.unique(pour, return_index=True, return_inverse=True)
    of_row = of_row.reshape(-1)
    # Sorted by pour, then by moment: each pour is a run that begins at its earliest.
    by_row = np.lexsort((when, of_row))
    starts = np.searchsorted(of_row[by_row], np.arange(len(first)))
    earliest = when[by_row][starts]
    order = np.lexsort((first, earliest))
    place = np.empty(len(order), dtype=np.int64)
    # The inverse of a permutation: place k of the order is where pour order[k] goes.
    place[order] = np.arange(len(order))
    numbered: NDArray[np.int64] = place[of_row]
    return numbered
