import numpy as np
import pytest
from scipy import stats

from analysis import distributions as ours

CHANCES = np.array([0.0, 1e-12, 1e-4, 0.01, 0.025, 0.3, 0.5, 0.8, 0.95, 0.999, 1.0])
VALUES = np.array([-40.0, -3.2, -1.0, -1e-9, 0.0, 0.4, 2.5, 17.0, 300.0, np.inf])
DEGREES = np.array([0.3, 1.0, 1.7, 2.0, 7.0, 34.0, 411.5, 24_000.0])


def test_they_are_those_of_scipy_stats_to_the_last_bit():
    for df in DEGREES:
        for mine, theirs, at in (
            (ours.t_ppf, stats.t.ppf, CHANCES[1:]),
            (ours.t_sf, stats.t.sf, VALUES),
            (ours.chi2_ppf, stats.chi2.ppf, CHANCES),
        ):
            np.testing.assert_array_equal(mine(at, df), theirs(at, df))
        for rest in DEGREES:
            mine = ours.f_sf(VALUES, df, rest)
            np.testing.assert_array_equal(mine, stats.f.sf(VALUES, df, rest))


@pytest.mark.parametrize("name", ["ppf", "isf", "cdf", "sf"])
def test_the_normal_ones_too(name):
    at = CHANCES if name in {"ppf", "isf"} else VALUES
    mine = getattr(ours, f"normal_{name}")(at)
    np.testing.assert_array_equal(mine, getattr(stats.norm, name)(at))


def test_what_is_not_known_stays_so():
    for found in (ours.t_ppf(0.9, np.nan), ours.t_sf(np.nan, 3), ours.f_sf(1, 2, 0)):
        assert np.isnan(found)
