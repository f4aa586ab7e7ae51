"""Checks against published figures and a library of another trade."""

import math

import numpy as np
import pytest
from photutils.segmentation import deblend_sources, detect_sources
from scipy import ndimage, stats

from analysis.imaging.photo import luminance
from analysis.synthetic import FaceRecipe, PitPopulation, draw_face
from analysis.voids.background import background_light
from tests.support.painting import noisy, painted, pitted, scattered, segmented


def point_count(counts, points):
    """Mean, s, 95 % interval and relative accuracy of fields, in percent.

    The form of ASTM E562: shares of points hit, Student's t over fields.
    """
    shares = 100 * np.asarray(counts) / points
    mean, s = shares.mean(), shares.std(ddof=1)
    reach = stats.t.ppf(0.975, len(shares) - 1) * s / np.sqrt(len(shares))
    return mean, s, reach, 100 * reach / mean


class TestPointCount:
    def test_helper_on_a_worked_set(self):
        """Own arithmetic: 20 fields of 100 points."""
        counts = [1, 0, 2, 1, 0, 1, 3, 0, 1, 1, 0, 2, 1, 0, 1, 0, 2, 1, 0, 1]
        told = point_count(counts, 100)
        assert told == pytest.approx((0.9, 0.85224, 0.39886, 44.32), rel=1e-4)

    def test_summed_area_lies_within_it(self):
        pits = PitPopulation(
            per_m2=14_000, median_mm=2.2, spread=0.4, smallest_mm=1, largest_mm=6
        )
        face = draw_face(
            FaceRecipe(height_px=700, width_px=900, mm_per_px=0.12, pits=(pits,)),
            seed=11,
        )
        found = segmented(face.pixels, smallest_px2=14, mm_per_px=0.12)
        share = 100 * found.voids.area_px.sum() / found.mask.size
        # 35 fields of 100 x 180 px, a point every 5 x 5 px.
        fields = found.mask.reshape(7, 100, 5, 180)[:, 2::5, :, 2::5]
        counts = fields.sum(axis=(1, 3)).ravel()
        mean, _, reach, _ = point_count(counts, fields[0, :, 0].size)
        assert share == pytest.approx(mean, abs=reach)
        assert share == pytest.approx(mean, rel=0.1)


class TestPoreSums:
    """ÖNORM B 2211, tables of porosity: per test area of 2500 cm2 no more than
    8, 15 and 23 cm2 of open pores are 0.3, 0.6 and 0.9 %.
    """

    MM_PER_PX = 0.5
    SIDE_PX = 1000

    @pytest.mark.parametrize(("pore_cm2", "percent"), [(8, 0.3), (15, 0.6), (23, 0.9)])
    def test_pores_of_known_size(self, pore_cm2, percent):
        diameter_mm = 8.0
        count = round(100 * pore_cm2 / (math.pi / 4 * diameter_mm**2))
        radius = diameter_mm / 2 / self.MM_PER_PX
        shape = (self.SIDE_PX, self.SIDE_PX)
        pits = scattered(shape, count, (radius, radius), np.random.default_rng(9))
        face = noisy(painted(pitted(shape, pits, blur_px=0.5)))
        found = segmented(face, smallest_px2=math.pi * 4, mm_per_px=self.MM_PER_PX)
        area_cm2 = found.voids.area_px.sum() * self.MM_PER_PX**2 / 100
        assert len(found.voids) == count
        assert area_cm2 == pytest.approx(pore_cm2, rel=0.06)
        # The table rounds 7.5 and 22.5 cm2 up to 8 and 23.
        share = 100 * found.voids.area_px.sum() / found.mask.size
        assert share == pytest.approx(percent, abs=0.06)


@pytest.mark.parametrize(
    ("sum_mm2", "diameter_mm", "count"),
    [
        (3000, 2, 955), (3000, 5, 153), (3000, 10, 38), (3000, 15, 17),
        (750, 2, 239), (750, 5, 38), (750, 10, 10), (750, 15, 4),
    ],
)  # fmt: skip
def test_pore_sum_as_a_number_of_pores(sum_mm2, diameter_mm, count):
    """Sums of pores per 0.25 m2, from memory; equivalents by own arithmetic.

    The pores are drawn and found one by one.
    """
    radius = 20.0
    found = segmented(painted(pitted((120, 120), [(60, 60, radius)], blur_px=0.5)))
    mm_per_px = diameter_mm / (2 * radius)
    one = found.voids.area_px.sum() * mm_per_px**2
    assert sum_mm2 / one == pytest.approx(count, rel=0.06)
    assert round(sum_mm2 / (math.pi / 4 * diameter_mm**2)) == count


class TestAgainstPhotutils:
    """Star-finding tools on the same levelled picture: plumbing, not truth."""

    SHAPE = (500, 700)

    def depth(self, pixels):
        light = luminance(pixels)
        return 1 - light / background_light(light, None, 12).spread()

    def test_detection(self):
        pits = scattered(self.SHAPE, 60, (3, 10), np.random.default_rng(12))
        pixels = noisy(painted(pitted(self.SHAPE, pits)))
        ours = segmented(pixels).voids
        theirs = detect_sources(self.depth(pixels), 0.46, n_pixels=9)
        assert len(ours) == theirs.n_labels == 60
        # Their threshold is half of every pit's depth here; ours is found anew.
        assert np.sort(ours.area_px) == pytest.approx(np.sort(theirs.areas), rel=0.2)
        assert ours.area_px.sum() == pytest.approx(theirs.areas.sum(), rel=0.08)

    def test_parting(self):
        rng = np.random.default_rng(13)
        pairs = scattered(self.SHAPE, 20, (20, 20), rng)
        turn = rng.uniform(0, np.pi, len(pairs))
        step = 10.4 * np.stack([np.sin(turn), np.cos(turn)], axis=1)
        pits = [
            (*(at[:2] + sign * off), 10)
            for at, off in zip(pairs, step, strict=True)
            for sign in (-1, 1)
        ]
        pixels = noisy(painted(pitted(self.SHAPE, pits)), 1)
        ours = segmented(pixels).voids
        depth = self.depth(pixels)
        found = detect_sources(depth, 0.46, n_pixels=9)
        inside = distance_inside(found.data > 0)
        theirs = deblend_sources(
            inside, found, n_pixels=9, contrast=0.05, progress_bar=False
        )
        assert found.n_labels < 30
        assert len(ours) == pytest.approx(theirs.n_labels, rel=0.15)
        assert len(ours) == pytest.approx(40, abs=5)
        assert ours.area_px.mean() == pytest.approx(theirs.areas.mean(), rel=0.3)


def distance_inside(mask):
    """Distance to the nearest pixel outside: what tells lobes apart."""
    return ndimage.distance_transform_edt(mask)
