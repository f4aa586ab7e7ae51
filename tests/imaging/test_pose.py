"""The pose of a small flat thing, against a camera whose pose is known."""

from __future__ import annotations

import math

import numpy as np
import pytest

from analysis.imaging.pose import lens_of, posed, unseen_tilt_sd
from tests.support.cameras import face_to_photo, moved

SHAPE = (2250, 3000)
CARD = np.array(
    [(x + left, y) for left in (0.0, 88.0) for x, y in ((0, 0), (40, 0), (40, 40))]
)


def _far_ratio(tilt, turn, noise_px, seed=1):
    lens = lens_of(SHAPE, 26.0)
    to_photo = face_to_photo(
        (500.0, 380.0),
        far_mm=560,
        photo_px=SHAPE,
        focal_px=lens.focal_px,
        tilt_deg=tilt,
        turn_deg=turn,
    )
    photo = moved(to_photo, CARD + np.array([60.0, 280.0]))
    photo += np.random.default_rng(seed).normal(0, noise_px, photo.shape)
    matrix, far_sd = posed(photo, CARD, lens)
    ends = moved(to_photo, np.array([[300.0, 60.0], [440.0, 60.0]]))
    return math.dist(*moved(matrix, ends)) / 140, far_sd


@pytest.mark.parametrize(("tilt", "turn"), [(20, 0), (0, -20), (15, 15), (-30, 10)])
def test_exact_corners_give_the_exact_plane(tilt, turn):
    ratio, _ = _far_ratio(tilt, turn, 0.0)
    assert ratio == pytest.approx(1, abs=1e-3)


def test_uncertainty_holds_the_truth_with_noisy_corners():
    off = []
    for seed in range(60):
        ratio, far_sd = _far_ratio(18, -12, 0.2, seed)
        off.append(abs(ratio - 1) / far_sd)
    assert np.mean(np.array(off) < 2) >= 0.95


def test_a_longer_lens_looks_from_farther_away():
    # Focal length by the diagonal of 36 x 24 mm film, 43.3 mm.
    assert lens_of((2400, 3600), 43.267).focal_px == pytest.approx(4326.7, rel=1e-4)
    assert lens_of(SHAPE).focal_px == pytest.approx(lens_of(SHAPE, 26.0).focal_px)


def test_larger_cards_hide_less_tilt():
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    small, large = (unseen_tilt_sd(side * square, 0.5) for side in (60, 600))
    assert small > 2 * large
