"""From pieces to pours: like with like, one value per pour, in order of casting."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError
from analysis.fields import column_field
from analysis.model.field_words import cell_words, column_words, label_of
from analysis.pieces.sealing import NOT_RECORDED, sealings_of
from analysis.pieces.zeros import log_of, stands_for_zero

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import PieceColumns, TrackOptions

MOST_NAMED = 5
# Between a number's column and the way of vibrating that it is told for alone.
OF_METHOD = "\x1f"
FLOORS_ALIKE = 1.2


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Chosen:
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
    notes : tuple of str
        What was left out and why.
    """

    rows: NDArray[np.int64]
    sealing: NDArray[np.str_]
    of: tuple[tuple[str, str], ...]
    sealing_eras: bool
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pours:
    """One row per pour, in order of casting; columns of one length n.

    Attributes
    ----------
    pour, cast_on, n_pieces
        Name, day, pieces.
    log_share : ndarray of float64, (n,)
        Mean natural log of the pieces' shares.
    within_variance : float
        Variance of the log between pieces of one pour; 0 with one piece each.
    void_count, face_area_mm2 : ndarray of float64, (n,)
        Sums; NaN where a piece's is not known.
    of_piece : ndarray of int64, (pieces,)
        Row of each piece's pour.
    """

    pour: NDArray[np.str_]
    cast_on: NDArray[np.datetime64]
    n_pieces: NDArray[np.int64]
    log_share: NDArray[np.float64]
    within_variance: float
    void_count: NDArray[np.float64]
    face_area_mm2: NDArray[np.float64]
    of_piece: NDArray[np.int64]


def counted(count: int, noun: str) -> str:
    """Write a number with its noun.

    Examples
    --------
    >>> counted(1, "pour"), counted(2, "pour")
    ('1 pour', '2 pours')
    """
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"


def log_shares(
    pieces: PieceColumns, share: NDArray[np.float64] | None = None
) -> NDArray[np.float64]:
    """Natural log of the void shares, with something small standing for zero.

    Parameters
    ----------
    pieces : PieceColumns
        n of 1 or more.
    share : ndarray of float64, (n,), optional
        0..1; None takes the void share of the whole face.

    Returns
    -------
    ndarray of float64, (n,)
        What stands for zero `analysis.pieces.zeros` says.

    Examples
    --------
    >>> from analysis.monitoring.example import pieces
    >>> shares = pieces([0.01, 0.0])
    >>> np.exp(log_shares(shares)).round(4).tolist()
    [0.01, 0.005]
    """
    share = pieces.void_share if share is None else share
    zero = stands_for_zero(
        share,
        smallest_counted_mm=pieces.smallest_counted_mm,
        face_area_mm2=pieces.face_area_mm2,
    )
    return log_of(share, zero)


def choose(pieces: PieceColumns, options: TrackOptions) -> Chosen:
    """Keep the pieces that may be charted together.

    Parameters
    ----------
    pieces : PieceColumns
        All pieces.
    options : TrackOptions
        What to follow.

    Returns
    -------
    Chosen
        The kind with most pours, and in words what was left out.

    Raises
    ------
    InputError
        No piece is left.

    Examples
    --------
    >>> from analysis.model.monitoring import TrackOptions
    >>> from analysis.monitoring.example import pieces
    >>> choose(pieces([0.01, 0.02]), TrackOptions()).rows.tolist()
    [0, 1]
    """
    notes: list[str] = []
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
            notes.append(
                "You changed the joint sealing for good, so each kind has a baseline "
                "of its own."
            )
        else:
            rows = _most_pours(pieces, rows, sealing, "joint_sealing", of, notes)
    _say_mixed(pieces, rows, options, notes)
    return Chosen(
        rows=rows,
        sealing=sealing[rows],
        of=tuple(of),
        sealing_eras=eras,
        notes=tuple(notes),
    )


def pour_values(pieces: PieceColumns) -> Pours:
    """Pool pieces to pours.

    Parameters
    ----------
    pieces : PieceColumns
        1 or more, all of one kind.

    Returns
    -------
    Pours
        In order of the first day of casting, then as listed.

    Examples
    --------
    >>> from analysis.monitoring.example import pieces
    >>> pour_values(pieces([0.01, 0.04], pours=["a", "a"])).n_pieces.tolist()
    [2]
    """
    names, first, of_piece = np.unique(
        pieces.pour, return_index=True, return_inverse=True
    )
    n = len(names)
    day = np.full(n, np.iinfo(np.int64).max)
    days = pieces.cast_on.astype("datetime64[D]").astype(np.int64)
    known = ~np.isnat(pieces.cast_on)
    np.minimum.at(day, of_piece[known], days[known])
    order = np.lexsort((first, day))
    place = np.empty(n, dtype=np.int64)
    place[order] = np.arange(n)
    of_piece = place[of_piece]
    logs = log_shares(pieces)
    n_pieces = np.bincount(of_piece, minlength=n)
    mean = np.bincount(of_piece, logs, n) / n_pieces
    spare = len(pieces) - n
    within = float(((logs - mean[of_piece]) ** 2).sum() / spare) if spare else 0.0
    unknown = day[order] == np.iinfo(np.int64).max
    cast_on = np.where(unknown, 0, day[order]).astype("datetime64[D]")
    cast_on[unknown] = np.datetime64("NaT")
    return Pours(
        pour=names[order],
        cast_on=cast_on,
        n_pieces=n_pieces,
        log_share=mean,
        within_variance=within,
        void_count=np.bincount(of_piece, pieces.void_count, n).astype(np.float64),
        face_area_mm2=np.bincount(of_piece, pieces.face_area_mm2, n).astype(np.float64),
        of_piece=of_piece,
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
    pieces: PieceColumns, rows: NDArray[np.int64], notes: list[str]
) -> NDArray[np.int64]:
    versions, which, count = np.unique(
        pieces.method_version[rows], return_inverse=True, return_counts=True
    )
    if len(versions) == 1:
        return rows
    best = int(count.argmax())
    notes.append(
        f"Left out: {counted(len(rows) - int(count[best]), 'piece')} measured by "
        f"another version of the method than {versions[best] or 'the unrecorded one'}; "
        "measure their photos again to include them."
    )
    return np.asarray(rows[which == best])


def _dated(
    pieces: PieceColumns, rows: NDArray[np.int64], notes: list[str]
) -> NDArray[np.int64]:
    known = ~np.isnat(pieces.cast_on[rows])
    if known.all():
        return rows
    if not known.any():
        notes.append(
            "No casting dates are logged: the pours are taken in the order listed."
        )
        return rows
    dated = np.isin(pieces.pour[rows], pieces.pour[rows[known]])
    if not dated.all():
        gone = len(np.unique(pieces.pour[rows[~dated]]))
        notes.append(
            f"Left out: {counted(gone, 'pour')} without a casting date; add the date."
        )
    return rows[dated]


def _most_pours(
    pieces: PieceColumns,
    rows: NDArray[np.int64],
    column: NDArray[np.str_],
    name: str,
    of: list[tuple[str, str]],
    notes: list[str],
) -> NDArray[np.int64]:
    """Keep the level with most pours, the latest where levels tie."""
    levels, which = np.unique(column[rows], return_inverse=True)
    title = column_words(name)
    if len(levels) == 1:
        if levels[0] not in {"", NOT_RECORDED}:
            of.append((name, str(levels[0])))
        return rows
    _, pour = np.unique(pieces.pour[rows], return_inverse=True)
    span = int(pour.max()) + 1
    pours = np.bincount(np.unique(which * span + pour) // span)
    days = pieces.cast_on[rows]
    last = np.zeros(len(levels), dtype=np.int64)
    known = ~np.isnat(days)
    np.maximum.at(last, which[known], days[known].astype("datetime64[D]").astype(int))
    best = int(np.lexsort((last, pours))[-1])
    others = [
        f"{spelt(name, levels[i])} ({counted(int(pours[i]), 'pour')})"
        for i in np.argsort(-pours, kind="stable")
        if i != best
    ]
    shown = ", ".join(others[:MOST_NAMED])
    more = f" and {len(others) - MOST_NAMED} more" if len(others) > MOST_NAMED else ""
    here = spelt(name, levels[best])
    notes.append(
        f"This chart shows {title} {here} ({counted(int(pours[best]), 'pour')}). Left "
        f"out, since only like goes with like: {shown}{more}."
    )
    of.append((name, here))
    return np.asarray(rows[which == best])


def spelt(name: str, level: str) -> str:
    """Write a level for reading.

    Examples
    --------
    >>> spelt("stage", "as_struck"), spelt("product_line", "")
    ('as struck', 'not recorded')
    """
    return cell_words(name, str(level)) or NOT_RECORDED


def setting_words(setting: str) -> str:
    """Name a setting that is followed, a number with its unit.

    Examples
    --------
    >>> setting_words("air_c"), setting_words("joint_sealing")
    ('air temperature, °C', 'joint sealing')
    >>> setting_words(f"vibration_s{OF_METHOD}table")
    'vibration, seconds (table)'
    """
    column, _, method = setting.partition(OF_METHOD)
    field = column_field(column)
    if field is None or not field.unit:
        return column_words(column)
    title = label_of(column)
    title = title[:1].lower() + title[1:]
    return f"{title} ({method})" if method else title


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
    notes: list[str],
) -> None:
    """Say what is mixed on request, and floors that differ."""
    for name in options.together:
        levels = np.unique(getattr(pieces, name)[rows])
        if len(levels) > 1:
            notes.append(
                f"Mixed, as you asked: {column_words(name)} ({len(levels)} kinds)."
            )
    floors = pieces.smallest_counted_mm[rows]
    floors = floors[~np.isnan(floors)]
    if len(floors) and floors.max() > FLOORS_ALIKE * floors.min():
        notes.append(
            f"The smallest counted size runs from {floors.min():g} to {floors.max():g} "
            f"mm, and that alone can make a rise or a fall: measure all of them again "
            f"at the largest."
        )
