"""How far the groups of a grouping differ, found without looking at the levels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

SMALL = 1e-8


def _rest(
    values: NDArray[np.float64], columns: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return what least squares on the columns leaves of the values."""
    if not columns.size:
        return values
    solution = np.linalg.lstsq(columns, values, rcond=SMALL)[0]
    return np.asarray(values - columns @ solution)


def group_variance(
    y: NDArray[np.float64],
    groups: NDArray[np.float64],
    fixed: NDArray[np.float64],
    cluster: NDArray[np.int64],
) -> float:
    """Estimate the variance between the groups of a grouping, by moments.

    Henderson's third method (Searle, Casella and McCulloch, Variance Components,
    1992, chapter 5; from memory): the squares that the groups explain after
    everything else, less what chance explains, over what a unit of variance would.

    Parameters
    ----------
    y : ndarray of float64, (n,)
        Log outcome.
    groups : ndarray of float64, (n, g)
        From `analysis.compare.design.contrasts`.
    fixed : ndarray of float64, (n, k)
        Columns taken out first.
    cluster : ndarray of int64, (n,)
        Pour; taken out where the groups vary inside clusters.

    Returns
    -------
    float
        0 where the groups differ no more than chance lets them.

    Examples
    --------
    >>> from analysis.compare.design import contrasts
    >>> form = np.tile(np.arange(4), 6)
    >>> y = np.array([0.0, 1, 2, 3])[form] + np.sin(np.arange(24.0)) / 5
    >>> found = group_variance(y, contrasts(form), np.ones((24, 1)), np.arange(24) // 4)
    >>> round(found, 1)
    1.6
    """
    both = np.column_stack([y, groups, fixed])
    size = np.bincount(cluster).astype(np.float64)
    mean = np.column_stack([np.bincount(cluster, column) / size for column in both.T])
    # Groups that vary inside pours are judged there, free of the pours' own spread;
    # days, each pour being of one, only by the pours' means.
    inside = both - mean[cluster]
    width = groups.shape[1]
    spread = float((inside[:, 1 : 1 + width] ** 2).sum())
    if spread > SMALL * max(float((groups**2).sum()), SMALL):
        rows, lost = inside, len(size)
    else:
        rows, lost = mean, 0
    rest = _rest(rows[:, : 1 + width], rows[:, 1 + width :])
    own, columns = rest[:, 0], rest[:, 1:]
    left = _rest(own, columns)
    rank = int(np.linalg.matrix_rank(columns, tol=SMALL))
    taken = int(np.linalg.matrix_rank(rows[:, 1 + width :], tol=SMALL))
    df = len(rows) - lost - taken - rank
    trace = float((columns**2).sum())
    if rank == 0 or trace <= 0:
        return 0.0
    # Expected: variance * trace + rank * noise. Solved for the variance.
    explained = float(own @ own - left @ left)
    noise = float(left @ left) / df if df > 0 else 0.0
    return max((explained - rank * noise) / trace, 0.0)
