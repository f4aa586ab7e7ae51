from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
import scipy.stats
import statsmodels.api as sm

from analysis.compare.design import codes, label_codes, lay_out
from analysis.compare.gls import fit, information_of
from analysis.compare.permutation import (
    EXACT_UP_TO,
    arrangements,
    n_arrangements,
    permutation_test,
)
from analysis.compare.student import t_interval, t_p_value


def none(n):
    return np.zeros(n, dtype=np.int64)


def nested(*, pours=10, most=6, mixed=False, seed=1, log_ratio=0.0):
    random = np.random.default_rng(seed)
    count = random.integers(2, most + 1, pours)
    pour = np.repeat(np.arange(pours), count)
    if mixed:
        x = np.concatenate([np.arange(n) % 2 for n in count]).astype(float)
    else:
        x = (pour % 2).astype(float)
    y = random.normal(0, 0.4, pours)[pour] + random.normal(0, 0.5, len(pour))
    return y + log_ratio * x, x, pour


def test_pours_in_one_stratum_without_the_other_level_drop_out():
    x = np.array([1.0, 0, 1, 0, 1])
    stratum = np.array([0, 0, 0, 0, 1])
    design = lay_out(np.arange(5.0), x, np.arange(5), stratum)
    assert design.kept.tolist() == [True] * 4 + [False]


def test_nothing_to_compare():
    design = lay_out(np.arange(3.0), np.ones(3), np.arange(3), none(3))
    assert len(design) == 0
    assert fit(design) is None


def test_pieces_of_mixed_pours_stay_in_their_stratum():
    x = np.array([1.0, 0, 1, 0])
    design = lay_out(np.arange(4.0), x, none(4), np.array([0, 0, 1, 1]))
    assert len(np.unique(design.block)) == 2
    assert design.mixed.all()


def test_level_that_follows_the_stratum_inside_a_pour_is_no_comparison():
    x = np.array([1.0, 0, 1, 0])
    design = lay_out(
        np.arange(4.0),
        x,
        label_codes(np.array(list("AABB"))),
        label_codes(np.array(list("stst"))),
    )
    assert len(design) == 0


def test_single_pieces_give_the_two_sample_t():
    random = np.random.default_rng(3)
    first, second = random.normal(size=6), random.normal(size=9)
    x = np.repeat([1.0, 0.0], [6, 9])
    answer = fit(lay_out(np.concatenate([first, second]), x, np.arange(15), none(15)))
    reference = scipy.stats.ttest_ind(first, second)
    limits = reference.confidence_interval()
    assert t_p_value(answer) == pytest.approx(reference.pvalue)
    assert t_interval(answer) == pytest.approx((limits.low, limits.high))


def test_equal_pours_give_the_t_on_pour_means():
    y, x, pour = (
        np.random.default_rng(4).normal(size=40),
        None,
        np.repeat(np.arange(8), 5),
    )
    x = (pour % 2).astype(float)
    answer = fit(lay_out(y, x, pour, none(40)))
    means = y.reshape(8, 5).mean(axis=1)
    reference = scipy.stats.ttest_ind(means[1::2], means[::2])
    assert t_p_value(answer) == pytest.approx(reference.pvalue)


def test_estimate_is_that_of_a_mixed_model_with_the_same_variances():
    y, x, pour = nested(pours=14, log_ratio=-0.7)
    answer = fit(lay_out(y, x, pour, none(len(y))))
    covariance = np.where(pour[:, None] == pour[None, :], answer.variance_between, 0.0)
    covariance += answer.variance_within * np.eye(len(y))
    reference = sm.GLS(y, np.column_stack([x, np.ones(len(y))]), sigma=covariance).fit()
    assert answer.log_ratio == pytest.approx(reference.params[0])


def test_pairs_in_pours_give_the_paired_t():
    random = np.random.default_rng(5)
    y = random.normal(size=(7, 2))
    answer = fit(
        lay_out(y.ravel(), np.tile([1.0, 0.0], 7), np.repeat(np.arange(7), 2), none(14))
    )
    reference = scipy.stats.ttest_rel(y[:, 0], y[:, 1])
    assert t_p_value(answer) == pytest.approx(reference.pvalue)


def test_variances_are_blind_to_the_levels():
    y, x, pour = nested(log_ratio=0.0)
    other = ((pour + 1) % 2).astype(float)
    one, two = (fit(lay_out(y, levels, pour, none(len(y)))) for levels in (x, other))
    assert one.variance_between == two.variance_between
    assert one.variance_within == two.variance_within


def test_no_spread_gives_no_t():
    x = np.repeat([1.0, 0.0], 3)
    answer = fit(lay_out(np.zeros(6), x, np.arange(6), none(6)))
    assert t_interval(answer) is None
    assert t_p_value(answer) is None


@pytest.mark.parametrize("mixed", [False, True])
def test_information_of_the_cast_arrangement(mixed):
    y, x, pour = nested(mixed=mixed)
    covariate = np.random.default_rng(2).normal(size=(len(y), 1))
    answer = fit(lay_out(y, x, pour, none(len(y)), covariate))
    assert information_of(answer, answer.x[None])[0] == pytest.approx(
        answer.information
    )


@pytest.mark.parametrize("mixed", [False, True])
def test_limits_are_where_the_same_test_stops_rejecting(mixed):
    y, x, pour = nested(pours=10, most=3, mixed=mixed, seed=8)
    design = lay_out(y, x, pour, none(len(y)))
    result = permutation_test(fit(design), seed=1)
    answer = fit(design)
    table, _ = arrangements(answer.x, answer.block, 1)
    root = np.sqrt(information_of(answer, table))
    for limit, sign in ((result.low, 1), (result.high, -1)):
        for step, rejected in ((-1e-6, True), (1e-6, False)):
            shift = limit + sign * step
            statistic = sign * (table @ (answer.score - shift * answer.own)) / root
            seen = sign * (answer.log_ratio - shift) * np.sqrt(answer.information)
            p = (statistic >= seen - 1e-9).mean()
            assert (p <= 0.025) == rejected


def test_all_arrangements_once_each():
    block = np.array([0, 0, 0, 1, 1])
    x = np.array([1.0, 0, 0, 1, 0])
    table, exact = arrangements(x, block, 1)
    assert exact
    assert len(table) == n_arrangements(x, block) == 6
    assert len(np.unique(table, axis=0)) == 6
    assert (table[:, :3].sum(axis=1) == 1).all()


def test_drawn_arrangements_keep_blocks_and_hold_the_cast_one():
    x = np.tile([1.0, 1.0, 0.0], 12)
    block = np.repeat([0, 1], 18)
    table, exact = arrangements(x, block, 7)
    assert not exact
    assert n_arrangements(x, block) > EXACT_UP_TO
    assert (table[0] == x).all()
    assert (table[:, :18].sum(axis=1) == 12).all()
    again, _ = arrangements(x, block, 7)
    assert (table == again).all()


def test_drawn_p_is_near_the_exact_one():
    y, x, pour = nested(pours=22, most=2, seed=3, log_ratio=0.3)
    answer = fit(lay_out(y, x, pour, none(len(y))))
    result = permutation_test(answer, seed=2)
    assert result.kind == "monte_carlo"
    assert result.p_value == pytest.approx(t_p_value(answer), abs=0.03)
    assert result.p_value >= 1 / 10_000


def test_four_against_four_needs_both_tests():
    random = np.random.default_rng(9)
    x = np.repeat([1.0, 0.0], 4)
    answer = fit(lay_out(random.normal(size=8) - 1.6 * x, x, np.arange(8), none(8)))
    result = permutation_test(answer, seed=1)
    low, high = t_interval(answer)
    assert result.kind == "refined"
    assert result.p_value >= t_p_value(answer)
    assert result.low <= low
    assert result.high >= high
    assert (result.p_value <= 0.05) == (result.low > 0 or result.high < 0)


def test_ties_do_not_take_the_power_of_four_against_four():
    x = np.repeat([1.0, 0.0], 4)
    # Four pours are free of voids, three of them sealed: whole sets of ties count
    # in the plain p, only what is more extreme in the refined one.
    y = np.array([0, 0, 0, 1.0, 0, 3, 3, 3])
    answer = fit(lay_out(y, x, np.arange(8), none(8)))
    result = permutation_test(answer, seed=1)
    means = np.array([y[list(c)].mean() for c in combinations(range(8), 4)])
    more = (means < 0.25 - 1e-9).sum()
    assert result.kind == "refined"
    assert result.p_exact == pytest.approx(2 * (means <= 0.25 + 1e-9).mean())
    assert result.p_value == pytest.approx(
        max(2 * more / 70 + 1 / 70, t_p_value(answer))
    )


def test_arrangements_that_covariates_hold_count_like_the_one_as_cast():
    x = np.repeat([1.0, 0.0], 4)
    y = np.array([0, 0.1, 0.2, 3, 5, 5.2, 5.1, -2])
    # One unit of each level has a covariate of its own, and may change places.
    own = np.zeros((8, 2))
    own[3, 0] = own[7, 1] = 1
    answer = fit(lay_out(y, x, np.arange(8), none(8), own))
    result = permutation_test(answer, seed=1, guard=True)
    assert result.p_least == pytest.approx(2 / 70)
    assert result.p_value >= result.p_least


def test_many_ties_make_an_exact_test_coarse():
    x = np.repeat([1.0, 0.0], [6, 7])
    smooth = np.arange(13.0) ** 1.5
    tied = np.where(np.arange(13) < 10, 0.0, smooth)
    kinds = [
        permutation_test(fit(lay_out(y, x, np.arange(13), none(13))), seed=1).kind
        for y in (smooth, tied)
    ]
    assert n_arrangements(x, none(13)) == 1716
    assert kinds == ["exact", "refined"]


def test_many_units_take_the_limit():
    y, x, pour = nested(pours=400, most=2)
    result = permutation_test(fit(lay_out(y, x, pour, none(len(y)))), seed=1)
    assert result.kind == "t"
    assert result.low < result.high


@pytest.mark.parametrize("most", [1, 7, 10_000])
def test_codes_number_what_occurs_in_order(most):
    random = np.random.default_rng(most)
    first, second = random.integers(most, size=(2, 50))
    _, expected = np.unique(first * (second.max() + 1) + second, return_inverse=True)
    assert codes(first, second).tolist() == expected.tolist()
    assert codes(first - 3).tolist() == codes(first).tolist()
    assert codes(first[:0]).tolist() == []
