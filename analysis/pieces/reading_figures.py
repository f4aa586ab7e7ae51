"""The figures of many pieces from the readings that stand for them, at once.

The rules are those of `analysis.pieces.pooling`: shares by area, counts and areas by
sum, sizes by maximum, words where all agree. Readings stand as columns, so that some
hundred thousand cost a few steps over arrays and not one over each.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.pieces.columns import coded
from analysis.pieces.pooling import shares_by_area
from analysis.vocabulary import MIXED

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from analysis.pieces.columns import Column

# Figures of a reading that a piece's are made of; NaN is not known.
NUMBERS = (
    "face_area_px",
    "face_area_mm2",
    "void_area_px",
    "smallest_counted_mm",
    "largest_void_mm",
    "joint_band_share",
    "open_face_share",
    "honeycomb_share",
    "joint_length_mm",
    "sand_length_mm",
    "fin_length_mm",
    "arris_loss_mm2_per_m",
)
WORDS = ("stage", "light", "set_up", "method_version", "reviewed")
_LENGTHS = ("joint_length_mm", "sand_length_mm", "fin_length_mm")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReadingFigures:
    """Figures of n readings, those of a piece together, by key.

    Attributes
    ----------
    piece_id : ndarray of int64, (n,)
        In runs: whose they are.
    number : mapping of str to ndarray of float64, (n,)
        `NUMBERS`; NaN is not known.
    void_count : ndarray of int64, (n,)
        Voids counted.
    words : mapping of str to Column
        `WORDS`, n rows each.
    """

    piece_id: NDArray[np.int64]
    number: Mapping[str, NDArray[np.float64]]
    void_count: NDArray[np.int64]
    words: Mapping[str, Column]


def counted_from(
    figures: ReadingFigures,
    floor_mm: float,
    rows: NDArray[np.int64],
    void_count: NDArray[np.int64],
    void_area_px: NDArray[np.float64],
) -> ReadingFigures:
    """Return figures of which some are counted from a larger size.

    Shares of the joint band and the open face need the face again and are left out.

    Parameters
    ----------
    figures : ReadingFigures
        As measured.
    floor_mm : float
        The size from which `rows` are counted now.
    rows : ndarray of int64, (m,)
        Which readings.
    void_count, void_area_px : ndarray, (m,)
        Voids of that size and more, and their area.
    """
    count, number = figures.void_count.copy(), dict(figures.number)
    count[rows] = void_count
    for name, values in (
        ("void_area_px", void_area_px),
        ("smallest_counted_mm", floor_mm),
        ("joint_band_share", np.nan),
        ("open_face_share", np.nan),
    ):
        number[name] = number[name].copy()
        number[name][rows] = values
    return replace(figures, number=number, void_count=count)


def pooled_figures(
    figures: ReadingFigures,
) -> tuple[NDArray[np.int64], dict[str, list[Any]]]:
    """Return the measured columns of pieces, photos weighted by face area.

    Returns
    -------
    pieces : ndarray of int64, (k,)
        Keys, in the order of `figures`.
    columns : dict of str to list
        By the names of `PieceRow`, k cells each; None is not known, words that differ
        between the photos of a piece are `MIXED`.

    Examples
    --------
    >>> from analysis.pieces.columns import alike
    >>> number = dict.fromkeys(NUMBERS, np.array([np.nan, np.nan]))
    >>> number |= {"face_area_px": np.array([1000.0, 3000.0])}
    >>> number |= {"void_area_px": np.array([10.0, 10.0])}
    >>> ids, columns = pooled_figures(ReadingFigures(
    ...     piece_id=np.array([7, 7]), number=number, void_count=np.array([3, 4]),
    ...     words=dict.fromkeys(WORDS, alike("no", 2))))
    >>> ids.tolist(), columns["void_area_percent"], columns["void_count"]
    ([7], [0.5], [7])
    """
    start = np.flatnonzero(np.diff(figures.piece_id, prepend=-1))
    if not len(start):
        return figures.piece_id, {}
    of_row = np.repeat(
        np.arange(len(start)), np.diff(start, append=len(figures.piece_id))
    )
    number, k = figures.number, len(start)
    area_px, area_mm2 = number["face_area_px"], number["face_area_mm2"]
    weight = np.where(np.isnan(area_mm2), area_px, area_mm2)
    # A photo without an area has no share; 1 keeps the division from being told.
    has_area = area_px != 0
    void_share = number["void_area_px"] / np.where(has_area, area_px, 1.0)
    shares = {
        "void_area_percent": np.where(has_area, void_share, np.nan),
        "joint_band_percent": number["joint_band_share"],
        "open_face_percent": number["open_face_share"],
        "honeycomb_percent": number["honeycomb_share"],
    }
    found: dict[str, list[Any]] = {
        name: _cells(100 * shares_by_area(its, weight, of_row, k))
        for name, its in shares.items()
    }
    found["face_area_mm2"] = _cells(_in_all(area_mm2, of_row, k))
    found["void_count"] = np.add.reduceat(figures.void_count, start).tolist()
    # One NaN makes a maximum NaN: not known.
    for name in ("smallest_counted_mm", "largest_void_mm"):
        found[name] = _cells(np.maximum.reduceat(number[name], start))
    found |= _of_joints(number, of_row, k)
    for name in WORDS:
        found[name] = _shared(figures.words[name], start)
    return figures.piece_id[start], found


def _of_joints(
    number: Mapping[str, NDArray[np.float64]], of_row: NDArray[np.int64], k: int
) -> dict[str, list[float | None]]:
    """Lengths in all of the photos with joints; loss by the length of joint."""
    rows = np.flatnonzero(~np.isnan(number["joint_length_mm"]))
    if not len(rows):
        return {name: [None] * k for name in (*_LENGTHS, "arris_loss_mm2_per_m")}
    its = of_row[rows]
    none = np.bincount(its, minlength=k) == 0
    length = number["joint_length_mm"][rows]
    found = {name: _in_all(number[name][rows], its, k) for name in _LENGTHS}
    loss = shares_by_area(number["arris_loss_mm2_per_m"][rows], length, its, k)
    found["arris_loss_mm2_per_m"] = loss
    return {name: _cells(np.where(none, np.nan, one)) for name, one in found.items()}


def _in_all(
    amounts: NDArray[np.float64], of_row: NDArray[np.int64], k: int
) -> NDArray[np.float64]:
    """Return sums; one NaN makes a sum NaN: not known."""
    return np.asarray(np.bincount(of_row, amounts, k), dtype=np.float64)


def _cells(values: NDArray[np.float64]) -> list[float | None]:
    """Return numbers as cells: NaN is None."""
    cells: list[float | None] = values.tolist()
    for row in np.flatnonzero(np.isnan(values)).tolist():
        cells[row] = None
    return cells


def _shared(words: Column, start: NDArray[np.int64]) -> list[str | None]:
    """Return the word that all readings of each piece share, or mixed."""
    word = coded(words.values)  # two places may hold one word
    code = word.code[words.code]
    least = np.minimum.reduceat(code, start)
    most = np.maximum.reduceat(code, start)
    one = np.where(least == most, least, len(word.values))
    return list(map((*word.values, MIXED).__getitem__, one.tolist()))
