"""From pieces in pours to units that can be permuted.

A pour that holds one level is one unit; in a pour that holds both, its pieces are
the units, compared inside that pour. The weights are those of generalised least
squares with a random pour effect; its variances are found without looking at which
unit got which level, so that permuting the levels stays an exact test.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.many_groups import Grouping, are_many, groupings_of
from analysis.compare.shrinkage import group_variance

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

TINY = 1e-9
_SMALL = 20  # times as many possible codes as rows
UNITS_UP_TO = 300  # whose levels are permuted; more are tested by Student's t


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """Rows that inform the comparison, and how they hang together.

    Attributes
    ----------
    y : ndarray of float64, (n,)
        Outcome, natural logarithm.
    x : ndarray of float64, (n,)
        1 for the first level, 0 for the second.
    cluster : ndarray of int64, (n,)
        Pour; a pour with both levels counts once per stratum it holds.
    mixed : ndarray of bool, (n,)
        Whether the row's pour holds both levels.
    unit : ndarray of int64, (n,)
        What is permuted: single-level pours, pieces of mixed pours.
    block : ndarray of int64, (n,)
        Units change levels only inside their block.
    nuisance : ndarray of float64, (n, k)
        Columns whose effect is taken out; the first is the intercept.
    penalty : ndarray of float64, (k,)
        0 for a free column; 1 over the variance of its effect for a random one.
    kept : ndarray of bool, (rows given,)
        Which of the given rows are here.
    groupings : tuple of Grouping
        Random effects of so many groups that they are no columns of `nuisance`.
    """

    y: NDArray[np.float64]
    x: NDArray[np.float64]
    cluster: NDArray[np.int64]
    mixed: NDArray[np.bool_]
    unit: NDArray[np.int64]
    block: NDArray[np.int64]
    nuisance: NDArray[np.float64]
    penalty: NDArray[np.float64]
    kept: NDArray[np.bool_]
    groupings: tuple[Grouping, ...] = ()

    def __len__(self) -> int:
        """Count the rows."""
        return len(self.y)

    @property
    def plain(self) -> bool:
        """Whether nothing but the intercept is taken out."""
        return self.nuisance.shape[1] == 1 and not self.groupings


def codes(*columns: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give each distinct combination of integer columns a number from 0.

    Examples
    --------
    >>> codes(np.array([5, 5, 7]), np.array([0, 1, 0])).tolist()
    [0, 1, 2]
    """
    # Digits of a number of mixed base: distinct combinations get distinct codes.
    code = columns[0]
    for column in columns[1:]:
        code = code * (int(column.max(initial=0)) + 1) + column
    if len(code) and code.min() >= 0 and code.max() < _SMALL * len(code):
        used = np.zeros(int(code.max()) + 1, dtype=bool)
        used[code] = True  # sooner than sorting them
        return np.asarray((np.cumsum(used) - 1)[code], dtype=np.int64)
    _, inverse = np.unique(code, return_inverse=True)
    numbered: NDArray[np.int64] = inverse.astype(np.int64).reshape(-1)
    return numbered


def label_codes(cells: NDArray[np.str_]) -> NDArray[np.int64]:
    """Give each distinct word a number from 0.

    Examples
    --------
    >>> label_codes(np.array(["b", "a", "b"])).tolist()
    [1, 0, 1]
    """
    if one_word(cells):  # most columns of a log are, and blank
        return np.zeros(len(cells), dtype=np.int64)
    _, inverse = np.unique(cells, return_inverse=True)
    numbered: NDArray[np.int64] = inverse.astype(np.int64).reshape(-1)
    return numbered


def one_word(cells: NDArray[np.str_]) -> bool:
    """Tell whether a column holds one word only; sooner told than which words.

    Examples
    --------
    >>> one_word(np.array(["b", "b"])), one_word(np.array(["b", "a"]))
    (True, False)
    """
    return not len(cells) or bool((cells == cells[0]).all())


def means(
    values: NDArray[np.float64], group: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the mean of each group, column by column, and its count.

    Examples
    --------
    >>> mean, count = means(np.array([1.0, 3, 5]), np.array([0, 0, 1]))
    >>> mean.tolist(), count.tolist()
    ([2.0, 5.0], [2.0, 1.0])
    """
    count = np.bincount(group).astype(np.float64)
    columns = values[:, None] if values.ndim == 1 else values
    total = np.column_stack(
        [np.bincount(group, column, len(count)) for column in columns.T]
    )
    mean = total / np.maximum(count, 1)[:, None]
    return mean.reshape(-1, *values.shape[1:]), count


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Apart:
    """A grouping whose effect is taken out.

    Attributes
    ----------
    name : str
        ``form``, ``day`` or ``pour``.
    group : ndarray of int64, (n,)
        Group of each row.
    leans : bool
        The levels lean on it, so each group gets a free number of its own.
    """

    name: str
    group: NDArray[np.int64]
    leans: bool


def contrasts(group: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return columns that tell groups apart, none before the others.

    Examples
    --------
    >>> contrasts(np.array([0, 1, 2, 2])).shape
    (4, 2)
    """
    count = int(group.max(initial=0)) + 1
    # The centring matrix has one singular value of 0 (the mean) and ones else: its
    # other singular vectors are orthonormal and add up to 0. No group is the reference.
    centred = np.eye(count) - 1 / count
    basis = np.linalg.svd(centred)[0][:, : count - 1]
    return np.asarray(basis[group])


def _both_levels(x: NDArray[np.float64], group: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell for each row whether its group holds both levels."""
    mean, _ = means(x, group)
    inside = (mean > TINY) & (mean < 1 - TINY)
    return np.asarray(inside[group])


def _single_blocks(
    cluster: NDArray[np.int64], stratum: NDArray[np.int64]
) -> NDArray[np.int64] | None:
    """Return the stratum of each pour, None where pours hold several strata."""
    first = np.full(int(cluster.max()) + 1, -1, dtype=np.int64)
    first[cluster] = stratum
    return None if (first[cluster] != stratum).any() else stratum


def lay_out(
    y: NDArray[np.float64],
    x: NDArray[np.float64],
    pour: NDArray[np.int64],
    stratum: NDArray[np.int64],
    covariates: NDArray[np.float64] | None = None,
    apart: Sequence[Apart] = (),
) -> Design:
    """Sort rows into units and blocks; drop rows with nothing to compare with.

    Parameters
    ----------
    y : ndarray of float64, (n,)
        Log outcome.
    x : ndarray of float64, (n,)
        1 or 0.
    pour, stratum : ndarray of int64, (n,)
        Codes from 0.
    covariates : ndarray of float64, (n, k), optional
        Further columns to take out.
    apart : sequence of Apart
        Groupings whose effects are taken out: freely where the levels lean on them,
        else as random ones.

    Returns
    -------
    Design
        May be empty.

    Examples
    --------
    >>> pour = np.array([0, 0, 1, 1, 2, 2])
    >>> x = np.array([1.0, 1, 0, 0, 1, 0])
    >>> design = lay_out(np.zeros(6), x, pour, np.zeros(6, dtype=np.int64))
    >>> design.unit.tolist(), design.mixed.tolist()
    ([0, 0, 1, 1, 2, 3], [False, False, False, False, True, True])
    """
    n = len(y)
    mixed = _both_levels(x, pour)
    cluster = codes(np.where(mixed, stratum + 1, 0), pour) if n else pour
    shared = int(stratum.max(initial=0)) + 1
    # A mixed pour is a block of its own, numbered past the strata. Single-level pours
    # of a stratum share a block; where one reaches over strata, all of them share one.
    block = shared + cluster
    if (~mixed).any():
        pure = _single_blocks(cluster[~mixed], stratum[~mixed])
        block[~mixed] = 0 if pure is None else pure
    kept = _both_levels(x, codes(block)) if n else np.zeros(0, dtype=bool)
    y, x, mixed = y[kept], x[kept], mixed[kept]
    cluster, block, strata = cluster[kept], block[kept], stratum[kept]
    if not kept.any():
        empty = np.zeros(0, dtype=np.int64)
        return Design(
            y=y,
            x=x,
            cluster=empty,
            mixed=mixed,
            unit=empty,
            block=empty,
            nuisance=np.zeros((0, 1)),
            penalty=np.zeros(1),
            kept=kept,
        )
    cluster, block = codes(cluster), codes(block)
    # Pieces of a mixed pour are units each; 0 leaves a single-level pour one unit.
    within = np.where(mixed, np.arange(1, len(y) + 1), 0)
    columns = [np.ones(len(y))]
    columns += [(strata == s).astype(float) for s in np.unique(strata)[1:]]
    if covariates is not None:
        columns += list(covariates[kept].T)
    groups = [(one.leans, codes(one.group[kept])) for one in apart]
    for leans, group in groups:
        columns += list(contrasts(group).T) if leans else []
    nuisance = _independent(np.column_stack(columns))
    free = nuisance.shape[1]
    penalty = np.zeros(free)
    random = [group for leans, group in groups if not leans and group.any()]
    unit = codes(cluster, within.astype(np.int64))
    groupings: tuple[Grouping, ...] = ()
    # Where levels are permuted, every column is needed; with so few units they are few.
    if int(unit.max()) >= UNITS_UP_TO and are_many(len(y), _count(random)):
        groupings = groupings_of(y, random, nuisance, cluster)
        random = []
    for group in random:
        own = contrasts(group)
        variance = group_variance(y, own, nuisance[:, :free], cluster)
        if variance > 0:
            nuisance = np.column_stack([nuisance, own])
            penalty = np.append(penalty, np.full(own.shape[1], 1 / variance))
    return Design(
        y=y,
        x=x,
        cluster=cluster,
        mixed=mixed,
        unit=unit,
        block=block,
        nuisance=nuisance,
        penalty=penalty,
        kept=kept,
        groupings=groupings,
    )


def _count(groups: Sequence[NDArray[np.int64]]) -> int:
    """Count the groups of all groupings."""
    return sum(int(group.max()) + 1 for group in groups)


def _independent(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """Drop columns that the ones before them already hold."""
    if matrix.shape[1] == 1:
        return matrix
    chosen: list[NDArray[np.float64]] = []
    basis: list[NDArray[np.float64]] = []
    for column in matrix.T:
        # Gram and Schmidt, each column twice: once leaves rounding where columns are
        # nearly dependent, twice is enough (Kahan's rule, from memory).
        rest = column.astype(np.float64)
        for _ in range(2):
            for direction in basis:
                rest = rest - direction * (direction @ rest)
        length = float(np.linalg.norm(rest))
        if length > 1e-8 * max(float(np.linalg.norm(column)), TINY):
            basis.append(rest / length)
            chosen.append(column)
    return np.column_stack(chosen)
