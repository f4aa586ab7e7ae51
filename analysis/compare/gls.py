"""Generalised least squares with a random pour effect, ready for permuting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from analysis.compare.design import TINY, codes, means
from analysis.compare.many_groups import BetweenMeans, left_of, squares_inside
from analysis.compare.pour_variances import variance_between, variance_within

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analysis.compare.design import Design


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Fit:
    """Generalised least squares at the units, ready for permuting.

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
        Parts of the solution, for `information_of`.
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


def _rank(matrix: NDArray[np.float64]) -> int:
    return int(np.linalg.matrix_rank(matrix, tol=1e-8)) if matrix.size else 0


def _totals(
    values: NDArray[np.float64], group: NDArray[np.int64], groups: int
) -> NDArray[np.float64]:
    """Add up the values of each group."""
    return np.asarray(np.bincount(group, values, groups), dtype=np.float64)


def _ranks(design: Design, mixed: NDArray[np.bool_]) -> tuple[int, int]:
    """Return the rank of what is taken out between pours, and inside mixed ones."""
    if design.groupings:
        own = [
            ([codes(one.group[rows]) for one in design.groupings], rows)
            for rows in (~design.mixed, design.mixed)
        ]
        between = inside = 0
        (groups, rows), (others, pieces) = own
        if rows.any():
            cluster = codes(design.cluster[rows])
            ones = np.ones(int(cluster.max()) + 1)
            between = BetweenMeans(
                design.y[rows], design.nuisance[rows], groups, cluster
            ).squares(ones)[1]
        if pieces.any():
            inside = squares_inside(
                design.y[pieces],
                design.nuisance[pieces],
                others,
                codes(design.cluster[pieces]),
            )[1]
        return between, inside
    mean = means(design.nuisance, design.cluster)[0]
    centred = design.nuisance - mean[design.cluster]
    return _rank(mean[~mixed]), _rank(centred[design.mixed])


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
    mean, count = means(residual, design.cluster)
    mixed = means(design.mixed.astype(float), design.cluster)[0] > 0
    blocks = len(np.unique(design.block[~design.mixed]))
    fixed, extra = _ranks(design, mixed)
    # Each block of single-level pours has a mean of its own, unless the columns take
    # more; 1 more goes to the ratio.
    df_between = int((~mixed).sum() - max(blocks, fixed) - 1)
    square_between = float((weight * mean**2)[~mixed].sum())
    inside = (residual - mean[design.cluster])[design.mixed]
    df_within = int(count[mixed].sum() - mixed.sum() - 1 - extra)
    square_within = float(inside @ inside) / within
    # The estimate is the mean of one from between and one from within pours, weighed by
    # their information; so are their variances, with squared weights.
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


class _TakenOut(NamedTuple):
    """Level and outcome with the nuisance taken out, and what that took.

    `left` returns what the fit leaves of each row at a log ratio; `inverse` and
    `weighted_z` are of the columns alone, without groupings.
    """

    x_own: NDArray[np.float64]
    y_own: NDArray[np.float64]
    left: Callable[[float], NDArray[np.float64]]
    inverse: NDArray[np.float64]
    weighted_z: NDArray[np.float64]


def _taken_out(
    design: Design,
    weighted: Callable[[NDArray[np.float64]], NDArray[np.float64]],
    within: float,
    weight: NDArray[np.float64],
) -> _TakenOut:
    """Take the nuisance out of level and outcome.

    With W the inverse covariance, Z the nuisance and D the penalty, both columns are
    multiplied by W - W Z (Z'WZ + D)^-1 Z'W: what the nuisance explains is taken out
    of them at once (Frisch, Waugh and Lovell), and a penalised column, a random
    effect, only in part. Columns may repeat each other, hence the pseudo-inverse.
    """
    x, y, z = design.x, design.y, design.nuisance
    weighted_z = weighted(z)
    inverse = np.asarray(
        np.linalg.pinv(
            z.T @ weighted_z + np.diag(design.penalty), rcond=1e-10, hermitian=True
        ),
        dtype=np.float64,
    )
    if design.groupings:
        x_left, y_left = left_of(
            np.column_stack([x, y]), z, design.groupings, design.cluster, within, weight
        ).T
        return _TakenOut(
            weighted(x_left),
            weighted(y_left),
            lambda log_ratio: np.asarray(y_left - log_ratio * x_left),
            inverse,
            weighted_z,
        )

    def left(log_ratio: float) -> NDArray[np.float64]:
        leftover = y - log_ratio * x
        return np.asarray(leftover - z @ (inverse @ (weighted_z.T @ leftover)))

    x_own = weighted(x)
    x_own = x_own - weighted_z @ (inverse @ (weighted_z.T @ x))
    y_own = weighted(y)
    y_own = y_own - weighted_z @ (inverse @ (weighted_z.T @ y))
    return _TakenOut(x_own, y_own, left, inverse, weighted_z)


def fit(design: Design) -> Fit | None:
    """Estimate the log ratio; None where the data cannot carry one.

    Examples
    --------
    >>> from analysis.compare.design import lay_out
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> y = np.array([0, 1, 2, 3, 2, 3, 4, 5.0])
    >>> rows = np.arange(8)
    >>> answer = fit(lay_out(y, x, rows, np.zeros(8, dtype=np.int64)))
    >>> round(answer.log_ratio, 6), answer.df
    (-2.0, 6.0)
    """
    if not len(design):
        return None
    within = variance_within(design)
    between = variance_between(design, within)
    size = within + between
    # Outcomes alike to the last digit: any finite weights give the same answer.
    if size <= TINY**2 * (1.0 + float(np.mean(design.y**2))):
        size, within, between = 1.0, 0.5, 0.5
    # One piece a pour leaves nothing inside, yet weights divide by it.
    within = max(within, 1e-6 * size)
    # The covariance of the n pieces of a pour is within I + between J (J of ones), and
    # its inverse (I - keep J / n) / within, keep = n between / (within + n between):
    # so weighting a column is taking a part of its pour's mean off, and no matrix is
    # inverted. A pour that holds both levels gives its whole mean up (keep of 1): only
    # differences inside it speak. `weight` is the precision of the other pours' means.
    count = np.bincount(design.cluster).astype(np.float64)
    is_mixed = means(design.mixed.astype(float), design.cluster)[0] > 0
    weight = np.where(is_mixed, 0.0, count / (within + count * between))
    keep = np.where(is_mixed, 1.0, count * between / (within + count * between))

    def weighted(columns: NDArray[np.float64]) -> NDArray[np.float64]:
        mean, _ = means(columns, design.cluster)
        shift = mean * keep.reshape(-1, *[1] * (columns.ndim - 1))
        return np.asarray((columns - shift[design.cluster]) / within)

    part = _taken_out(design, weighted, within, weight)
    x_own, y_own = part.x_own, part.y_own
    information = float(design.x @ x_own)
    raw = float(design.x @ weighted(design.x))
    # Next to nothing of the level is its own: the nuisance tells it already.
    if information <= 1e-6 * raw:
        return None
    log_ratio = float(x_own @ design.y) / information
    leftover = part.left(log_ratio)
    # Information is a sum over rows: those of mixed pours are what comes from inside.
    inside = x_own[design.mixed] @ design.x[design.mixed]
    parts = (max(information - float(inside), 0.0), max(float(inside), 0.0))
    error, df = _spread(design, leftover, within, weight, parts)
    # The estimate is a sum over rows: added up by unit once, every other dealing of the
    # levels to units costs one product (`permutation`).
    units = int(design.unit.max()) + 1
    first = np.zeros(units, dtype=np.int64)
    first[design.unit] = np.arange(len(design))
    return Fit(
        score=_totals(y_own, design.unit, units),
        own=_totals(x_own, design.unit, units),
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
        inverse_nuisance=part.inverse,
        weighted_nuisance=part.weighted_z,
    )


def information_of(answer: Fit, table: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the information of each arrangement, as `Fit.information` for the cast.

    Parameters
    ----------
    answer : Fit
        From `fit`.
    table : ndarray of float64, (m, u)
        Arrangements that keep each block's levels; pieces of a mixed pour then add
        the same in all of them.

    Returns
    -------
    ndarray of float64, (m,)
        0 or more.

    Examples
    --------
    >>> from analysis.compare.design import lay_out
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> rows = np.arange(8)
    >>> answer = fit(lay_out(rows + x, x, rows, np.zeros(8, dtype=np.int64)))
    >>> bool(np.isclose(information_of(answer, x[None])[0], answer.information))
    True
    """
    design = answer.design
    units = len(answer.x)
    home = np.zeros(units, dtype=np.int64)
    home[design.unit] = design.cluster
    pieces = design.x[design.mixed]
    firsts = _totals(pieces, design.cluster[design.mixed], len(answer.pour_weight))
    count = np.bincount(design.cluster)
    # x'Wx part by part, x being 0 or 1: a mixed pour adds its squares about its mean, a
    # single-level pour its weight, and the nuisance takes x'WZ (Z'WZ + D)^-1 Z'Wx away.
    inside = (pieces.sum() - (firsts**2 / count).sum()) / answer.piece_variance
    # W Z added up by unit, (u, k): times `table` it is Z'Wx of all m arrangements.
    columns = np.column_stack(
        [_totals(z, design.unit, units) for z in answer.weighted_nuisance.T]
    )
    taken = table @ columns
    lost = ((taken @ answer.inverse_nuisance) * taken).sum(axis=1)
    return np.asarray(np.maximum(table @ answer.pour_weight[home] + inside - lost, 0.0))
