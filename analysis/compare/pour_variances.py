"""Variances between pieces of a pour and between pours, blind to the levels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import optimize

from analysis.compare.design import TINY, codes, means
from analysis.compare.many_groups import BetweenMeans, squares_inside

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analysis.compare.design import Design


def _residual(
    y: NDArray[np.float64], z: NDArray[np.float64]
) -> tuple[NDArray[np.float64], int]:
    """Return what least squares on `z` leaves of `y`, and the rank of `z`."""
    if not z.size:
        return y, 0
    # Normal equations: (k, k) however many rows, solved anew at each weight Brent
    # tries. Columns may repeat each other, hence rank and pseudo-inverse.
    square = z.T @ z
    rank = int(np.linalg.matrix_rank(square, rtol=1e-10, hermitian=True))
    inverse = np.linalg.pinv(square, rcond=1e-10, hermitian=True)
    return np.asarray(y - z @ (inverse @ (z.T @ y))), rank


def variance_within(design: Design) -> float:
    """Variance between pieces of a pour, blind to the levels."""
    if design.groupings:
        groups = [one.group for one in design.groupings]
        square, rank = squares_inside(
            design.y, design.nuisance[:, 1:], groups, design.cluster
        )
        df = len(design) - int(design.cluster.max()) - 1 - rank
        return square / df if df > 0 else 0.0
    # Off the pours' means the intercept is 0: it is left out.
    both = np.column_stack([design.y, design.nuisance[:, 1:]])
    mean, count = means(both, design.cluster)
    rest = both - mean[design.cluster]
    residual, rank = _residual(rest[:, 0], rest[:, 1:])
    df = len(design) - len(count) - rank
    return float(residual @ residual) / df if df > 0 else 0.0


def _squares_between(
    design: Design,
    rows: NDArray[np.bool_],
    cluster: NDArray[np.int64],
    y: NDArray[np.float64],
    z: NDArray[np.float64],
) -> Callable[[NDArray[np.float64]], tuple[float, int]]:
    """Return what tells, by the weight of each pour, the squares left and the rank."""
    if design.groupings:
        groups = [codes(one.group[rows]) for one in design.groupings]
        return BetweenMeans(
            design.y[rows], design.nuisance[rows], groups, cluster
        ).squares

    def squares(weight: NDArray[np.float64]) -> tuple[float, int]:
        root = np.sqrt(weight)
        residual, rank = _residual(y * root, z * root[:, None])
        return float(residual @ residual), rank

    return squares


def variance_between(design: Design, within: float) -> float:
    """Variance between single-level pours, blind to the levels.

    The value at which the weighted squares about the weighted mean equal their
    degrees of freedom (Paule and Mandel's equation).
    """
    rows = ~design.mixed
    if not rows.any():
        return 0.0
    cluster = codes(design.cluster[rows])
    both = np.column_stack([design.y[rows], design.nuisance[rows]])
    mean, count = means(both, cluster)
    y, z = mean[:, 0], mean[:, 1:]
    squares = _squares_between(design, rows, cluster, y, z)

    # Falls as `between` rises: its one root is bracketed and found by Brent's method.
    def excess(between: float) -> float:
        square, rank = squares(1.0 / (between + within / count))
        df = len(y) - rank
        return square - df if df > 0 else -1.0

    # The root is 0 where no spread between pours already gives as small squares.
    start = max(within * 1e-6, TINY * float(np.var(y)), 1e-300)
    if excess(start) <= 0:
        return 0.0
    high = max(start, float(np.var(y))) * 2 + start
    # Beyond the variance of y itself the squares soon fall below their expectation.
    while excess(high) > 0:
        high *= 4
    return float(optimize.brentq(excess, start, high, xtol=1e-12, rtol=1e-6))
