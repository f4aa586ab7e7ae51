"""Groupings of hundreds of forms or days, taken out without a column for each group.

What least squares leaves depends on the products of the columns alone, and those of a
grouping are counts: how many pieces a group has, and how many of them in each pour.
They are kept sparse; groups no two of which meet (days, each pour being of one) are
eliminated one by one, and only the others are solved for together. The answers are
those of `analysis.compare.gls` and `analysis.compare.shrinkage` with contrasts of the
groups as columns: a random effect of all groups spans the intercept too, which is free
and takes that part over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse
from scipy.linalg import lapack, solve_triangular

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

# Numbers in the columns of groups from which they are not written out.
MANY = 200_000
# Part of a column's own square below which it is told by the others.
TOLD = 1e-10


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Grouping:
    """A random effect of many groups.

    Attributes
    ----------
    group : ndarray of int64, (n,)
        Group of each row, from 0, none left out.
    variance : float
        Between the groups, of the log outcome.
    """

    group: NDArray[np.int64]
    variance: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Columns:
    """Columns as they are, and their means over clusters.

    Attributes
    ----------
    every : sparse, (n, p)
        First t targets, then k dense columns, then a column a group.
    mean : sparse, (c, p)
        Mean of each cluster.
    cluster : ndarray of int64, (n,)
        Of each row.
    targets, dense : int
        t and t + k.
    widths : tuple of int
        Groups of each grouping.
    """

    every: sparse.csr_array
    mean: sparse.csr_array
    cluster: NDArray[np.int64]
    targets: int
    dense: int
    widths: tuple[int, ...]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Solved:
    """What is left of the targets.

    Attributes
    ----------
    left : ndarray of float64, (t, t)
        Products of what is left of them.
    rank : int
        Of the columns taken out.
    effects : ndarray of float64, (p - t, t)
        Coefficient of each column.
    """

    left: NDArray[np.float64]
    rank: int
    effects: NDArray[np.float64]


def are_many(rows: int, groups: int) -> bool:
    """Tell whether columns of that size are not to be written out.

    Examples
    --------
    >>> are_many(200, 40), are_many(2_000, 400)
    (False, True)
    """
    return rows * groups > MANY


def _laid(
    targets: NDArray[np.float64],
    dense: NDArray[np.float64],
    groups: Sequence[NDArray[np.int64]],
    cluster: NDArray[np.int64],
) -> _Columns:
    """Put targets, dense columns and groups side by side."""
    n = len(cluster)
    rows = np.arange(n)
    ones = [
        sparse.csr_array((np.ones(n), (rows, group)), shape=(n, int(group.max()) + 1))
        for group in groups
    ]
    plain = sparse.csr_array(np.column_stack([targets, dense]))
    every = sparse.csr_array(sparse.hstack([plain, *ones]))
    count = np.bincount(cluster).astype(np.float64)
    home = sparse.csr_array((1.0 / count[cluster], (cluster, rows)))
    return _Columns(
        every=every,
        mean=sparse.csr_array(home @ every),
        cluster=cluster,
        targets=targets.shape[1],
        dense=targets.shape[1] + dense.shape[1],
        widths=tuple(one.shape[1] for one in ones),
    )


def _products(
    columns: _Columns, inside: float, of_means: NDArray[np.float64]
) -> sparse.csr_array:
    """Return ``inside D'D + M' diag(of_means) M``.

    D are the columns less their clusters' means, M these means. The differences are
    taken before they are multiplied: afterwards little would be left of their digits.
    """
    scaled = sparse.diags_array(of_means) @ columns.mean
    found = sparse.csr_array(columns.mean.T @ scaled)
    if inside:
        apart = columns.every - columns.mean[columns.cluster]
        found = found + inside * (apart.T @ apart)
    return sparse.csr_array(found)


def _solve(
    columns: _Columns,
    products: sparse.csr_array,
    size: NDArray[np.float64],
    penalty: NDArray[np.float64] | None = None,
) -> _Solved:
    """Take all columns but the targets out of the targets.

    `size` is the square of each column before anything was taken off it: what is next
    to nothing beside it is rounding.
    """
    t, p = columns.targets, products.shape[0]
    given = np.zeros(p) if penalty is None else np.concatenate([np.zeros(t), penalty])
    diagonal = products.diagonal() + given
    alone = _alone(columns, products, size)
    rest = np.setdiff1d(np.arange(t, p), alone)
    rest = rest[diagonal[rest] > TOLD * size[rest]]
    both = np.concatenate([np.arange(t), rest])
    square = products[both][:, both].toarray()
    square[np.arange(len(both)), np.arange(len(both))] += given[both]
    used = alone[diagonal[alone] > TOLD * size[alone]]
    beside = sparse.csr_array(products[used][:, both])
    share = sparse.diags_array(1.0 / diagonal[used]) @ beside
    square -= (beside.T @ share).toarray()
    scale = 1.0 / np.sqrt(size[rest])
    inner = square[t:, t:] * scale[:, None] * scale
    factor, order, rank, _ = lapack.dpstrf(inner, tol=TOLD, lower=1)
    if not inner.diagonal().max(initial=0.0) > TOLD:  # the first is never refused
        rank = 0
    chosen = order[:rank] - 1
    lower = np.tril(factor[:rank, :rank])
    right = square[t:, :t][chosen] * scale[chosen][:, None]
    half = solve_triangular(lower, right, lower=True) if rank else right
    effects = np.zeros((p - t, t))
    if rank:
        found = solve_triangular(lower, half, lower=True, trans="T")
        effects[rest[chosen] - t] = found * scale[chosen][:, None]
    known = share.toarray()
    effects[used - t] = known[:, :t] - known[:, t:] @ effects[rest - t]
    return _Solved(
        left=square[:t, :t] - half.T @ half, rank=rank + len(used), effects=effects
    )


def _alone(
    columns: _Columns,
    products: sparse.csr_array,
    size: NDArray[np.float64],
) -> NDArray[np.int64]:
    """Return the columns of the largest grouping no two groups of which meet."""
    found = np.zeros(0, dtype=np.int64)
    start = columns.dense
    for width in columns.widths:
        its = np.arange(start, start + width)
        block = products[its][:, its]
        off = abs(block).sum(axis=1) - abs(block.diagonal())
        if width > len(found) and bool((off <= TOLD * size[its]).all()):
            found = its
        start += width
    return found


def _sizes(columns: sparse.csr_array) -> NDArray[np.float64]:
    """Return the square of each column."""
    squares = np.asarray((columns**2).sum(axis=0), dtype=np.float64).ravel()
    return np.maximum(squares, 1e-300)


def squares_inside(
    y: NDArray[np.float64],
    dense: NDArray[np.float64],
    groups: Sequence[NDArray[np.int64]],
    cluster: NDArray[np.int64],
) -> tuple[float, int]:
    """Return the squares that columns and groups leave of y inside clusters, the rank.

    Parameters
    ----------
    y : ndarray of float64, (n,)
        Outcome.
    dense : ndarray of float64, (n, k)
        Columns.
    groups : sequence of ndarray of int64, (n,)
        Group of each row, for each grouping.
    cluster : ndarray of int64, (n,)
        Whose means are taken off everything.

    Examples
    --------
    >>> form = np.array([0, 1, 0, 1])
    >>> pour = np.array([0, 0, 1, 1])
    >>> y = np.array([1.0, 2, 3, 5])
    >>> left, rank = squares_inside(y, np.ones((4, 1)), [form], pour)
    >>> round(left, 6), rank
    (0.25, 1)
    """
    columns = _laid(y[:, None], dense, groups, cluster)
    products = _products(columns, 1.0, np.zeros(columns.mean.shape[0]))
    found = _solve(columns, products, _sizes(columns.every))
    return max(float(found.left[0, 0]), 0.0), found.rank


class BetweenMeans:
    """Squares that columns and groups leave of the means of clusters, by weight.

    Parameters
    ----------
    y, dense, groups, cluster
        As for `squares_inside`.
    """

    def __init__(
        self,
        y: NDArray[np.float64],
        dense: NDArray[np.float64],
        groups: Sequence[NDArray[np.int64]],
        cluster: NDArray[np.int64],
    ) -> None:
        """Sort the columns once."""
        self._columns = _laid(y[:, None], dense, groups, cluster)

    def squares(self, weight: NDArray[np.float64]) -> tuple[float, int]:
        """Return the squares left at the weight of each cluster, and the rank."""
        columns = self._columns
        size = np.asarray((columns.mean**2).T @ weight, dtype=np.float64)
        found = _solve(
            columns, _products(columns, 0.0, weight), np.maximum(size, 1e-300)
        )
        return max(float(found.left[0, 0]), 0.0), found.rank


def groupings_of(
    y: NDArray[np.float64],
    groups: Sequence[NDArray[np.int64]],
    fixed: NDArray[np.float64],
    cluster: NDArray[np.int64],
) -> tuple[Grouping, ...]:
    """Return the groupings whose groups differ by more than chance.

    Parameters
    ----------
    y, fixed, cluster
        As for `group_variance_of_many`.
    groups : sequence of ndarray of int64, (n,)
        Of each grouping.

    Examples
    --------
    >>> form, pour = np.tile(np.arange(4), 6), np.arange(24) // 4
    >>> y = form + np.sin(np.arange(24.0)) / 5
    >>> len(groupings_of(y, [form], np.ones((24, 1)), pour))
    1
    """
    found = (
        Grouping(group=one, variance=group_variance_of_many(y, one, fixed, cluster))
        for one in groups
    )
    return tuple(one for one in found if one.variance > 0)


def group_variance_of_many(
    y: NDArray[np.float64],
    group: NDArray[np.int64],
    fixed: NDArray[np.float64],
    cluster: NDArray[np.int64],
) -> float:
    """Estimate the variance between many groups.

    As `analysis.compare.shrinkage.group_variance`, from the groups themselves.

    Parameters
    ----------
    y : ndarray of float64, (n,)
        Log outcome.
    group : ndarray of int64, (n,)
        From 0, none left out.
    fixed : ndarray of float64, (n, k)
        Columns taken out first; the first is the intercept.
    cluster : ndarray of int64, (n,)
        Pour.

    Examples
    --------
    >>> from analysis.compare.design import contrasts
    >>> from analysis.compare.shrinkage import group_variance
    >>> form, pour = np.tile(np.arange(4), 6), np.arange(24) // 4
    >>> y = np.array([0.0, 1, 2, 3])[form] + np.sin(np.arange(24.0)) / 5
    >>> fixed = np.ones((24, 1))
    >>> one = group_variance_of_many(y, form, fixed, pour)
    >>> bool(np.isclose(one, group_variance(y, contrasts(form), fixed, pour)))
    True
    """
    columns = _laid(y[:, None], fixed, [group], cluster)
    clusters = columns.mean.shape[0]
    sizes = _sizes(columns.every)
    products = _products(columns, 1.0, np.zeros(clusters))
    its = np.arange(columns.dense, products.shape[0])
    spread = _centred_trace(products[its][:, its])
    # The squares of contrasts are those of the groups' sizes about their mean.
    whole = float(sizes[its].sum()) * (1 - 1 / len(its))
    if spread > TOLD * max(whole, TOLD):
        rows, lost = len(y), clusters
    else:
        rows, lost = clusters, 0
        products = _products(columns, 0.0, np.ones(clusters))
        sizes = _sizes(columns.mean)
    left = _solve(columns, products, sizes)
    ahead = np.arange(columns.dense)
    alone = _Columns(
        every=columns.every[:, ahead],
        mean=columns.mean[:, ahead],
        cluster=cluster,
        targets=1,
        dense=columns.dense,
        widths=(),
    )
    before = _solve(alone, sparse.csr_array(products[ahead][:, ahead]), sizes[ahead])
    rank = left.rank - before.rank
    # What the fixed columns leave of the groups' own squares.
    beside = products[ahead[1:]][:, its].toarray()
    fixed_square = products[ahead[1:]][:, ahead[1:]].toarray()
    told = np.linalg.pinv(fixed_square, rcond=TOLD, hermitian=True) @ beside
    trace = _centred_trace(products[its][:, its]) - float((told * beside).sum())
    trace += float(told.sum(axis=1) @ beside.sum(axis=1)) / len(its)
    df = rows - lost - before.rank - rank
    if rank <= 0 or trace <= 0:
        return 0.0
    noise = max(float(left.left[0, 0]), 0.0) / df if df > 0 else 0.0
    explained = float(before.left[0, 0] - left.left[0, 0])
    return max((explained - rank * noise) / trace, 0.0)


def _centred_trace(square: sparse.csr_array) -> float:
    """Return the trace that products of groups have among contrasts."""
    return float(square.diagonal().sum() - square.sum() / square.shape[0])


def left_of(
    targets: NDArray[np.float64],
    dense: NDArray[np.float64],
    groupings: Sequence[Grouping],
    cluster: NDArray[np.int64],
    within: float,
    weight: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Return what generalised least squares leaves of some targets.

    Parameters
    ----------
    targets : ndarray of float64, (n, t)
        Columns to fit.
    dense : ndarray of float64, (n, k)
        Free columns; the first is the intercept.
    groupings : sequence of Grouping
        Random effects.
    cluster : ndarray of int64, (n,)
        Pour.
    within : float
        Variance between pieces of a pour.
    weight : ndarray of float64, (c,)
        Precision of each pour's mean; 0 where only its inside speaks.

    Returns
    -------
    ndarray of float64, (n, t)
        Targets less their fit.
    """
    columns = _laid(targets, dense, [one.group for one in groupings], cluster)
    free = np.zeros(dense.shape[1])
    penalty = [
        np.full(width, 1.0 / one.variance)
        for width, one in zip(columns.widths, groupings, strict=True)
    ]
    solved = _solve(
        columns,
        _products(columns, 1.0 / within, weight),
        _sizes(columns.every) / within,
        np.concatenate([free, *penalty]),
    )
    fitted = columns.every[:, columns.targets :] @ solved.effects
    return np.asarray(targets - fitted, dtype=np.float64)


def share_explained(
    x: NDArray[np.float64], group: NDArray[np.int64], home: NDArray[np.int64]
) -> tuple[float, int]:
    """Return the share of x's spread inside homes that groups explain, and their rank.

    Examples
    --------
    >>> x, form = np.array([1.0, 0, 1, 0]), np.array([0, 1, 0, 1])
    >>> share_explained(x, form, np.zeros(4, dtype=np.int64))
    (1.0, 1)
    """
    mean = np.bincount(home, x) / np.bincount(home)
    total = float(((x - mean[home]) ** 2).sum())
    left, rank = squares_inside(x, np.zeros((len(x), 0)), [group], home)
    return 1 - left / total, rank
