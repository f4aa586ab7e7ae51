"""From pieces in pours to units that can be rearranged.

A pour that holds one level is one unit; in a pour that holds both, its pieces are
the units, compared inside that pour. The weights are those of generalised least
squares with a random pour effect; its variances are found without looking at which
unit got which level, so that rearranging the levels stays an exact test.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import optimize, stats

if TYPE_CHECKING:
    from numpy.typing import NDArray

TINY = 1e-9


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
        What is rearranged: single-level pours, pieces of mixed pours.
    block : ndarray of int64, (n,)
        Units change levels only inside their block.
    nuisance : ndarray of float64, (n, k)
        Columns whose effect is taken out; the first is the intercept.
    kept : ndarray of bool, (rows given,)
        Which of the given rows are here.
    """

    y: NDArray[np.float64]
    x: NDArray[np.float64]
    cluster: NDArray[np.int64]
    mixed: NDArray[np.bool_]
    unit: NDArray[np.int64]
    block: NDArray[np.int64]
    nuisance: NDArray[np.float64]
    kept: NDArray[np.bool_]

    def __len__(self) -> int:
        """Count the rows."""
        return len(self.y)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Generalised least squares at the units, ready for rearranging.

    Attributes
    ----------
    score : ndarray of float64, (u,)
        What each unit adds to the statistic when it holds the first level.
    own : ndarray of float64, (u,)
        The same for the level column itself.
    x : ndarray of float64, (u,)
        Level of each unit as cast.
    block : ndarray of int64, (u,)
        Block of each unit.
    log_ratio, information : float
        Estimate, and its precision in units of 1 / `scale`.
    standard_error, df : float
        Of the estimate, from the spread between units; 0 and 0 if unknown.
    variance_between, variance_within : float
        Of the log outcome: between pours, and between pieces of a pour.
    design : Design
        What was fitted.
    pour_weight, piece_variance, inverse_nuisance, weighted_nuisance
        Parts of the solution, for `unit_matrix`.
    """

    score: NDArray[np.float64]
    own: NDArray[np.float64]
    x: NDArray[np.float64]
    block: NDArray[np.int64]
    log_ratio: float
    information: float
    standard_error: float
    df: float
    variance_between: float
    variance_within: float
    design: Design
    pour_weight: NDArray[np.float64]
    piece_variance: float
    inverse_nuisance: NDArray[np.float64]
    weighted_nuisance: NDArray[np.float64]


def _codes(*columns: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give each distinct combination of integer columns a number from 0."""
    code = columns[0]
    for column in columns[1:]:
        code = code * (int(column.max(initial=0)) + 1) + column
    _, inverse = np.unique(code, return_inverse=True)
    numbered: NDArray[np.int64] = inverse.astype(np.int64).reshape(-1)
    return numbered


def _means(
    values: NDArray[np.float64], group: NDArray[np.int64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the mean of each group, by row of `values`, and its count."""
    count = np.bincount(group).astype(np.float64)
    columns = values.reshape(len(group), -1)
    total = np.column_stack(
        [np.bincount(group, column, len(count)) for column in columns.T]
    )
    mean = total / np.maximum(count, 1)[:, None]
    return mean.reshape(-1, *values.shape[1:]), count


def _both_levels(x: NDArray[np.float64], group: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell for each row whether its group holds both levels."""
    mean, _ = _means(x, group)
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
    cluster = _codes(np.where(mixed, stratum + 1, 0), pour) if n else pour
    shared = int(stratum.max(initial=0)) + 1
    block = shared + cluster
    if (~mixed).any():
        pure = _single_blocks(cluster[~mixed], stratum[~mixed])
        block[~mixed] = 0 if pure is None else pure
    kept = _both_levels(x, _codes(block)) if n else np.zeros(0, dtype=bool)
    y, x, cluster, mixed, block, strata = (
        a[kept] for a in (y, x, cluster, mixed, block, stratum)
    )
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
            kept=kept,
        )
    cluster, block = _codes(cluster), _codes(block)
    within = np.where(mixed, np.arange(1, len(y) + 1), 0)
    columns = [np.ones(len(y))]
    columns += [(strata == s).astype(float) for s in np.unique(strata)[1:]]
    if covariates is not None:
        columns += list(covariates[kept].T)
    return Design(
        y=y,
        x=x,
        cluster=cluster,
        mixed=mixed,
        unit=_codes(cluster, within.astype(np.int64)),
        block=block,
        nuisance=_independent(np.column_stack(columns)),
        kept=kept,
    )


def _independent(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """Drop columns that the ones before them already hold."""
    chosen: list[NDArray[np.float64]] = []
    basis: list[NDArray[np.float64]] = []
    for column in matrix.T:
        rest = column.astype(np.float64)
        for _ in range(2):
            for direction in basis:
                rest = rest - direction * (direction @ rest)
        length = float(np.linalg.norm(rest))
        if length > 1e-8 * max(float(np.linalg.norm(column)), TINY):
            basis.append(rest / length)
            chosen.append(column)
    return np.column_stack(chosen)


def _rank(matrix: NDArray[np.float64]) -> int:
    return int(np.linalg.matrix_rank(matrix, tol=1e-8)) if matrix.size else 0


def _residual(
    y: NDArray[np.float64], z: NDArray[np.float64]
) -> tuple[NDArray[np.float64], int]:
    """Return what least squares on `z` leaves of `y`, and the rank of `z`."""
    if not z.size:
        return y, 0
    solution, _, rank, _ = np.linalg.lstsq(z, y, rcond=1e-9)
    return y - z @ solution, int(rank)


def _variance_within(design: Design) -> float:
    """Variance between pieces of a pour, blind to the levels."""
    both = np.column_stack([design.y, design.nuisance[:, 1:]])
    mean, count = _means(both, design.cluster)
    rest = both - mean[design.cluster]
    residual, rank = _residual(rest[:, 0], rest[:, 1:])
    df = len(design) - len(count) - rank
    return float(residual @ residual) / df if df > 0 else 0.0


def _variance_between(design: Design, within: float) -> float:
    """Variance between single-level pours, blind to the levels.

    The value at which the weighted squares about the weighted mean equal their
    degrees of freedom (Paule and Mandel's equation).
    """
    rows = ~design.mixed
    if not rows.any():
        return 0.0
    cluster = _codes(design.cluster[rows])
    both = np.column_stack([design.y[rows], design.nuisance[rows]])
    mean, count = _means(both, cluster)
    y, z = mean[:, 0], mean[:, 1:]

    def excess(between: float) -> float:
        root = np.sqrt(1.0 / (between + within / count))
        residual, rank = _residual(y * root, z * root[:, None])
        df = len(y) - rank
        return float(residual @ residual) - df if df > 0 else -1.0

    start = max(within * 1e-6, TINY * float(np.var(y)), 1e-300)
    if excess(start) <= 0:
        return 0.0
    high = max(start, float(np.var(y))) * 2 + start
    while excess(high) > 0:
        high *= 4
    return float(optimize.brentq(excess, start, high, xtol=1e-12, rtol=1e-6))


def _spread(
    design: Design,
    residual: NDArray[np.float64],
    within: float,
    weight: NDArray[np.float64],
    parts: tuple[float, float],
) -> tuple[float, float]:
    """Return standard error and degrees of freedom of the estimate.

    `parts` is how much information comes from between and from within pours; each
    has its own spread, joined by Satterthwaite's rule.
    """
    mean, count = _means(residual, design.cluster)
    mixed = _means(design.mixed.astype(float), design.cluster)[0] > 0
    blocks = len(np.unique(design.block[~design.mixed]))
    pour_columns = _means(design.nuisance, design.cluster)[0][~mixed]
    fixed = _rank(pour_columns)
    df_between = int((~mixed).sum() - max(blocks, fixed) - 1)
    square_between = float((weight * mean**2)[~mixed].sum())
    inside = (residual - mean[design.cluster])[design.mixed]
    centred = (
        design.nuisance - _means(design.nuisance, design.cluster)[0][design.cluster]
    )
    extra = _rank(centred[design.mixed])
    df_within = int(count[mixed].sum() - mixed.sum() - 1 - extra)
    square_within = float(inside @ inside) / within
    variance = trust = 0.0
    total = sum(parts)
    for part, square, df in (
        (parts[0], square_between, df_between),
        (parts[1], square_within, df_within),
    ):
        if part <= TINY * total:
            continue
        if df < 1:
            return 0.0, 0.0
        own = part * (square / df) / total**2
        variance += own
        trust += own**2 / df
    if variance <= 0 or trust <= 0:
        return 0.0, 0.0
    return float(np.sqrt(variance)), variance**2 / trust


def fit(design: Design) -> Fit | None:
    """Estimate the log ratio; None where the data cannot carry one.

    Examples
    --------
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> y = np.array([0, 1, 2, 3, 2, 3, 4, 5.0])
    >>> rows = np.arange(8)
    >>> answer = fit(lay_out(y, x, rows, np.zeros(8, dtype=np.int64)))
    >>> round(answer.log_ratio, 6), answer.df
    (-2.0, 6.0)
    """
    if not len(design):
        return None
    within = _variance_within(design)
    between = _variance_between(design, within)
    size = within + between
    if size <= 0:
        size, within, between = 1.0, 0.5, 0.5
    within = max(within, 1e-6 * size)
    count = np.bincount(design.cluster).astype(np.float64)
    is_mixed = _means(design.mixed.astype(float), design.cluster)[0] > 0
    weight = np.where(is_mixed, 0.0, count / (within + count * between))
    keep = np.where(is_mixed, 1.0, count * between / (within + count * between))

    def weighted(columns: NDArray[np.float64]) -> NDArray[np.float64]:
        mean, _ = _means(columns, design.cluster)
        shift = mean * keep.reshape(-1, *[1] * (columns.ndim - 1))
        return np.asarray((columns - shift[design.cluster]) / within)

    z = design.nuisance
    weighted_z = weighted(z)
    inverse = np.linalg.pinv(z.T @ weighted_z, rcond=1e-10, hermitian=True)
    x_own = weighted(design.x)
    x_own = x_own - weighted_z @ (inverse @ (weighted_z.T @ design.x))
    y_own = weighted(design.y)
    y_own = y_own - weighted_z @ (inverse @ (weighted_z.T @ design.y))
    information = float(design.x @ x_own)
    raw = float(design.x @ weighted(design.x))
    if information <= 1e-6 * raw:
        return None
    log_ratio = float(x_own @ design.y) / information
    leftover = design.y - log_ratio * design.x
    leftover = leftover - z @ (inverse @ (weighted_z.T @ leftover))
    inside = x_own[design.mixed] @ design.x[design.mixed]
    parts = (max(information - float(inside), 0.0), max(float(inside), 0.0))
    error, df = _spread(design, leftover, within, weight, parts)
    units = int(design.unit.max()) + 1
    first = np.zeros(units, dtype=np.int64)
    first[design.unit] = np.arange(len(design))
    return Fit(
        score=np.bincount(design.unit, y_own, units),
        own=np.bincount(design.unit, x_own, units),
        x=design.x[first],
        block=design.block[first],
        log_ratio=log_ratio,
        information=information,
        standard_error=error,
        df=df,
        variance_between=between,
        variance_within=within if len(design) > len(count) else 0.0,
        design=design,
        pour_weight=weight,
        piece_variance=within,
        inverse_nuisance=inverse,
        weighted_nuisance=weighted_z,
    )


def unit_matrix(answer: Fit) -> NDArray[np.float64]:
    """Return the (u, u) matrix that gives the information of any arrangement.

    Examples
    --------
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> rows = np.arange(8)
    >>> answer = fit(lay_out(rows + x, x, rows, np.zeros(8, dtype=np.int64)))
    >>> bool(np.isclose(x @ unit_matrix(answer) @ x, answer.information))
    True
    """
    design = answer.design
    units = len(answer.x)
    columns = np.column_stack(
        [np.bincount(design.unit, z, units) for z in answer.weighted_nuisance.T]
    )
    matrix = -columns @ answer.inverse_nuisance @ columns.T
    home = np.zeros(units, dtype=np.int64)
    home[design.unit] = design.cluster
    is_piece = np.zeros(units, dtype=bool)
    is_piece[design.unit] = design.mixed
    count = np.bincount(design.cluster).astype(np.float64)[home]
    same = (home[:, None] == home[None, :]) & is_piece[:, None]
    matrix -= np.where(same, 1 / count[:, None], 0.0) / answer.piece_variance
    diagonal = np.where(is_piece, 1 / answer.piece_variance, answer.pour_weight[home])
    matrix[np.diag_indices(units)] += diagonal
    return np.asarray(matrix)


def t_interval(answer: Fit, level: float = 0.95) -> tuple[float, float] | None:
    """Return the interval of the log ratio by Student's t, None if there is none.

    Examples
    --------
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> y = np.array([0, 1, 2, 3, 2, 3, 4, 5.0])
    >>> rows = np.arange(8)
    >>> answer = fit(lay_out(y, x, rows, np.zeros(8, dtype=np.int64)))
    >>> low, high = t_interval(answer)
    >>> round(low, 3), round(high, 3)
    (-4.234, 0.234)
    """
    if answer.standard_error <= 0:
        return None
    reach = float(stats.t.ppf(0.5 + level / 2, answer.df)) * answer.standard_error
    return answer.log_ratio - reach, answer.log_ratio + reach


def t_p_value(answer: Fit) -> float | None:
    """Return the two-sided p of the log ratio by Student's t.

    Examples
    --------
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> y = np.array([0, 1, 2, 3, 2, 3, 4, 5.0])
    >>> rows = np.arange(8)
    >>> answer = fit(lay_out(y, x, rows, np.zeros(8, dtype=np.int64)))
    >>> round(t_p_value(answer), 4)
    0.071
    """
    if answer.standard_error <= 0:
        return None
    return 2 * float(
        stats.t.sf(abs(answer.log_ratio) / answer.standard_error, answer.df)
    )
