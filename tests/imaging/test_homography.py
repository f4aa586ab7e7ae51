from __future__ import annotations

import numpy as np
import pytest

from analysis.imaging.homography import fitted, fitted_square, moved, slope, spread

SQUARE = 300.0 * np.array([[0, 0], [1, 0], [1, 1], [0, 1]], float)
ASKEW = np.array([[1.1, 0.2, 5], [-0.1, 0.9, 3], [2e-4, 1e-4, 1.0]])


def test_a_homography_is_found_again_from_its_points():
    found, off = fitted(SQUARE, moved(ASKEW, SQUARE))
    assert np.allclose(found, ASKEW, rtol=1e-4)
    assert off < 1e-3


def test_its_slope_is_that_of_small_steps():
    at = np.array([120.0, 80.0])
    step = 1e-4
    steps = [
        (moved(ASKEW, np.array([at + way])) - moved(ASKEW, np.array([at - way])))[0]
        / (2 * step)
        for way in (np.array([step, 0]), np.array([0, step]))
    ]
    assert np.allclose(slope(ASKEW, at), np.column_stack(steps), rtol=1e-6)


def test_spread_grows_with_what_the_points_are_off_by():
    one, two = (spread(SQUARE, SQUARE, sd) for sd in (1.0, 2.0))
    assert two == pytest.approx(2 * one, rel=0.05)


def test_turn_scale_and_shift_are_found_and_nothing_else():
    rng = np.random.default_rng(5)
    start = rng.uniform(0, 100, (6, 2))
    turn = 2.5 * np.array([[np.cos(0.3), -np.sin(0.3)], [np.sin(0.3), np.cos(0.3)]])
    matrix = fitted_square(start, start @ turn.T + (7, -3))
    assert np.allclose(matrix[:2, :2], turn)
    assert np.allclose(matrix[:2, 2], (7, -3))
    assert matrix[2].tolist() == [0, 0, 1]
