"""Castings left, against regressions of handbooks and a closed form.

How many castings are left is inverse prediction: where a fitted line meets a limit. The
best value follows from published coefficients, the interval from Fieller's theorem
(1954), which needs no draws.
"""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from analysis.monitoring.trends import Castings, remaining

# NIST Statistical Reference Datasets, linear regression, Norris: 36 observations, with
# certified intercept, slope, their standard errors and residual standard deviation.
NORRIS_Y = np.array([
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
    0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
    0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
])  # fmt: skip
NORRIS_X = np.array([
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
    0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
    0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
])  # fmt: skip
NORRIS_AT_0, NORRIS_SLOPE = -0.262323073774029, 1.00211681802045
# Draper and Smith, Applied Regression Analysis, steam data: steam used against mean
# temperature, printed as 13.623 - 0.0798 x with s² = 0.7923 (data from memory; they
# give the printed line back).
STEAM_Y = np.array([
    10.98, 11.13, 12.51, 8.40, 9.27, 8.73, 6.36, 8.50, 7.82, 9.14, 8.24, 12.19, 11.88,
    9.57, 10.94, 9.58, 10.09, 8.11, 6.83, 8.88, 7.68, 8.47, 8.86, 10.36, 11.08,
])  # fmt: skip
STEAM_X = np.array([
    35.3, 29.7, 30.8, 58.8, 61.4, 71.3, 74.4, 76.7, 70.7, 57.5, 46.4, 28.9, 28.1, 39.1,
    46.8, 48.5, 59.3, 70.0, 70.0, 74.5, 72.1, 58.1, 44.6, 33.4, 28.6,
])  # fmt: skip


def castings(x, y):
    form = np.zeros(len(x), dtype=np.intp)
    order = np.argsort(x, kind="stable")
    return Castings(form=form, use=x[order], log_share=y[order])


def fieller(x, y, limit):
    """95 % set of where the line meets a limit: roots of a quadratic."""
    n, middle = len(x), x.mean()
    squares = ((x - middle) ** 2).sum()
    slope = (x - middle) @ y / squares
    rest = y - y.mean() - slope * (x - middle)
    variance = rest @ rest / (n - 2)
    reach = stats.t.ppf(0.975, n - 2) ** 2 * variance
    gap = limit - y.mean()
    roots = np.roots([slope**2 - reach / squares, -2 * slope * gap, gap**2 - reach / n])
    return np.sort(roots.real) + middle


def test_the_best_value_follows_from_certified_coefficients():
    limit, uses = 1.2, 999.0  # of y / 1000, which stands for a log share
    _, best, _ = remaining(
        castings(NORRIS_X, NORRIS_Y / 1000),
        uses,
        np.exp(limit),
        np.random.default_rng(1),
    )
    assert best == pytest.approx(
        (1000 * limit - NORRIS_AT_0) / NORRIS_SLOPE - uses, rel=1e-9
    )


def test_the_steam_data_give_the_printed_line():
    slope, at_0 = np.polyfit(STEAM_X, STEAM_Y, 1)
    rest = STEAM_Y - at_0 - slope * STEAM_X
    assert (round(at_0, 3), round(slope, 4)) == (13.623, -0.0798)
    assert rest @ rest / (len(STEAM_X) - 2) == pytest.approx(0.7923, abs=5e-5)


@pytest.mark.parametrize(
    ("x", "y", "limit"),
    [
        (NORRIS_X, NORRIS_Y / 1000, 1.2),
        # Against falling temperature the steam rises; the limit lies ahead.
        (100 - STEAM_X, STEAM_Y, 14.0),
        (100 - STEAM_X, STEAM_Y, 18.0),
    ],
)
def test_the_interval_is_fiellers(x, y, limit):
    uses = float(x.max())
    low, best, high = remaining(
        castings(x, y), uses, np.exp(limit), np.random.default_rng(3)
    )
    exact_low, exact_high = fieller(x, y, limit) - uses
    width = exact_high - exact_low
    assert low == pytest.approx(exact_low, abs=0.05 * width)
    assert high == pytest.approx(exact_high, abs=0.05 * width)
    assert low < best < high
