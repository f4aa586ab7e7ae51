"""Shapes against closed forms and scikit-image."""

import cv2
import numpy as np
import pytest
from scipy import ndimage
from skimage.measure import regionprops

from analysis.voids.components import boxes
from analysis.voids.shapes import (
    inscribed_px,
    labelled,
    on_boundary,
    outlines,
    plump,
    region_pixels,
    region_shapes,
)
from tests.support.painting import ellipse

SHAPE = (120, 160)


def shapes_of(*masks):
    labels = np.zeros(masks[0].shape, np.int32)
    for number, mask in enumerate(masks, start=1):
        labels[mask] = number
    return region_shapes(region_pixels(labels, len(masks)))


def test_boxes_are_those_of_opencv():
    mask = np.random.default_rng(4).random(SHAPE) < 0.2
    count, labels, stats, _ = cv2.connectedComponentsWithStats(np.uint8(mask))
    flat = np.flatnonzero(mask)
    box = boxes(flat, labels.ravel()[flat], count, SHAPE[1])
    found = np.stack([box.left, box.top, box.width, box.height], axis=1)
    assert count > 50
    assert np.array_equal(found[1:], stats[1:, :4])


def block(top, left, rows, cols, shape=SHAPE):
    mask = np.zeros(shape, bool)
    mask[top : top + rows, left : left + cols] = True
    return mask


def turned_by(angle, other):
    """Angle between two undirected directions."""
    off = (angle - other) % np.pi
    return min(off, np.pi - off)


class TestClosedForms:
    @pytest.mark.parametrize("radius", [4.0, 9.5, 20.3, 45.0])
    def test_disc(self, radius):
        shapes = shapes_of(ellipse(SHAPE, 59.3, 80.2, radius, radius))
        assert shapes.row_px[0] == pytest.approx(59.3, abs=0.2)
        assert shapes.col_px[0] == pytest.approx(80.2, abs=0.2)
        assert shapes.pixel_count[0] == pytest.approx(np.pi * radius**2, rel=0.05)
        assert shapes.feret_max_px[0] == pytest.approx(2 * radius, abs=1)
        assert shapes.feret_min_px[0] == pytest.approx(2 * radius, abs=1)
        assert shapes.elongation[0] == pytest.approx(1, abs=0.4 / radius)
        assert shapes.solidity[0] > 0.93

    @pytest.mark.parametrize(("rows", "cols"), [(4, 4), (6, 30), (41, 9)])
    def test_rectangle(self, rows, cols):
        shapes = shapes_of(block(20, 30, rows, cols))
        assert shapes.row_px[0] == 20 + (rows - 1) / 2
        assert shapes.col_px[0] == 30 + (cols - 1) / 2
        assert shapes.pixel_count[0] == rows * cols
        # Second moment of a rectangle: side squared over 12.
        longer, shorter = max(rows, cols), min(rows, cols)
        assert shapes.elongation[0] == pytest.approx(longer / shorter)
        diagonal = np.hypot(rows - 1, cols - 1) + 1
        assert shapes.feret_max_px[0] == pytest.approx(diagonal, rel=0.002)
        assert shapes.feret_min_px[0] == pytest.approx(shorter)
        assert shapes.solidity[0] > 0.95

    @pytest.mark.parametrize("degrees", [0, 17, 45, 90, 111, 163])
    def test_ellipse_at_an_angle(self, degrees):
        turn = np.radians(degrees)
        shapes = shapes_of(ellipse(SHAPE, 60, 80, 40, 15, turn))
        assert turned_by(shapes.angle_rad[0], turn) < np.radians(1)
        assert shapes.elongation[0] == pytest.approx(40 / 15, rel=0.02)
        assert shapes.feret_max_px[0] == pytest.approx(80, abs=1)
        assert shapes.feret_min_px[0] == pytest.approx(30, abs=1.2)

    def test_solidity_of_an_l(self):
        mask = block(20, 20, 60, 60) & ~block(20, 50, 30, 30)
        # Three quarters of a square; its hull lacks one corner triangle.
        assert shapes_of(mask).solidity[0] == pytest.approx(0.75 / 0.875, rel=0.03)

    def test_support_reaches_as_far_as_the_region(self):
        shapes = shapes_of(block(20, 30, 11, 31))
        right, down, left, up = shapes.support_px[[0, 18, 36, 54], 0]
        assert [right, down, left, up] == pytest.approx([15.5, 5.5, 15.5, 5.5])


class TestTiny:
    """Public thread scikit-image 2660: odd figures of tiny and thin regions."""

    def test_one_pixel(self):
        shapes = shapes_of(block(5, 7, 1, 1))
        assert (shapes.row_px[0], shapes.col_px[0]) == (5, 7)
        assert shapes.elongation[0] == pytest.approx(1)
        assert shapes.feret_max_px[0] == pytest.approx(1)
        assert 0 < shapes.solidity[0] <= 1

    @pytest.mark.parametrize(("rows", "cols"), [(1, 10), (10, 1)])
    def test_line(self, rows, cols):
        shapes = shapes_of(block(5, 7, rows, cols))
        assert shapes.elongation[0] == pytest.approx(10)
        assert shapes.feret_max_px[0] == pytest.approx(10)
        assert shapes.feret_min_px[0] == pytest.approx(1)
        assert 0 < shapes.solidity[0] <= 1

    def test_small_random_regions_stay_in_range(self):
        rng = np.random.default_rng(4)
        labels, count = labelled(rng.random((200, 200)) < 0.2)
        shapes = region_shapes(region_pixels(labels, count))
        assert count > 500
        for figure in (shapes.elongation, shapes.solidity, shapes.feret_max_px):
            assert np.isfinite(figure).all()
        assert (shapes.elongation >= 1 - 1e-9).all()
        assert ((shapes.solidity > 0) & (shapes.solidity <= 1)).all()
        assert (shapes.feret_min_px <= shapes.feret_max_px).all()
        assert (shapes.feret_min_px >= 1 - 1e-9).all()

    def test_none(self):
        shapes = region_shapes(region_pixels(np.zeros(SHAPE, np.int32), 0))
        assert len(shapes.row_px) == len(shapes.solidity) == 0
        assert shapes.support_px.shape[1] == 0


class TestAgainstScikitImage:
    @pytest.fixture
    def both(self):
        rng = np.random.default_rng(8)
        labels = np.zeros((300, 400), np.int32)
        for number in range(1, 21):
            row, col = 30 + 60 * ((number - 1) // 5), 40 + 80 * ((number - 1) % 5)
            long, short = rng.uniform(14, 26), rng.uniform(5, 12)
            mask = ellipse(labels.shape, row, col, long, short, rng.uniform(0, np.pi))
            cut = ellipse(labels.shape, row - 8, col, short / 2, short / 2)
            labels[mask & ~cut] = number
        count = int(labels.max())
        return region_shapes(region_pixels(labels, count)), regionprops(labels)

    def test_area_and_centroid(self, both):
        shapes, theirs = both
        assert np.array_equal(shapes.pixel_count, [one.area for one in theirs])
        centres = np.array([one.centroid for one in theirs])
        assert np.allclose(np.stack([shapes.row_px, shapes.col_px], 1), centres)

    def test_axes(self, both):
        shapes, theirs = both
        ratio = [one.axis_major_length / one.axis_minor_length for one in theirs]
        assert shapes.elongation == pytest.approx(np.array(ratio), rel=0.02)
        # Theirs runs from the row axis towards the column axis.
        for angle, one in zip(shapes.angle_rad, theirs, strict=True):
            assert turned_by(angle, np.pi / 2 - one.orientation) < 1e-6

    def test_feret(self, both):
        shapes, theirs = both
        feret = [one.feret_diameter_max for one in theirs]
        assert shapes.feret_max_px == pytest.approx(np.array(feret), abs=0.8)

    def test_solidity(self, both):
        shapes, theirs = both
        solidity = [one.solidity for one in theirs]
        assert shapes.solidity == pytest.approx(np.array(solidity), abs=0.04)


def test_diagonal_pixels_are_one_region():
    """Public thread scikit-image 3668: 1 or 10 by the library's connectivity."""
    labels, count = labelled(np.eye(10, dtype=bool))
    assert count == 1
    assert labels.dtype == np.int32


def test_pixels_come_sorted_by_region():
    labels = np.array([[0, 2, 2], [1, 0, 3], [1, 1, 3]], np.int32)
    pixels = region_pixels(labels, 3)
    assert np.array_equal(pixels.label, [0, 0, 0, 1, 1, 2, 2])
    assert np.array_equal(labels[pixels.row, pixels.col], pixels.label + 1)
    assert np.array_equal(pixels.total(), [3, 2, 2])
    assert np.array_equal(pixels.total(np.arange(7.0)), [3, 7, 11])


class TestBoundary:
    def test_frame_of_a_block(self):
        pixels = region_pixels(np.int32(block(20, 30, 6, 8)), 1)
        inner = (pixels.row > 20) & (pixels.row < 25)
        inner &= (pixels.col > 30) & (pixels.col < 37)
        assert np.array_equal(on_boundary(pixels), ~inner)

    def test_photo_edge_and_neighbours_are_boundaries(self):
        labels = np.ones((5, 6), np.int32)
        labels[:, 3:] = 2
        boundary = np.zeros((5, 6), bool)
        pixels = region_pixels(labels, 2)
        boundary[pixels.row, pixels.col] = on_boundary(pixels)
        inner = np.zeros((5, 6), bool)
        inner[1:4, [1, 4]] = True
        assert np.array_equal(boundary, ~inner)


class TestOutlines:
    def test_follow_each_region(self):
        one, other = ellipse(SHAPE, 40, 40, 20, 12), block(70, 90, 20, 30)
        first, second = outlines(np.int32(one) + 2 * np.int32(other), 2)
        assert np.abs(first - [40, 40]).max(axis=0) == pytest.approx([12, 20])
        assert second.min(axis=0) == pytest.approx([70, 90])
        assert second.max(axis=0) == pytest.approx([89, 119])

    def test_touching_regions_keep_apart(self):
        labels = np.int32(block(20, 20, 20, 20)) + 2 * np.int32(block(20, 40, 20, 20))
        first, second = outlines(labels, 2)
        assert first[:, 1].max() <= 39
        assert second[:, 1].min() >= 40

    def test_regions_that_meet_at_a_corner_keep_apart(self):
        labels = np.int32(block(20, 20, 9, 9)) + 2 * np.int32(block(29, 29, 9, 9))
        first, second = outlines(labels, 2)
        assert first.max(axis=0).tolist() == [28, 28]
        assert second.max(axis=0).tolist() == [37, 37]

    def test_region_inside_another_has_one(self):
        labels = np.int32(block(20, 20, 30, 30))
        labels[26:44, 26:44] = 0
        labels[30:36, 30:36] = 2
        first, second = outlines(labels, 2)
        assert np.ptp(first, axis=0).tolist() == [29, 29]
        assert np.ptp(second, axis=0).tolist() == [5, 5]

    def test_line_beside_a_neighbour_has_one(self):
        labels = np.int32(block(20, 20, 20, 20)) + 2 * np.int32(block(20, 40, 20, 1))
        assert all(len(line) > 1 for line in outlines(labels, 2))

    def test_one_pixel_has_one(self):
        (line,) = outlines(np.int32(block(5, 7, 1, 1)), 1)
        assert line.tolist() == [[5, 7]]


class TestPlump:
    def regions(self, *masks):
        labels = np.zeros(SHAPE, np.int32)
        for number, mask in enumerate(masks, start=1):
            labels[mask] = number
        return labels, shapes_of(*masks)

    @pytest.mark.parametrize("radius", [4, 9, 20])
    def test_largest_disc_in_a_disc_is_itself(self, radius):
        labels, shapes = self.regions(ellipse(SHAPE, 60, 80, radius, radius))
        widest = inscribed_px(labels, np.array([0]), shapes)
        assert widest[0] == pytest.approx(2 * radius, abs=1.5)

    def test_largest_disc_in_a_block_is_as_wide_as_its_short_side(self):
        labels, shapes = self.regions(block(10, 10, 11, 90), block(60, 10, 30, 31))
        found = inscribed_px(labels, np.array([1, 0]), shapes)
        assert found == pytest.approx([30, 11], abs=1)

    def test_windows_are_those_of_scipy(self):
        rng = np.random.default_rng(5)
        masks = [
            ellipse(SHAPE, *rng.uniform(20, 90, 2), *rng.uniform(0.6, 9, 2))
            for _ in range(40)
        ]
        labels, count = ndimage.label(np.logical_or.reduce(masks), np.ones((3, 3)))
        shapes = region_shapes(region_pixels(labels, count))
        assert shapes.windows(np.arange(count)) == ndimage.find_objects(labels)

    def test_pits_have_a_body_and_lines_have_none(self):
        pit = ellipse(SHAPE, 20, 80, 40, 10)
        line = block(60, 10, 4, 140)
        tailed = block(100, 10, 3, 140) | ellipse(SHAPE, 100, 60, 8, 8)
        labels, shapes = self.regions(pit, line, tailed)
        assert plump(labels, np.arange(3), shapes).tolist() == [True, False, False]

    def test_none_chosen(self):
        labels, shapes = self.regions(block(10, 10, 4, 4))
        assert len(plump(labels, np.arange(0), shapes)) == 0


def test_thinness_is_the_axis_ratio_of_an_ellipse():
    shapes = shapes_of(ellipse(SHAPE, 60, 80, 40, 10, 0.3))
    assert shapes.thinness(shapes.pixel_count)[0] == pytest.approx(4, rel=0.03)
    assert shapes.thinness(2 * shapes.pixel_count)[0] == pytest.approx(2, rel=0.03)
