"""Columns of many groups, kept sparse, and what they leave of a few others.

What least squares leaves depends on the products of the columns alone, and those of a
grouping are counts: how many pieces a group has, and how many of them in each pour.
Groups no two of which meet (days, each pour being of one) are eliminated one by one,
and only the others are solved for together.
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


# Part of a column's own square below which it is told by the others.
TOLD = 1e-10


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Columns:
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
class Solved:
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


def laid(
    targets: NDArray[np.float64],
    dense: NDArray[np.float64],
    groups: Sequence[NDArray[np.int64]],
    cluster: NDArray[np.int64],
) -> Columns:
    """Put targets, dense columns and groups side by side."""
    n = len(cluster)
    widths = tuple(int(group.max()) + 1 for group in groups)
    plain = np.column_stack([targets, dense])
    # Each row holds the plain columns and a one for each grouping.
    cells = np.column_stack([plain, np.ones((n, len(groups)))])
    at = np.empty(cells.shape, dtype=np.int32)
    at[:, : plain.shape[1]] = np.arange(plain.shape[1])
    start = plain.shape[1]
    for place, (group, width) in enumerate(zip(groups, widths, strict=True)):
        at[:, plain.shape[1] + place] = start + group
        start += width
    # The csr arrays written directly: every row has as many cells.
    ends = np.arange(0, cells.size + 1, cells.shape[1], dtype=np.int32)
    every = sparse.csr_array((cells.ravel(), at.ravel(), ends), shape=(n, start))
    every.eliminate_zeros()
    count = np.bincount(cluster).astype(np.float64)
    at_home = cluster.astype(np.int32), np.arange(n, dtype=np.int32)
    # A (c, n) matrix with 1 / count in each row's place averages over clusters.
    mean = sparse.csr_array((1.0 / count[cluster], at_home)) @ every
    mean.sort_indices()  # else what is taken off `every` takes three times as long
    return Columns(
        every=every,
        mean=mean,
        cluster=cluster,
        targets=targets.shape[1],
        dense=targets.shape[1] + dense.shape[1],
        widths=widths,
    )


def products_of(
    columns: Columns, inside: float, of_means: NDArray[np.float64]
) -> sparse.csr_array:
    """Return ``inside D'D + M' diag(of_means) M``.

    D are the columns less their clusters' means, M these means. The differences are
    taken before they are multiplied: afterwards little would be left of their digits.
    """
    parts = []
    if of_means.any():
        mean = columns.mean
        scaled = mean.copy()
        scaled.data *= np.repeat(of_means, np.diff(mean.indptr))
        parts.append(mean.T @ scaled)
    if inside:
        apart = columns.every - columns.mean[columns.cluster]
        parts.append(inside * (apart.T @ apart))
    return sparse.csr_array(sum(parts[1:], parts[0]))


def solve(
    columns: Columns,
    products: sparse.csr_array,
    size: NDArray[np.float64],
    penalty: NDArray[np.float64] | None = None,
) -> Solved:
    """Take all columns but the targets out of the targets.

    `size` is the square of each column before anything was taken off it: what is next
    to nothing beside it is rounding.
    """
    t, p = columns.targets, products.shape[0]
    given = np.zeros(p) if penalty is None else np.concatenate([np.zeros(t), penalty])
    diagonal = products.diagonal() + given
    alone = _alone(columns, products, size)
    others = diagonal > TOLD * size
    others[:t] = others[alone] = False
    rest = np.flatnonzero(others)
    both = np.concatenate([np.arange(t), rest])
    square = products[both][:, both].toarray()
    square[np.arange(len(both)), np.arange(len(both))] += given[both]
    # Schur complement: groups that never meet have a diagonal block, so that
    # eliminating them is one sparse product. Columns of mere rounding are not used.
    used = alone[diagonal[alone] > TOLD * size[alone]]
    beside = sparse.csr_array(products[used][:, both])
    share = sparse.diags_array(1.0 / diagonal[used]) @ beside
    square -= (beside.T @ share).toarray()
    # Pivoted Cholesky takes the column with most left each time and stops where all are
    # told: that is the rank. Scaled by the sizes before anything was taken off, one
    # tolerance does for all.
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
    # Back-substitution: the eliminated groups from the targets and the others.
    known = share.toarray()
    effects[used - t] = known[:, :t] - known[:, t:] @ effects[rest - t]
    return Solved(
        left=square[:t, :t] - half.T @ half, rank=rank + len(used), effects=effects
    )


def _alone(
    columns: Columns,
    products: sparse.csr_array,
    size: NDArray[np.float64],
) -> NDArray[np.int64]:
    """Return the columns of the largest grouping no two groups of which meet."""
    found = np.zeros(0, dtype=np.int64)
    start = columns.dense
    for width in columns.widths:
        its = np.arange(start, start + width)
        block = products[its][:, its]
        # Nothing off the diagonal of their products: no two of the groups meet.
        off = abs(block).sum(axis=1) - abs(block.diagonal())
        if width > len(found) and bool((off <= TOLD * size[its]).all()):
            found = its
        start += width
    return found


def sizes_of(columns: sparse.csr_array) -> NDArray[np.float64]:
    """Return the square of each column."""
    squares = np.asarray((columns**2).sum(axis=0), dtype=np.float64).ravel()
    return np.maximum(squares, 1e-300)
