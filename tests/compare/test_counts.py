from __future__ import annotations

import numpy as np
import pytest

from analysis.compare.counts import count_ratio


class TestCounts:
    def test_two_pours_a_side_by_hand(self):
        # Poisson with one dummy: the estimate is the ratio of the pooled rates.
        x = np.array([1.0, 1, 0, 0])
        count, area = np.array([6, 14, 30, 30.0]), np.array([1.0, 2, 2, 1])
        found = count_ratio(count, area, x, np.arange(4), np.zeros(4, dtype=np.int64))
        assert np.exp(found.log_ratio) == pytest.approx((20 / 3) / (60 / 3))
        error = (found.high - found.low) / 2 / 4.302653  # t, 2 df, from tables
        least = np.sqrt(1 / 20 + 1 / 60)
        assert error == pytest.approx(least * np.sqrt(found.dispersion), rel=1e-5)
        assert found.dispersion > 1

    def test_none_without_voids_on_a_side_or_room_for_error(self):
        x = np.array([1.0, 1, 0, 0])
        zeros = np.zeros(4, dtype=np.int64)
        assert (
            count_ratio(np.array([0, 0, 3, 4.0]), np.ones(4), x, np.arange(4), zeros)
            is None
        )
        assert (
            count_ratio(np.array([2, 3.0]), np.ones(2), x[1:3], np.arange(2), zeros[:2])
            is None
        )

    def test_mixed_pours_are_compared_inside(self):
        x = np.tile([1.0, 0.0], 5)
        pour = np.repeat(np.arange(5), 2)
        rate = np.repeat([10.0, 20, 40, 80, 160], 2)
        count = rate * np.where(x > 0, 1, 2)
        found = count_ratio(count, np.ones(10), x, pour, np.zeros(10, dtype=np.int64))
        assert np.exp(found.log_ratio) == pytest.approx(0.5)
        assert found.dispersion == 1.0
