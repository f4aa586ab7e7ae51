"""Which pieces are followed: those asked for, and only like with like."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError
from analysis.model.field_words import column_words
from analysis.model.notes import note
from analysis.monitoring.note_words import spelt
from analysis.pieces.sealing import NOT_RECORDED, sealings_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import PieceColumns, TrackOptions
    from analysis.model.notes import Note

FLOORS_ALIKE = 1.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ChartedPieces:
    """Pieces that may be charted together.

    Attributes
    ----------
    rows : ndarray of int64, (pieces,)
        Rows of the table given.
    sealing : ndarray of str, (pieces,)
        Sealed, open, mixed or not recorded.
    of : tuple of (str, str)
        What they have in common.
    sealing_eras : bool
        Whether sealing changed once and for all, so that each kind is an era.
    notes : tuple of Note
        What was left out and why.
    """

    rows: NDArray[np.int64]
    sealing: NDArray[np.str_]
    of: tuple[tuple[str, str], ...]
    sealing_eras: bool
    notes: tuple[Note, ...]


def choose(pieces: PieceColumns, options: TrackOptions) -> ChartedPieces:
    """Keep the pieces that may be charted together.

    Parameters
    ----------
    pieces : PieceColumns
        All pieces.
    options : TrackOptions
        What to follow.

    Returns
    -------
    ChartedPieces
        The kind with most pours, and what was left out.

    Raises
    ------
    InputError
        No piece is left.

    Examples
    --------
    >>> from analysis.model.monitoring import TrackOptions
    >>> from analysis.monitoring.made_pieces import pieces
    >>> choose(pieces([0.01, 0.02]), TrackOptions()).rows.tolist()
    [0, 1]
    """
    notes: list[Note] = []
    sealing = sealings_of(pieces.joint_sealing)
    rows = _asked_for(pieces, sealing, options)
    rows = _commonest_version(pieces, rows, notes)
    rows = _dated(pieces, rows, notes)
    of: list[tuple[str, str]] = []
    line = "product_line"
    if not (pieces.product_line[rows] != "").any():
        line = "form_type"
    for name in (line, "stage"):
        asked = "product_line" if name == "form_type" else name
        if asked not in options.together:
            column = getattr(pieces, name)
            rows = _most_pours(pieces, rows, column, name, of, notes)
    eras = False
    if "joint_sealing" not in options.together:
        eras = _one_after_the_other(pieces, rows, sealing)
        if eras:
            notes.append(note("sealing_eras"))
        else:
            rows = _most_pours(pieces, rows, sealing, "joint_sealing", of, notes)
    _say_mixed(pieces, rows, options, notes)
    return ChartedPieces(
        rows=rows,
        sealing=sealing[rows],
        of=tuple(of),
        sealing_eras=eras,
        notes=tuple(notes),
    )


def _asked_for(
    pieces: PieceColumns, sealing: NDArray[np.str_], options: TrackOptions
) -> NDArray[np.int64]:
    keep = np.ones(len(pieces), dtype=bool)
    asked = []
    for name in ("form", "form_type", "product_line", "stage"):
        value = getattr(options, name)
        if value is not None:
            keep &= getattr(pieces, name) == value
            asked.append(f"{column_words(name)} {spelt(name, value)}")
    if options.sealing is not None:
        keep &= sealing == options.sealing
        asked.append(f"joint sealing {options.sealing}")
    if not keep.any():
        what = " with " + ", ".join(asked) if asked else ""
        msg = f"There is no measured piece{what}: ask for one that was logged."
        raise InputError(msg)
    return np.flatnonzero(keep)


def _commonest_version(
    pieces: PieceColumns, rows: NDArray[np.int64], notes: list[Note]
) -> NDArray[np.int64]:
    versions, which, count = np.unique(
        pieces.method_version[rows], return_inverse=True, return_counts=True
    )
    if len(versions) == 1:
        return rows
    best = int(count.argmax())
    gone = len(rows) - int(count[best])
    notes.append(note("other_version", pieces=gone, version=str(versions[best])))
    return np.asarray(rows[which == best])


def _dated(
    pieces: PieceColumns, rows: NDArray[np.int64], notes: list[Note]
) -> NDArray[np.int64]:
    known = ~np.isnat(pieces.cast_on[rows])
    if known.all():
        return rows
    if not known.any():
        notes.append(note("no_dates"))
        return rows
    dated = np.isin(pieces.pour[rows], pieces.pour[rows[known]])
    if not dated.all():
        gone = len(np.unique(pieces.pour[rows[~dated]]))
        notes.append(note("without_date", pours=gone))
    return rows[dated]


def _most_pours(
    pieces: PieceColumns,
    rows: NDArray[np.int64],
    column: NDArray[np.str_],
    name: str,
    of: list[tuple[str, str]],
    notes: list[Note],
) -> NDArray[np.int64]:
    """Keep the level with most pours, the latest where levels tie."""
    levels, which = np.unique(column[rows], return_inverse=True)
    if len(levels) == 1:
        if levels[0] not in {"", NOT_RECORDED}:
            of.append((name, str(levels[0])))
        return rows
    _, pour = np.unique(pieces.pour[rows], return_inverse=True)
    span = int(pour.max()) + 1
    # Each pair of level and pour once, as one number; the level is what it starts with.
    pours = np.bincount(np.unique(which * span + pour) // span)
    days = pieces.cast_on[rows]
    last = np.zeros(len(levels), dtype=np.int64)
    known = ~np.isnat(days)
    np.maximum.at(last, which[known], days[known].astype("datetime64[D]").astype(int))
    # The last key rules: most pours, then the latest day.
    best = int(np.lexsort((last, pours))[-1])
    others = tuple(
        (str(levels[i]), int(pours[i]))
        for i in np.argsort(-pours, kind="stable").tolist()
        if i != best
    )
    here = str(levels[best])
    notes.append(
        note("one_kind", name=name, level=here, pours=int(pours[best]), others=others)
    )
    of.append((name, here or NOT_RECORDED))
    return np.asarray(rows[which == best])


def _one_after_the_other(
    pieces: PieceColumns, rows: NDArray[np.int64], sealing: NDArray[np.str_]
) -> bool:
    """Whether the kinds of sealing follow each other in time without overlap."""
    levels, which = np.unique(sealing[rows], return_inverse=True)
    if len(levels) == 1:
        return False
    days = pieces.cast_on[rows].astype("datetime64[D]").astype(np.int64)
    when = np.arange(len(rows)) if np.isnat(pieces.cast_on[rows]).all() else days
    spans = sorted(
        (int(when[which == i].min()), int(when[which == i].max()))
        for i in range(len(levels))
    )
    apart = all(a[1] < b[0] for a, b in pairwise(spans))
    pours = [len(np.unique(pieces.pour[rows[which == i]])) for i in range(len(levels))]
    return apart and sum(pours) == len(np.unique(pieces.pour[rows]))


def _say_mixed(
    pieces: PieceColumns,
    rows: NDArray[np.int64],
    options: TrackOptions,
    notes: list[Note],
) -> None:
    """Say what is mixed on request, and floors that differ."""
    for name in options.together:
        levels = np.unique(getattr(pieces, name)[rows])
        if len(levels) > 1:
            notes.append(note("mixed_as_asked", name=name, kinds=len(levels)))
    floors = pieces.smallest_counted_mm[rows]
    floors = floors[~np.isnan(floors)]
    if len(floors) and floors.max() > FLOORS_ALIKE * floors.min():
        low, high = float(floors.min()), float(floors.max())
        notes.append(note("smallest_sizes_differ", low=low, high=high))
