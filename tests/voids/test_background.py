"""Background light and noise: what must not pull them."""

import cv2
import numpy as np
import pytest

from analysis.voids.background import (
    background_light,
    background_noise,
    spread,
    spread_at,
    spread_strips,
)
from tests.support.painting import GROUND, disc

SHAPE = (240, 360)
CELL = 12


def flat(value=GROUND, shape=SHAPE):
    return np.full(shape, value, np.float32)


def pulled(light, face=None, cell_px=CELL):
    """Largest part by which the background inside the face is off the flat face."""
    background = background_light(light, face, cell_px).spread()
    off = np.abs(background / GROUND - 1)
    return float((off if face is None else off[face]).max())


class TestGround:
    def test_flat_face(self):
        assert pulled(flat()) < 1e-6

    @pytest.mark.parametrize(("row", "col"), [(120, 180), (20, 20), (0, 90), (239, 0)])
    @pytest.mark.parametrize("level", [0.0, 0.95])
    def test_a_void_or_bloom_does_not_pull(self, row, col, level):
        cover = disc(SHAPE, row, col, 10)
        light = np.float32(GROUND * (1 - cover) + level * cover)
        assert pulled(light) < 0.03

    def test_many_voids_do_not_pull(self):
        light = flat()
        for row in range(20, 240, 40):
            for col in range(20, 360, 40):
                light -= np.float32(GROUND * 0.9 * disc(SHAPE, row, col, 6))
        assert pulled(light) < 0.1  # 7 % of the face is void

    def test_a_lamp_falling_off_is_followed(self):
        light = np.linspace(0.1, 0.6, SHAPE[1], dtype=np.float32) * flat(1.0)
        background = background_light(light, None, CELL).spread()
        inner = slice(3 * CELL, -3 * CELL)
        assert background[:, inner] == pytest.approx(light[:, inner], rel=0.02)

    @pytest.mark.parametrize("outside", [0.0, 1.0, 50.0])
    def test_outside_the_face_never_enters(self, outside):
        rows, cols = np.mgrid[: SHAPE[0], : SHAPE[1]]
        face = (rows + cols > 150) & (rows + cols < 430)
        light = flat()
        light[~face] = outside
        assert pulled(light, face) < 1e-5
        light[~face] = GROUND
        assert pulled(light, face) < 1e-5

    @pytest.mark.parametrize("shape", [(1, 1), (1, 50), (50, 1), (5, 7), (13, 25)])
    def test_small_pictures(self, shape):
        background = background_light(flat(shape=shape), None, CELL)
        assert background.spread().shape == shape
        assert background.spread() == pytest.approx(GROUND)

    def test_a_sliver_of_face_is_enough(self):
        face = np.zeros(SHAPE, bool)
        face[:, 101] = True
        assert pulled(flat(), face) < 1e-5

    def test_black_stays_positive(self):
        assert background_light(flat(0.0), None, CELL).cells.min() > 0


def test_some_rows_are_those_of_the_whole():
    cells = np.float32(np.random.default_rng(1).random((20, 30)))
    whole = spread(cells, SHAPE)
    assert np.array_equal(spread(cells, SHAPE, slice(37, 122)), whole[37:122])


def test_strips_and_single_px_are_those_of_the_whole():
    rng = np.random.default_rng(2)
    cells = np.float32(rng.random((7, 30)))
    whole = spread(cells, SHAPE)
    for where, strip in spread_strips(cells, SHAPE):
        assert np.array_equal(whole[where], strip)
    row, col = rng.integers(0, SHAPE[0], 500), rng.integers(0, SHAPE[1], 500)
    assert np.array_equal(spread_at(cells, SHAPE, row, col), whole[row, col])


def test_spread_is_what_opencv_interpolates():
    cells = np.float32(np.random.default_rng(3).random((20, 30)))
    whole = cv2.resize(cells, SHAPE[::-1], interpolation=cv2.INTER_LINEAR)
    assert spread(cells, SHAPE) == pytest.approx(whole, abs=1e-5)


def test_spread_keeps_a_slope_straight():
    cells = np.arange(20, dtype=np.float32)[:, None] * np.ones((1, 30), np.float32)
    down = spread(cells, (240, 360))[:, 100]
    assert np.diff(down)[12:-12] == pytest.approx(1 / 12, rel=1e-3)


class TestNoise:
    @pytest.mark.parametrize("side", [9, 10])
    def test_is_the_median_absolute_deviation(self, side):
        depth = np.random.default_rng(6).normal(0, 0.02, (side, side))
        depth = depth.astype(np.float32)
        wanted = 1.4826 * np.median(np.abs(depth - np.median(depth)))
        assert float(background_noise(depth, 32)[0, 0]) == pytest.approx(wanted)

    @pytest.mark.parametrize("sigma", [0.01, 0.03, 0.1])
    def test_normal_flicker(self, sigma):
        rng = np.random.default_rng(2)
        cells = background_noise(np.float32(rng.normal(0, sigma, (256, 320))), 32)
        assert cells.shape == (8, 10)
        # Efficiency of the median absolute deviation: 37 % (Huber 1981, memory).
        assert cells == pytest.approx(sigma, rel=5 / np.sqrt(2 * 0.37 * 32**2))
        assert cells.mean() == pytest.approx(sigma, rel=0.02)

    def test_voids_of_a_few_percent_do_not_move_it(self):
        rng = np.random.default_rng(3)
        depth = rng.normal(0, 0.02, (256, 256))
        depth[rng.random(depth.shape) < 0.05] = 0.9
        cells = background_noise(np.float32(depth), 32)
        assert cells.mean() == pytest.approx(0.02, rel=0.1)

    def test_it_is_local(self):
        rng = np.random.default_rng(4)
        depth = rng.normal(0, 0.01, (128, 256))
        depth[:, 128:] *= 8
        cells = background_noise(np.float32(depth), 32)
        assert cells[:, :3] == pytest.approx(0.01, rel=0.25)
        assert cells[:, 5:] == pytest.approx(0.08, rel=0.25)

    def test_outside_does_not_enter(self):
        rng = np.random.default_rng(5)
        depth = np.float32(rng.normal(0, 0.02, (128, 128)))
        depth[:, 40:] = np.nan
        assert background_noise(depth, 32) == pytest.approx(0.02, rel=0.2)

    @pytest.mark.parametrize("shape", [(1, 1), (3, 3), (1, 200), (31, 500)])
    def test_smaller_than_a_cell(self, shape):
        depth = np.float32(np.random.default_rng(6).normal(0, 0.02, shape))
        cells = background_noise(depth, 32)
        assert np.isfinite(cells).all()
        assert (cells > 0).all()

    def test_nothing_known(self):
        cells = background_noise(np.full((64, 64), np.nan, np.float32), 32)
        assert np.isfinite(cells).all()
        assert (cells > 0).all()
