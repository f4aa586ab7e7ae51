"""Groupings of hundreds of forms or days, taken out without a column for each group.

The answers are those of `analysis.compare.gls` and `analysis.compare.shrinkage` with
contrasts of the groups as columns: a random effect of all groups spans the intercept
too, which is free and takes that part over.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse

from analysis.compare.group_columns import (
    TOLD,
    Columns,
    laid,
    products_of,
    sizes_of,
    solve,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

# Numbers in the columns of groups from which they are not written out.
MANY = 200_000


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


def are_many(rows: int, groups: int) -> bool:
    """Tell whether columns of that size are not to be written out.

    Examples
    --------
    >>> are_many(200, 40), are_many(2_000, 400)
    (False, True)
    """
    return rows * groups > MANY


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
    columns = laid(y[:, None], dense, groups, cluster)
    products = products_of(columns, 1.0, np.zeros(columns.mean.shape[0]))
    found = solve(columns, products, sizes_of(columns.every))
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
        self._columns = laid(y[:, None], dense, groups, cluster)

    def squares(self, weight: NDArray[np.float64]) -> tuple[float, int]:
        """Return the squares left at the weight of each cluster, and the rank."""
        columns = self._columns
        size = np.asarray((columns.mean**2).T @ weight, dtype=np.float64)
        found = solve(
            columns, products_of(columns, 0.0, weight), np.maximum(size, 1e-300)
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
    columns = laid(y[:, None], fixed, [group], cluster)
    clusters = columns.mean.shape[0]
    sizes = sizes_of(columns.every)
    products = products_of(columns, 1.0, np.zeros(clusters))
    its = np.arange(columns.dense, products.shape[0])
    # Contrasts are an orthonormal basis of what the centring matrix C keeps: the trace
    # of their products is that of C A C, which follows from sums of A alone.
    spread = _centred_trace(products[its][:, its])
    # The squares of contrasts are those of the groups' sizes about their mean.
    whole = float(sizes[its].sum()) * (1 - 1 / len(its))
    if spread > TOLD * max(whole, TOLD):
        rows, lost = len(y), clusters
    else:
        rows, lost = clusters, 0
        products = products_of(columns, 0.0, np.ones(clusters))
        sizes = sizes_of(columns.mean)
    left = solve(columns, products, sizes)
    ahead = np.arange(columns.dense)
    alone = Columns(
        every=columns.every[:, ahead],
        mean=columns.mean[:, ahead],
        cluster=cluster,
        targets=1,
        dense=columns.dense,
        widths=(),
    )
    before = solve(alone, sparse.csr_array(products[ahead][:, ahead]), sizes[ahead])
    rank = left.rank - before.rank
    # What the fixed columns leave of the groups' own squares.
    # B'F^-1 B for B the products with the fixed columns F, its trace centred likewise.
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
    columns = laid(targets, dense, [one.group for one in groupings], cluster)
    free = np.zeros(dense.shape[1])
    penalty = [
        np.full(width, 1.0 / one.variance)
        for width, one in zip(columns.widths, groupings, strict=True)
    ]
    solved = solve(
        columns,
        products_of(columns, 1.0 / within, weight),
        sizes_of(columns.every) / within,
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
