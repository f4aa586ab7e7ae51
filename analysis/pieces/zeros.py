"""What stands for zero where a share goes into a logarithm."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from analysis.pieces.pooling import SHARES

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable

LEAST_SHARE = 1e-11  # no face holds so small a share of anything: it is a zero
# Half of the least where nothing was found at all, 0..1.
_NOTHING_FOUND = 0.5e-5


def stands_for_zero(
    share: NDArray[np.float64],
    *,
    smallest_counted_mm: NDArray[np.float64] | None = None,
    face_area_mm2: NDArray[np.float64] | None = None,
    at_most: float | None = None,
) -> float:
    """Return the share that stands for zero.

    Parameters
    ----------
    share : ndarray of float64, (n,)
        0..1; NaN where not known.
    smallest_counted_mm, face_area_mm2 : ndarray of float64, (n,), optional
        NaN where not known.
    at_most : float, optional
        What a question knows besides, such as half of a target's lower end.

    Returns
    -------
    float
        Half the share of one void of the largest smallest-counted size on the median
        face, where these are known; never more than half of the smallest share found,
        so that nothing found stays below whatever was found.

    Examples
    --------
    >>> stands_for_zero(np.array([0.0, 0.004]))
    0.002
    >>> sizes, areas = np.array([0.5, 0.5]), np.array([250000.0, 250000.0])
    >>> shares = np.array([0.0, 0.004])
    >>> zero = stands_for_zero(shares, smallest_counted_mm=sizes, face_area_mm2=areas)
    >>> f"{zero:.2g}"
    '3.9e-07'
    """
    found = share[share > LEAST_SHARE]
    least = 0.5 * float(found.min()) if len(found) else _NOTHING_FOUND
    sizes, areas = _known(smallest_counted_mm), _known(face_area_mm2)
    if len(sizes) and len(areas):
        one_void = math.pi / 4 * float(sizes.max()) ** 2 / float(np.median(areas))
        least = min(least, 0.5 * one_void) if len(found) else 0.5 * one_void
    return least if at_most is None else min(least, at_most)


def log_of(value: NDArray[np.float64], zero: float) -> NDArray[np.float64]:
    """Return natural logarithms, `zero` standing for zeros.

    Parameters
    ----------
    value : ndarray of float64, (n,)
        0 or more.
    zero : float
        From this module, of the same values.

    Examples
    --------
    >>> np.exp(log_of(np.array([0.0, 0.5]), 0.25)).round(6).tolist()
    [0.25, 0.5]
    """
    return np.asarray(np.log(np.where(value > LEAST_SHARE, value, zero)))


def zero_of(table: PieceTable, value: NDArray[np.float64], outcome: str) -> float:
    r"""Return what stands for zero in an outcome of a table, in the outcome's unit.

    Parameters
    ----------
    table : PieceTable
        One row per piece.
    value : ndarray of float64, (n,)
        The outcome of each row; percent for shares.
    outcome : str
        Its name.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> table = read_table("piece,pour\n1,A\n2,A\n")
    >>> zero_of(table, np.array([0, 0.4]), "void_area_percent")
    0.2
    """
    sizes = table.number.get("smallest_counted_mm")
    if outcome in SHARES:
        return 100 * stands_for_zero(
            value / 100,
            smallest_counted_mm=sizes,
            face_area_mm2=table.number.get("face_area_mm2"),
        )
    half = half_of_smallest(value)
    known = _known(sizes)
    if outcome == "largest_void_mm" and len(known):
        return min(half, 0.5 * float(known.max()))
    return half


def half_of_smallest(value: NDArray[np.float64]) -> float:
    """Return what stands for zero of an amount that is no share of the face.

    Examples
    --------
    >>> half_of_smallest(np.array([0.0, 3.0, 8.0])), half_of_smallest(np.zeros(2))
    (1.5, 1.0)
    """
    found = value[value > 100 * LEAST_SHARE]
    return 0.5 * float(found.min()) if len(found) else 1.0


def _known(values: NDArray[np.float64] | None) -> NDArray[np.float64]:
    return np.empty(0) if values is None else values[np.isfinite(values)]
