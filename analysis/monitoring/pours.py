"""From pieces to pours: one value per pour, in order of casting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.pieces.zeros import log_of, stands_for_zero

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import PieceColumns

# Between a number's column and the way of vibrating that it is told for alone.
OF_METHOD = "\x1f"


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
    >>> from analysis.monitoring.made_pieces import pieces
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
    >>> from analysis.monitoring.made_pieces import pieces
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
    # The inverse of `order`: from a pour's number by name to its place in time.
    place = np.empty(n, dtype=np.int64)
    place[order] = np.arange(n)
    of_piece = place[of_piece]
    logs = log_shares(pieces)
    n_pieces = np.bincount(of_piece, minlength=n)
    mean = np.bincount(of_piece, logs, n) / n_pieces
    spare = len(pieces) - n
    within = float(((logs - mean[of_piece]) ** 2).sum() / spare) if spare else 0.0
    # Pours without a day kept the largest one, which sorts them last.
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
