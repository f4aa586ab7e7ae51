"""Estimate and test of one pair of levels, at what they were assigned to."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.case import covariates_of
from analysis.compare.design import UNITS_UP_TO, lay_out
from analysis.compare.few_voids import SHARES, areas_of
from analysis.compare.gls import fit
from analysis.compare.permutation import permutation_test
from analysis.compare.robust import robust_t
from analysis.compare.shares import mean_ratio
from analysis.distributions import t_ppf

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.compare.alongside import Beside
    from analysis.compare.case import Case
    from analysis.compare.design import Apart, Design
    from analysis.compare.gls import Fit
    from analysis.compare.permutation import TestResult

WIDE = 0.97  # of the limit, where many faces are clean
MANY_CLEAN = 0.1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Examined:
    """What one way of looking at a pair says.

    Attributes
    ----------
    answer : Fit or None
        Of log shares; None where the data cannot carry one.
    test : TestResult or None
        Of the levels.
    used : ndarray of bool, (n,)
        Pieces that have something to be compared with.
    """

    answer: Fit | None
    test: TestResult | None
    used: NDArray[np.bool_]


def examine(case: Case, taken: Sequence[Beside]) -> Examined:
    """Estimate the log ratio and test it, with some settings taken out.

    Where groupings with one level in each group cross (forms of one level, cast in
    pours of one level), both are tested and the larger p stands.
    """
    covariates = covariates_of(case, taken)
    found = _one_way(case, case.cluster, case.assigned.apart, covariates)
    if found.answer is None or found.test is None:
        return found
    for other in case.assigned.crossing:
        again = _one_way(case, other.group, (), covariates)
        if again.test is None or again.test.p_value is None:
            return again
        if again.test.p_value > (found.test.p_value or 0.0):
            found = replace(found, test=again.test)
    return found


def _one_way(
    case: Case,
    cluster: NDArray[np.int64],
    apart: Sequence[Apart],
    covariates: NDArray[np.float64] | None,
) -> Examined:
    design = lay_out(case.y, case.x, cluster, case.stratum, covariates, apart)
    answer = fit(design)
    if answer is None:
        return Examined(answer=None, test=None, used=np.ones(len(case.x), dtype=bool))
    guard = covariates is not None or any(one.leans for one in apart)
    # Where logarithms lean (`few_voids`), shares over their mean are tested in their
    # place, with Student's t to agree; the fit of logarithms is what is told.
    tested, counted = answer, guard
    if case.plain is not None:
        shares = lay_out(case.plain, case.x, cluster, case.stratum, covariates, apart)
        tested, counted = fit(shares) or answer, True
    test = permutation_test(tested, seed=case.options.seed, guard=counted)
    return Examined(answer=answer, test=test, used=design.kept)


def ratio_of_means(
    case: Case, found: Examined
) -> tuple[float | None, float | None, float | None]:
    """Return the ratio of area-weighted means with its 95 % limits, None if unknown.

    The standard error comes from the units; Student's t with the degrees of freedom
    that the comparison of logarithms has. The interval is never narrower than that
    one's, and agrees with the test about 1.
    """
    answer, used = found.answer, found.used
    amount = case.pieces.value * areas_of(case.pieces)
    first, second = (float(amount[used & (case.x == side)].sum()) for side in (1, 0))
    if answer is None or found.test is None or second <= 0:
        return None, None, None
    # No void on the first side: a ratio of 0 has no logarithm. Only its upper limit,
    # that of the test, means something.
    if first <= 0:
        high = found.test.high
        return 0.0, 0.0 if high is not None else None, exp_of(high)
    design = answer.design
    outcome_is_share = case.options.outcome in SHARES
    area = areas_of(case.pieces)[used] if outcome_is_share else np.ones(len(design))
    ratio = mean_ratio(
        case.pieces.value[used],
        area,
        design.x,
        design.block,
        design.unit,
        _free_columns(design),
    )
    if ratio is None:
        return exp_of(answer.log_ratio), exp_of(found.test.low), exp_of(found.test.high)
    half = _half_width(case, found, ratio.standard_error)
    if half is None:
        return exp_of(ratio.log_ratio), None, None
    low, high = ratio.log_ratio - half, ratio.log_ratio + half
    p = found.test.p_value
    if p is not None and p > 0.05:  # noqa: PLR2004  1 is not ruled out
        low, high = min(low, 0.0), max(high, 0.0)
    elif p is not None and ratio.log_ratio < 0:  # 1 is ruled out
        high = min(high, -1e-3)
    elif p is not None:
        low = max(low, 1e-3)
    return exp_of(ratio.log_ratio), exp_of(low), exp_of(high)


def _free_columns(design: Design) -> NDArray[np.float64] | None:
    """Return what is taken out freely, less what blocks hold already."""
    free = design.nuisance[:, design.penalty == 0][:, 1:]
    return free if free.shape[1] else None


def _half_width(case: Case, found: Examined, error: float) -> float | None:
    answer, test = found.answer, found.test
    if answer is None or test is None or answer.standard_error <= 0:
        return None
    robust = robust_t(answer) if len(answer.x) <= UNITS_UP_TO else None
    df = min(answer.df, robust.df) if robust else answer.df
    clean = float((case.pieces.value[found.used] <= 0).mean())
    # With many clean faces the interval of logarithms is no guide; limits of 97 %
    # instead of 95 % stand in for it.
    limit = 0.975 if clean <= MANY_CLEAN else 0.5 + WIDE / 2
    half = float(t_ppf(limit, max(df, 1.0))) * error
    if test.low is None or test.high is None:
        return half if robust is not None else None
    return max(half, (test.high - test.low) / 2) if clean <= MANY_CLEAN else half


def exp_of(value: float | None) -> float | None:
    """Return the exponential; None of what is not known.

    Examples
    --------
    >>> exp_of(0.0), exp_of(None)
    (1.0, None)
    """
    return None if value is None else float(np.exp(value))
