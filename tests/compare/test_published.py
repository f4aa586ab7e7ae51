"""Published examples through the code of this room, or the calls it rests on.

Handbook: NIST/SEMATECH e-Handbook of Statistical Methods, by section.
"""

from __future__ import annotations

from itertools import pairwise, product
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import scipy.stats
import statsmodels.api as sm
from statsmodels.formula.api import ols
from statsmodels.stats.multitest import multipletests

from analysis.compare.compare import _holm_of
from analysis.compare.design import contrasts, lay_out
from analysis.compare.gls import fit
from analysis.compare.permutation import permutation_test
from analysis.compare.robust import robust_t
from analysis.compare.shares import mean_ratio
from analysis.compare.shrinkage import group_variance


def two_groups(first, second):
    y = np.concatenate([first, second]).astype(float)
    x = np.repeat([1.0, 0.0], [len(first), len(second)])
    rows = np.arange(len(y))
    return fit(lay_out(y, x, rows, np.zeros(len(y), dtype=np.int64)))


def t_of(answer):
    return answer.log_ratio / answer.standard_error


def counted(text):
    pairs = (part.split("x") for part in text.split())
    return np.repeat(*zip(*((int(a), int(b)) for a, b in pairs), strict=True))


def test_two_sample_t_of_handbook_1_3_5_3():
    us = counted(
        "9x1 10x2 11x4 12x6 13x20 14x19 15x17 16x18 17x9 18x26 19x18 20x11 21x13 22x9 "
        "23x8 24x7 25x8 26x8 27x10 28x8 29x3 30x4 31x4 32x2 34x5 35x2 36x4 38x2 39x1"
    )
    japan = counted(
        "18x1 19x2 20x2 21x1 22x3 23x1 24x8 25x2 26x2 27x4 28x3 29x1 30x3 31x5 32x12 "
        "33x5 34x6 35x2 36x3 37x4 38x4 39x2 41x1 45x1 47x1"
    )
    answer = two_groups(us, japan)
    assert (len(us), len(japan)) == (249, 79)
    assert t_of(answer) == pytest.approx(-12.62059, abs=5e-6)  # handbook 1.3.5.3
    assert answer.df == pytest.approx(326)
    assert answer.log_ratio == pytest.approx(20.14458 - 30.48101, abs=1e-5)
    pooled = answer.standard_error / np.sqrt(1 / 249 + 1 / 79)
    assert pooled == pytest.approx(6.34260, abs=5e-6)


def test_certified_analysis_of_variance_of_silver_atomic_weight():
    # NIST StRD AtmWtAg; two instruments, so F is the square of our t. Certified.
    data = strd("AtmWtAg.dat")
    shifted = data[:, 1] - 107.868
    answer = two_groups(shifted[data[:, 0] == 1], shifted[data[:, 0] == 2])
    assert t_of(answer) ** 2 == pytest.approx(15.9467335677930, rel=1e-8)
    r2 = t_of(answer) ** 2 / (t_of(answer) ** 2 + answer.df)
    assert r2 == pytest.approx(0.257426544538321, rel=1e-8)


def strd(name):
    folder = Path(scipy.stats.__file__).parent / "tests" / "data" / "nist_anova"
    lines = (folder / name).read_text().splitlines()[60:]
    return np.array([line.split() for line in lines if line.strip()], dtype=float)


@pytest.mark.parametrize(
    ("name", "f"),
    [("SiRstv.dat", 1.18046237440255), ("AtmWtAg.dat", 15.9467335677930)],
)
def test_certified_one_way_f(name, f):
    # The call `strata.matters` rests on; certified values of NIST StRD.
    data = strd(name)
    values = data[:, 1] - data[:, 1].min()
    groups = [values[data[:, 0] == g] for g in np.unique(data[:, 0])]
    assert scipy.stats.f_oneway(*groups).statistic == pytest.approx(f, rel=1e-8)


A = """.125 .118 .123 .126 .118
.127 .122 .125 .128 .129
.125 .120 .125 .126 .127
.126 .124 .124 .127 .120
.128 .119 .126 .129 .121"""
B = """.124 .116 .122 .126 .125
.128 .125 .121 .129 .123
.127 .119 .124 .125 .114
.126 .125 .126 .130 .124
.129 .120 .125 .124 .117"""


def machines():
    return [np.array(text.split(), dtype=float).reshape(5, 5) for text in (A, B)]


def test_one_way_f_of_handbook_3_2_3_1():
    first, _ = machines()
    f = scipy.stats.f_oneway(*first.T).statistic
    assert f == pytest.approx(5.206, abs=5e-4)  # exact; the page rounds before


def test_two_way_analysis_of_handbook_3_2_3_2():
    both = np.stack(machines())
    coolant, _, machine = np.indices(both.shape)
    data = pd.DataFrame({"y": both.ravel(), "c": coolant.ravel(), "m": machine.ravel()})
    table = sm.stats.anova_lm(ols("y ~ C(m) * C(c)", data).fit())
    assert table["F"].tolist()[:3] == pytest.approx([8.766, 0.453, 0.424], abs=5e-4)
    squares = [0.00030332, 0.00000392, 0.00001468, 0.000346]
    assert table["sum_sq"].tolist() == pytest.approx(squares, abs=5e-7)
    # Our coolant effect, adjusted for the machine, carries the same sum of squares.
    answer = fit(
        lay_out(
            both.ravel(),
            (coolant.ravel() == 0).astype(float),
            np.arange(both.size),
            machine.ravel().astype(np.int64),
        )
    )
    assert answer.log_ratio**2 * both.size / 4 == pytest.approx(0.00000392, abs=5e-9)


def test_effects_of_2_to_3_of_eddy_current_probes():
    # NIST Dataplot SPLETT3.DAT in Yates order; effects recomputed from it.
    y = np.array([1.70, 4.57, 0.55, 3.39, 1.51, 4.59, 0.67, 4.29])
    settings = np.array(list(product([0.0, 1.0], repeat=3)))[:, ::-1]
    assert effects(y, settings) == pytest.approx([3.1025, -0.8675, 0.2125])
    two = settings[:, 0] == settings[:, 1]
    assert effects(y, two[:, None].astype(float)) == pytest.approx([0.1275])


STRENGTH = """680.45 722.48 702.14 666.93 703.67 642.14 692.98 669.26
491.58 475.52 478.76 568.23 444.72 410.37 428.51 491.47
607.34 620.80 610.55 638.04 585.19 586.17 601.67 608.31
442.90 434.41 417.66 510.84 392.11 343.22 385.52 446.73"""


def test_effects_of_2_to_5_of_ceramic_strength():
    # NIST Dataplot CERAMIC.DAT in Yates order.
    y = np.array(STRENGTH.split(), dtype=float)
    settings = np.array(list(product([0.0, 1.0], repeat=5)))[:, ::-1]
    assert y.mean() == pytest.approx(546.896, abs=5e-4)
    assert effects(y, settings) == pytest.approx(
        [10.573, 20.908, -39.787, -198.473, -64.859], abs=5e-4
    )


def effects(y, settings):
    """Return each effect adjusted for all others, as `compare_factors` does."""
    found = []
    for own in range(settings.shape[1]):
        others = np.delete(settings, own, axis=1)
        rows = np.arange(len(y))
        design = lay_out(y, settings[:, own], rows, rows * 0, others)
        found.append(fit(design).log_ratio)
    return found


def test_batch_variances_of_handbook_7_4_4():
    y = np.array([74, 76, 75, 68, 71, 72, 75, 77, 77, 72, 74, 73, 79, 81, 79.0])
    pour = np.repeat(np.arange(5), 3)
    answer = fit(lay_out(y, (pour < 2).astype(float), pour, pour * 0))
    assert answer.variance_within == pytest.approx(1.8)
    assert answer.variance_between == pytest.approx(11.71, abs=5e-3)


RANKED_A = np.array([0.55, 0.67, 0.43, 0.51, 0.48, 0.60, 0.71, 0.53, 0.44, 0.65, 0.75])
RANKED_B = np.array([0.49, 0.68, 0.59, 0.72, 0.67, 0.75, 0.65, 0.77, 0.62, 0.48, 0.59])


def test_rank_sums_of_handbook_7_3_5_through_our_permutation():
    ranks = scipy.stats.rankdata(np.concatenate([RANKED_A, RANKED_B]))
    assert ranks[:11].sum() == 106
    assert ranks[11:].sum() == 147
    result = permutation_test(two_groups(ranks[:11], ranks[11:]), seed=1)
    z = -1.346  # handbook 7.3.5; not rejected at 5 %
    assert result.p_value == pytest.approx(2 * scipy.stats.norm.cdf(z), abs=0.02)


def test_kruskal_wallis_of_handbook_7_4_1():
    groups = [
        [4.2, 4.6, 3.9, 4.0],
        [3.3, 2.4, 2.6, 3.8, 2.8],
        [1.9, 2.4, 2.1, 2.7, 1.8],
        [3.5, 3.1, 3.7, 4.1, 4.4],
    ]
    ranks = scipy.stats.rankdata(np.concatenate(groups))
    edges = np.cumsum([0, *map(len, groups)])
    sums = [ranks[a:b].sum() for a, b in pairwise(edges)]
    assert sums == [65, 41.5, 17.5, 66]
    n = len(ranks)
    h = 12 / n / (n + 1) * sum(
        s**2 / len(g) for s, g in zip(sums, groups, strict=True)
    ) - 3 * (n + 1)
    assert h == pytest.approx(13.678, abs=5e-4)
    assert scipy.stats.kruskal(*groups).statistic == pytest.approx(13.690, abs=5e-4)


@pytest.mark.parametrize("sizes", [(4, 5), (5, 5), (3, 7)])
def test_permutation_p_is_that_of_scipy(sizes):
    random = np.random.default_rng(sum(sizes))
    first, second = random.normal(0, 1, sizes[0]), random.normal(0.8, 1, sizes[1])
    reference = scipy.stats.permutation_test(
        (first, second), lambda a, b: a.mean() - b.mean(), n_resamples=np.inf
    )
    result = permutation_test(two_groups(first, second), seed=1)
    assert result.p_exact == pytest.approx(reference.pvalue, abs=1e-12)


def test_sign_changes_inside_pairs_are_those_of_scipy():
    random = np.random.default_rng(5)
    gap = random.normal(0.5, 1, 8)
    y = np.column_stack([gap, np.zeros(8)]).ravel()
    pour = np.repeat(np.arange(8), 2)
    answer = fit(lay_out(y, np.tile([1.0, 0.0], 8), pour, pour * 0))
    reference = scipy.stats.permutation_test(
        (gap,), np.mean, permutation_type="samples", n_resamples=np.inf
    )
    assert permutation_test(answer, seed=1).p_exact == pytest.approx(reference.pvalue)


def test_robust_error_is_that_of_statsmodels():
    random = np.random.default_rng(12)
    x = np.repeat([1.0, 0.0], [5, 11])
    drift = random.permutation(16).astype(float)
    y = random.normal(0, 1, 16) * np.where(x > 0, 3, 1) + 0.1 * drift
    rows = np.arange(16)
    found = robust_t(fit(lay_out(y, x, rows, rows * 0, drift[:, None])))
    columns = sm.add_constant(np.column_stack([x, drift]))
    reference = sm.OLS(y, columns).fit(cov_type="HC2")
    assert found.standard_error == pytest.approx(reference.bse[1], rel=1e-9)


def test_degrees_of_freedom_of_two_plain_groups():
    # Bell and McCaffrey 2002 worked out for two groups (Imbens and Kolesar 2016,
    # Rev. Econ. Stat. 98:701, section II; formula from memory).
    first, second = 4, 12
    x = np.repeat([1.0, 0.0], [first, second])
    rows = np.arange(16)
    y = np.random.default_rng(3).normal(0, 1, 16)
    found = robust_t(fit(lay_out(y, x, rows, rows * 0)))
    sides = ((1 / first + 1 / second) ** 2) / (
        1 / (first**2 * (first - 1)) + 1 / (second**2 * (second - 1))
    )
    assert found.df == pytest.approx(sides)


def test_ratio_of_means_is_poisson_regression_of_statsmodels():
    random = np.random.default_rng(4)
    pour = np.repeat(np.arange(8), 4)
    x = np.tile([1.0, 0, 1, 0], 8)
    area = random.uniform(1, 4, 32)
    share = random.gamma(2.0, 0.3, 32) * np.where(x > 0, 0.5, 1) * (1 + pour / 9)
    share[[3, 8]] = 0.0
    slope = random.normal(0, 1, 32)
    found = mean_ratio(share, area, x, pour, np.arange(32), slope[:, None])
    dummies = (pour[:, None] == np.arange(8)).astype(float)
    reference = sm.GLM(
        share * area,
        np.column_stack([x, slope, dummies]),
        family=sm.families.Poisson(),
        exposure=area,
    ).fit()
    assert found.log_ratio == pytest.approx(reference.params[0], abs=1e-6)


def test_spread_of_forms_is_that_of_a_balanced_table():
    # Two-way table without replicates: (mean square of forms - residual) / pours,
    # as in any text on analysis of variance.
    random = np.random.default_rng(9)
    table = random.normal(0, 1, (6, 4)) + random.normal(0, 2, 4) + np.arange(6)[:, None]
    pour, form = (part.ravel() for part in np.indices(table.shape))
    data = pd.DataFrame({"y": table.ravel(), "pour": pour, "form": form})
    squares = sm.stats.anova_lm(ols("y ~ C(pour) + C(form)", data).fit())
    expected = (squares["mean_sq"]["C(form)"] - squares["mean_sq"]["Residual"]) / 6
    found = group_variance(
        table.ravel(), contrasts(form), np.ones((24, 1)), pour.astype(np.int64)
    )
    assert found == pytest.approx(expected)


def test_holm_is_the_textbook_one_and_that_of_statsmodels():
    # Holm 1979, Scand. J. Stat. 6:65: p times 3, 2, 1, never falling (from memory).
    assert _holm_of([0.01, 0.04, 0.03]) == pytest.approx([0.03, 0.06, 0.06])
    rng = np.random.default_rng(3)
    for count in (1, 2, 7, 30):
        given = rng.uniform(0, 1, count).round(1 + count % 2) ** 2  # ties among them
        theirs = multipletests(given, method="holm")[1]
        np.testing.assert_array_equal(_holm_of(given.tolist()), theirs)
