"""Limits against the worked examples of the NIST/SEMATECH e-Handbook.

Data from NIST's Dataplot repository (github usnistgov/dataplot, lib/data).
"""

import numpy as np
import pytest
from scipy.stats import norm

from analysis.monitoring.limits import (
    EWMA_SIGMAS,
    EWMA_WEIGHT,
    counts_per_area,
    ewma,
    ewma_half_width,
    individuals,
)

FLOWRATE = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1]
SMOOTHED_FROM = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5,
    49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1,
]  # fmt: skip
SMOOTHED = [
    50.60, 49.52, 50.56, 50.18, 50.16, 49.21, 49.75, 49.85, 50.26, 50.33,
    50.11, 49.36, 49.52, 50.05, 49.38, 49.92, 50.73, 51.23, 51.94, 51.99,
]  # fmt: skip
WAFERS = [
    16, 14, 28, 16, 12, 20, 10, 12, 10, 17, 19, 17, 14,
    16, 15, 13, 14, 16, 11, 20, 11, 19, 16, 31, 13,
]  # fmt: skip
ISHIKAWA = [4, 3, 3, 4, 5, 3, 6, 7, 5, 3, 5, 5, 4, 6, 5, 4, 4, 6, 8, 8]
ISHIKAWA_SIZES = [2.0] * 6 + [2.5] * 7 + [2.25] * 5 + [2.75] * 2
SQUARE_YARDS = [6, 5, 3, 5, 3, 8, 3, 5, 4, 3, 6, 4, 6, 6, 6, 5, 7, 6, 9, 13]


def test_individuals_of_handbook_6_3_2_2():
    limits = individuals(FLOWRATE)
    assert round(limits.centre, 2) == 50.81
    assert round(limits.range_centre, 4) == 1.8778
    assert round(limits.upper, 4) == 55.8041
    assert round(limits.lower, 4) == 45.8159
    # Printed 6.1349; 3.267 times the unrounded mean range is 6.1347.
    assert limits.range_upper == pytest.approx(6.1349, abs=3e-4)


def test_ewma_of_handbook_6_3_2_4():
    assert ewma(SMOOTHED_FROM, 50.0, 0.3).round(2).tolist() == SMOOTHED
    width = ewma_half_width(20, 2.0539, weight=0.3, sigmas=3.0, asymptotic=True)
    assert 50.0 + width[0] == pytest.approx(52.5884, abs=5e-5)
    assert 50.0 - width[-1] == pytest.approx(47.4115, abs=1e-4)


def test_exact_ewma_limits_start_narrow_and_end_at_the_asymptote():
    exact = ewma_half_width(60, 2.0539, weight=0.3, sigmas=3.0)
    assert exact[0] == pytest.approx(3.0 * 0.3 * 2.0539)  # one value times its weight
    assert exact[-1] == pytest.approx(50 - 47.41157, abs=5e-6)
    assert (np.diff(exact) >= 0).all()


def test_an_estimated_centre_widens_the_ewma_limits():
    known = ewma_half_width(5, 1.0, weight=0.2, sigmas=3.0)
    from_eight = ewma_half_width(5, 1.0, weight=0.2, sigmas=3.0, centre_from=8)
    assert from_eight**2 - known**2 == pytest.approx(np.full(5, 9 / 8))


def test_c_chart_of_handbook_6_3_3_1():
    rates = counts_per_area(WAFERS, np.ones(25))
    assert (rates.centre, rates.upper[0], rates.lower[0]) == (16.0, 28.0, 4.0)
    assert np.flatnonzero(np.array(WAFERS) > rates.upper).tolist() == [23]  # wafer 24


def test_u_chart_of_ishikawa_in_dataplot():
    rates = counts_per_area(ISHIKAWA, ISHIKAWA_SIZES)
    assert rates.centre == pytest.approx(98 / 46.25)
    upper = {
        size: round(x, 4) for size, x in zip(ISHIKAWA_SIZES, rates.upper, strict=True)
    }
    assert upper == {2.0: 5.2068, 2.25: 5.0302, 2.5: 4.8808, 2.75: 4.7523}
    assert (rates.lower == 0).all()


def test_c_chart_of_surface_defects_in_dataplot():
    rates = counts_per_area(SQUARE_YARDS, np.ones(20))
    assert rates.centre == pytest.approx(5.65)
    assert round(rates.upper[0], 3) == 12.781
    assert np.flatnonzero(np.array(SQUARE_YARDS) > rates.upper).tolist() == [19]


def test_poisson_counts_are_not_widened_and_overdispersed_ones_are():
    rng = np.random.default_rng(3)
    area = np.full(400, 2.0)
    plain = counts_per_area(rng.poisson(100, 400), area, widen=True)
    assert plain.spread_factor < 1.1
    # Gamma-mixed counts: variance 100 + 100**2 / 25 = 500, so 2.24 times Poisson's.
    mixed = rng.poisson(rng.gamma(25, 4, 400))
    wide = counts_per_area(mixed, area, widen=True)
    assert wide.spread_factor == pytest.approx(np.sqrt(5.0), rel=0.1)
    assert ((mixed / area > wide.upper) | (mixed / area < wide.lower)).mean() < 0.02


def test_no_voids_at_all_gives_limits_of_zero():
    rates = counts_per_area(np.zeros(9), np.ones(9), widen=True)
    assert (rates.centre, rates.upper.max(), rates.spread_factor) == (0.0, 0.0, 1.0)


def run_length(weight, sigmas, shift, states=401):
    """In the steady limits, from the centre, by the Markov chain of Brook and Evans."""
    reach = sigmas * np.sqrt(weight / (2 - weight))
    width = 2 * reach / states
    middle = -reach + width * (np.arange(states) + 0.5)
    edge = (middle[None, :] - (1 - weight) * middle[:, None]) / weight - shift
    half = width / (2 * weight)
    stay = norm.cdf(edge + half) - norm.cdf(edge - half)
    return np.linalg.solve(np.eye(states) - stay, np.ones(states))[states // 2]


def test_ewma_design_has_the_published_run_lengths():
    # Lucas and Saccucci, Technometrics 32 (1990), as reprinted by Montgomery; the
    # printed values from memory, and recomputed here.
    printed = {
        0.0: 500,
        0.25: 150,
        0.5: 41.8,
        0.75: 18.2,
        1.0: 10.5,
        1.5: 5.5,
        2.0: 3.7,
    }
    for shift, length in printed.items():
        found = run_length(EWMA_WEIGHT, EWMA_SIGMAS, shift)
        assert found == pytest.approx(length, rel=0.012), shift
