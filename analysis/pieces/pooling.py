"""Several photos of a piece to one figure: shares by area, counts and areas by sum."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import TableError
from analysis.model.field_words import words_beside
from analysis.pieces.likeness import ONE_ONLY

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable

SHARES = (
    "void_area_percent",
    "joint_band_percent",
    "open_face_percent",
    "honeycomb_percent",
    "arris_loss_mm2_per_m",
)
SUMS = (
    "face_area_mm2",
    "void_count",
    "joint_length_mm",
    "sand_length_mm",
    "fin_length_mm",
)
LARGEST = ("largest_void_mm", "smallest_counted_mm")


def by_area(
    shares: Sequence[float | None], areas: Sequence[float | None]
) -> float | None:
    """Return the mean of the known shares, weighted by area.

    Parameters
    ----------
    shares : sequence of float or None
        Of each photo; in any unit.
    areas : sequence of float or None
        None where a photo has no scale: it cannot be weighed, and counts only where
        no photo can.

    Examples
    --------
    >>> by_area([0.2, 0.5], [1000.0, 2000.0]), by_area([0.2, 0.5], [None, None])
    (0.4, 0.35)
    >>> by_area([0.2, 0.5], [None, 2000.0]), by_area([None], [1.0])
    (0.5, None)
    """
    known = [
        (share, area)
        for share, area in zip(shares, areas, strict=True)
        if share is not None
    ]
    if any(area is not None for _, area in known):
        weighed = [(share, area) for share, area in known if area is not None]
    else:
        weighed = [(share, 1.0) for share, _ in known]
    total = sum(area for _, area in weighed)
    if not total:
        return None
    return sum(share * area for share, area in weighed) / total


def pieces_of(table: PieceTable) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    r"""Return the first row of each piece, in order of the table, and each row's piece.

    Rows are photos of one piece where piece, pour, stage and method_version agree; a
    row without a piece's name is one of its own.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> first, of_row = pieces_of(read_table("piece,pour\n2,A\n1,A\n2,A\n"))
    >>> first.tolist(), of_row.tolist()
    ([0, 1], [0, 1, 0])
    """
    code = np.zeros(len(table), dtype=np.int64)
    for name in ("pour", "piece", *ONE_ONLY):
        if name in table.text:
            levels = table.levels(name)
            code = code * len(levels.names) + levels.code
            # Numbered anew after each column, so that no product of levels overflows.
            _, code = np.unique(code, return_inverse=True)
            code = code.reshape(-1)
    nameless = ~table.levels("piece").known
    code[nameless] = code.max(initial=0) + 1 + np.arange(int(nameless.sum()))
    _, first, of_row = np.unique(code, return_index=True, return_inverse=True)
    # np.unique numbers pieces by code. By first row instead: `place` is the inverse
    # of the permutation `order`.
    order = np.argsort(first)
    place = np.empty(len(first), dtype=np.int64)
    place[order] = np.arange(len(first))
    return np.asarray(first[order]), np.asarray(place[of_row.reshape(-1)])


def pooled(table: PieceTable, *, alike: Sequence[str] = ()) -> PieceTable:
    r"""Pool several photos of one piece to one row, in the table's order.

    Parameters
    ----------
    table : PieceTable
        One row per piece, or per photo of a piece.
    alike : sequence of str
        Columns in which the photos of a piece must agree.

    Raises
    ------
    TableError
        Two photos of a piece disagree about one of them.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> head = "piece,pour,mix,void_area_percent,face_area_mm2\n"
    >>> table = read_table(head + "1,A,C25,0.2,1000\n1,A,C25,0.5,2000\n")
    >>> pooled(table, alike=("mix",)).number["void_area_percent"].round(3).tolist()
    [0.4]
    """
    first, of_row = pieces_of(table)
    if len(first) == len(table):
        return table
    for name in alike:
        _agree(table, name, first, of_row)
    merged = table.taken(first)
    number = dict(merged.number)
    area = table.number.get("face_area_mm2", np.full(len(table), np.nan))
    for name, values in table.number.items():
        if name in SUMS:
            # One NaN makes a sum NaN: not known.
            total = np.bincount(of_row, values, len(first))
            number[name] = np.asarray(total, dtype=np.float64)
        elif name in SHARES:
            number[name] = shares_by_area(values, area, of_row, len(first))
        elif name in LARGEST:
            most = np.full(len(first), np.nan)
            # fmax passes NaN over; `at` takes every row, where plain indexing would
            # keep the last of a piece.
            np.fmax.at(most, of_row, values)
            number[name] = most
    return replace(merged, number=number)


def shares_by_area(
    values: NDArray[np.float64],
    area: NDArray[np.float64],
    of_row: NDArray[np.int64],
    n: int,
) -> NDArray[np.float64]:
    """Do `by_area` for n pieces at once; NaN is not known.

    Parameters
    ----------
    values, area : ndarray of float64, (m,)
        Shares of photos, in any unit, and by what they are weighed.
    of_row : ndarray of int64, (m,)
        Each photo's piece, 0 to n - 1.
    n : int
        Pieces.

    Examples
    --------
    >>> shares = np.array([0.2, 0.5, np.nan])
    >>> shares_by_area(shares, np.array([1.0, 2.0, 1.0]), np.array([0, 0, 1]), 2)
    array([0.4, nan])
    """
    known = ~np.isnan(values)
    weighed = known & ~np.isnan(area)
    some = np.bincount(of_row, weighed, n) > 0
    # A piece of which no photo has an area weighs all of them 1.
    weight = np.where(weighed, area, 0.0) + (known & ~some[of_row])
    whole = np.bincount(of_row, weight, n)
    total = np.bincount(of_row, weight * np.where(known, values, 0.0), n)
    return np.where(whole > 0, total / np.where(whole > 0, whole, 1.0), np.nan)


def _agree(
    table: PieceTable, name: str, first: NDArray[np.int64], of_row: NDArray[np.int64]
) -> None:
    cells = table.text[name]
    differs = cells != cells[first][of_row]
    if differs.any():
        row = int(np.argmax(differs))
        msg = (
            f"Line {table.line[row]}: piece {table.text['piece'][row]} of pour "
            f"{table.text['pour'][row]} has {name}{words_beside(name)} "
            f"{str(cells[row])!r} here and "
            f"{str(cells[first][of_row][row])!r} before: give it one."
        )
        raise TableError(msg)
