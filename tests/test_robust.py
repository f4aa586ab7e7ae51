"""Medians and spreads: the same bits as NumPy's, and what a normal law has."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import ndtri

from analysis.robust import MAD_TO_SD, median, robust_sd, row_medians


@pytest.mark.parametrize("dtype", [np.float32, np.float64])
@pytest.mark.parametrize("shape", [(1,), (2,), (7,), (8,), (40, 51), (3, 4, 5)])
def test_the_median_is_numpys_to_the_last_bit(dtype, shape):
    values = np.random.default_rng(shape).normal(1, 3, shape).astype(dtype)
    for some in (values, np.round(values), values[..., ::-1], values.T):
        ours, theirs = median(some), np.median(some)
        assert ours.dtype == theirs.dtype
        assert ours == theirs


def test_medians_of_rows_are_numpys_to_the_last_bit():
    rows = np.random.default_rng(4).normal(1, 3, (50, 1024)).astype(np.float32)
    ours, theirs = row_medians(rows), np.median(rows, axis=1)
    assert ours.dtype == theirs.dtype
    assert np.array_equal(ours, theirs)


def test_of_nothing_there_is_none():
    assert np.isnan(median(np.empty(0)))
    assert np.isnan(robust_sd(np.empty(0, np.float32)))


def test_it_leaves_the_values_where_they_are():
    values = np.array([3.0, 1.0, 2.0])
    median(values)
    assert values.tolist() == [3.0, 1.0, 2.0]


def test_wild_values_do_not_move_the_spread():
    calm = np.random.default_rng(2).normal(0, 1, 1000)
    wild = np.concatenate([calm, np.full(50, 1e6)])
    assert robust_sd(wild) == pytest.approx(robust_sd(calm), rel=0.1)


def test_the_factor_is_that_of_a_normal_law():
    assert pytest.approx(1 / ndtri(0.75), abs=1e-4) == MAD_TO_SD
