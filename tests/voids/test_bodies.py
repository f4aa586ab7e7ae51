"""Pits that hang on cracks, and lines without any."""

import cv2
import numpy as np
import pytest

from analysis.voids.bodies import bodies_apart
from analysis.voids.shapes import region_pixels, region_shapes
from tests.support.painting import GROUND, disc, noisy, painted, segmented

SHAPE = (300, 400)
CRACK = [(110, 165), (190, 140), (250, 160)]
ALONE = [(60, 60, 8), (240, 300, 7), (50, 250, 9)]


def cracked(pits):
    """Linear light of a crack, and pits on it and away from it."""
    light = np.full(SHAPE, GROUND)
    cv2.polylines(light, [np.int32(CRACK)], isClosed=False, color=0.03, thickness=3)
    for row, col, radius in pits + ALONE:
        cover = disc(SHAPE, row, col, radius)
        light = light * (1 - cover) + 0.02 * cover
    return cv2.GaussianBlur(light, (0, 0), 0.7)


def parted(region):
    labels = region.astype(np.int32)
    shapes = region_shapes(region_pixels(labels, 1))
    return bodies_apart(labels, shapes, np.zeros(1, bool))


class TestPitsOnACrack:
    @pytest.mark.parametrize(
        "pits",
        [[(165, 110, 11)], [(140, 190, 9)], [(165, 110, 11), (160, 250, 9)]],
    )
    def test_are_found_at_their_size(self, pits):
        found = segmented(noisy(painted(cracked(pits))))
        sizes = np.sort(found.voids.equivalent_diameter_px)
        true = sorted(2 * radius for _, _, radius in pits + ALONE)
        assert sizes == pytest.approx(true, rel=0.1)
        assert {"crack", "joint_or_fin"} & set(found.rejected.kind)

    def test_on_a_crack_longer_than_any_search_looks_for(self):
        light = np.full((500, 900), GROUND)
        across = np.int32([(0, 250), (400, 300), (899, 230)])
        cv2.polylines(light, [across], isClosed=False, color=0.03, thickness=3)
        for row, col, radius in [(300, 400, 11), (280, 250, 9), (100, 100, 8)]:
            cover = disc(light.shape, row, col, radius)
            light = light * (1 - cover) + 0.02 * cover
        found = segmented(noisy(painted(cv2.GaussianBlur(light, (0, 0), 0.7))))
        sizes = np.sort(found.voids.equivalent_diameter_px)
        assert sizes == pytest.approx([16, 18, 22], rel=0.1)

    def test_the_crack_between_them_is_none(self):
        found = segmented(noisy(painted(cracked([(165, 110, 11), (160, 250, 9)]))))
        assert not found.mask[130:175, 130:232].any()


class TestParting:
    @pytest.fixture
    def line(self):
        line = np.zeros((60, 200), bool)
        line[29:32, 5:195] = True
        return line

    def test_a_body_is_given_its_size_back(self, line):
        body = disc(line.shape, 30, 100, 12) > 0.5
        labels, origin, is_line = parted(line | body)
        assert origin.tolist() == [0, 0]
        assert is_line.tolist() == [True, False]
        assert (labels == 2).sum() == pytest.approx(body.sum(), rel=0.05)
        assert (labels > 0).sum() == (line | body).sum()

    def test_a_widening_under_twice_the_width_is_the_line(self, line):
        line[27:34, 80:120] = True
        labels, origin, is_line = parted(line)
        assert labels.max() == 1
        assert origin.tolist() == [0]
        assert not is_line.any()

    def test_what_is_left_whole_is(self, line):
        whole = (line | (disc(line.shape, 30, 100, 12) > 0.5)).astype(np.int32)
        shapes = region_shapes(region_pixels(whole, 1))
        labels, origin, is_line = bodies_apart(whole, shapes, np.ones(1, bool))
        assert labels is whole
        assert len(origin) == 1
        assert not is_line.any()

    def test_a_long_pit_without_a_line_has_no_body_apart(self):
        rows, cols = np.mgrid[:60, :200]
        pit = ((rows - 30) / 8) ** 2 + ((cols - 100) / 90) ** 2 < 1
        assert parted(pit)[1].tolist() == [0]
