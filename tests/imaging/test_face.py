import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analysis.errors import FaceError
from analysis.imaging.face import (
    SMALLEST_FACE_PX,
    continue_outside,
    face_mask,
    joint_band_mask,
    polygon_mask,
)
from analysis.model.photo import Face, JointLine, Photo

SHAPE = (60, 80)


def photo(shape=SHAPE, opaque=None):
    pixels = np.full((*shape, 3), 150, np.uint8)
    return Photo(
        pixels=pixels, opaque=opaque, sha256="0" * 64, name="", file_format="PNG"
    )


def box(top, left, bottom, right):
    return np.array(
        [[top, left], [top, right], [bottom, right], [bottom, left]], dtype=float
    )


def inside_one_by_one(polygon, shape):
    """Even-odd rule pixel by pixel: a ray to the right, sides half-open in rows."""
    mask = np.zeros(shape, bool)
    for row in range(shape[0]):
        for col in range(shape[1]):
            crossings = 0
            for (r1, c1), (r2, c2) in zip(
                polygon, np.roll(polygon, -1, axis=0), strict=True
            ):
                if (r1 <= row) != (r2 <= row):
                    crossings += c1 + (row - r1) / (r2 - r1) * (c2 - c1) > col
            mask[row, col] = crossings % 2
    return mask


corners = st.lists(
    st.tuples(st.floats(-10, 40), st.floats(-10, 40)), min_size=3, max_size=9
).map(lambda pairs: np.array(pairs, dtype=float))


class TestPolygonMask:
    def test_box_by_counting(self):
        assert polygon_mask(box(9.5, 19.5, 29.5, 59.5), SHAPE).sum() == 20 * 40

    def test_whole_photo(self):
        assert polygon_mask(box(-0.5, -0.5, 59.5, 79.5), SHAPE).all()

    def test_triangle_by_its_closed_form(self):
        # Lattice points (r, c) with r, c >= 0 and r + c < n: n (n + 1) / 2.
        triangle = np.array([[-0.25, -0.25], [-0.25, 39.75], [39.75, -0.25]])
        assert polygon_mask(triangle, (60, 60)).sum() == 40 * 41 / 2

    def test_disc_by_its_area(self):
        angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
        disc = 100 + 80.3 * np.column_stack([np.sin(angle), np.cos(angle)])
        assert polygon_mask(disc, (200, 200)).sum() == pytest.approx(
            math.pi * 80.3**2, rel=0.002
        )

    @given(polygon=corners)
    @settings(max_examples=60, deadline=None)
    def test_same_as_pixel_by_pixel(self, polygon):
        shape = (25, 30)
        ours, theirs = polygon_mask(polygon, shape), inside_one_by_one(polygon, shape)
        # A pixel centre on a side may go either way by rounding, no other may.
        assert np.count_nonzero(ours != theirs) <= 2

    @given(polygon=corners, turns=st.integers(0, 8))
    @settings(max_examples=60, deadline=None)
    def test_where_it_begins_and_which_way_it_runs_do_not_matter(self, polygon, turns):
        expected = polygon_mask(polygon, (25, 30))
        for other in (np.roll(polygon, turns, axis=0), polygon[::-1]):
            assert np.array_equal(polygon_mask(other, (25, 30)), expected)

    @given(
        meet=st.tuples(st.floats(1, 38), st.floats(1, 38)),
        across=st.tuples(st.floats(0, 39), st.floats(0, 39)),
    )
    @settings(max_examples=60, deadline=None)
    def test_neighbours_share_no_pixel_and_lose_none(self, meet, across):
        left = np.array([[-1, -1], [-1, across[0]], meet, [40, across[1]], [40, -1]])
        right = np.array([[-1, across[0]], [-1, 41], [40, 41], [40, across[1]], meet])
        one, other = (polygon_mask(part, (40, 40)) for part in (left, right))
        assert not (one & other).any()
        assert (one | other).all()

    def test_a_side_through_pixel_centres_gives_them_to_one_neighbour(self):
        one, other = (
            polygon_mask(part, SHAPE)
            for part in (box(0, 0, 10, 20), box(0, 20, 10, 40))
        )
        assert one[0:10, 0:20].all()
        assert other[0:10, 20:40].all()
        assert one.sum() == other.sum() == 200

    def test_outside_is_cut_off(self):
        assert polygon_mask(box(-1e6, -1e6, 9.5, 9.5), SHAPE).sum() == 100
        assert not polygon_mask(box(100, 100, 200, 200), SHAPE).any()
        assert not polygon_mask(box(10, -50, 20, -10), SHAPE).any()

    @pytest.mark.parametrize("fall", [1e-320, 1e-12])
    def test_a_side_that_hardly_falls(self, fall):
        flat = np.array([[0.0, 0.0], [fall, 70.0], [30.0, 70.0], [30.0, 0.0]])
        assert polygon_mask(flat, SHAPE).sum() == pytest.approx(30 * 70, abs=70)


class TestFaceMask:
    def test_without_an_outline_all_is_face(self):
        assert face_mask(photo(), Face()).all()

    def test_transparent_pixels_are_no_face(self):
        opaque = np.zeros(SHAPE, bool)
        opaque[:20] = True
        mask = face_mask(
            photo(opaque=opaque), Face(outline_px=box(9.5, -0.5, 50, 79.5))
        )
        assert mask.sum() == 10 * 80
        assert mask[10:20].all()

    def test_left_out_areas_are_no_face(self):
        face = Face(
            outline_px=box(-0.5, -0.5, 39.5, 39.5),
            left_out_px=(box(4.5, 4.5, 14.5, 14.5), box(29.5, 29.5, 90, 90)),
        )
        mask = face_mask(photo(), face)
        assert mask.sum() == 1600 - 100 - 100
        assert not mask[5:15, 5:15].any()

    def test_overlapping_left_out_areas_count_once(self):
        area = box(4.5, 4.5, 14.5, 14.5)
        mask = face_mask(photo(), Face(left_out_px=(area, area)))
        assert mask.sum() == 60 * 80 - 100

    def test_partly_outside_is_cut_off(self):
        assert (
            face_mask(photo(), Face(outline_px=box(-99, -99, 19.5, 9.5))).sum() == 200
        )

    def test_wholly_outside(self):
        with pytest.raises(FaceError, match="lies outside the photo of 80 x 60 px"):
            face_mask(photo(), Face(outline_px=box(100, 100, 200, 200)))

    def test_nothing_left(self):
        face = Face(outline_px=box(0, 0, 30, 30), left_out_px=(box(-1, -1, 40, 40),))
        with pytest.raises(
            FaceError, match="Only 0 px of the face are left to measure"
        ):
            face_mask(photo(), face)

    def test_just_enough_left(self):
        assert face_mask(photo(), Face(outline_px=box(0, 0, 10, 10))).sum() == 100
        with pytest.raises(FaceError, match=f"at least {SMALLEST_FACE_PX} are needed"):
            face_mask(photo(), Face(outline_px=box(0, 0, 11, 9)))

    @pytest.mark.parametrize(
        "outline",
        [
            [[0, 0], [0, 50], [50, 0], [50, 50]],
            [[0, 0], [40, 40], [0, 40], [40, 0], [60, 20]],
        ],
    )
    def test_crossing(self, outline):
        face = Face(outline_px=np.array(outline, dtype=float))
        with pytest.raises(FaceError, match="outline crosses itself: mark the corners"):
            face_mask(photo(), face)

    @pytest.mark.parametrize(
        "outline",
        [[[0, 0], [10, 10], [40, 40]], [[5, 5]] * 4, [[3, 1], [3, 9], [3, 70]]],
    )
    def test_no_area(self, outline):
        with pytest.raises(FaceError, match="has no area: its corners lie on one line"):
            face_mask(photo(), Face(outline_px=np.array(outline, float)))

    def test_a_corner_given_twice_and_one_along_a_side_do_no_harm(self):
        outline = np.array(
            [[0, 0], [0, 0], [0, 20], [0, 40], [40, 40], [40, 0], [0, 0]]
        )
        assert face_mask(photo(), Face(outline_px=outline.astype(float))).sum() == 1600

    def test_many_corners_are_taken_and_too_many_refused(self):
        angle = np.linspace(0, 2 * np.pi, 2001, endpoint=False)
        ring = 30 + 25 * np.column_stack([np.sin(angle), np.cos(angle)])
        assert face_mask(photo(), Face(outline_px=ring[:-1])).sum() > 1900
        with pytest.raises(FaceError, match="has 2001 corners, at most 2000 are taken"):
            face_mask(photo(), Face(outline_px=ring))


def away_from(line, shape):
    """Distance of each pixel centre from a polyline, segment by segment."""
    at = np.stack(np.mgrid[: shape[0], : shape[1]], axis=-1).astype(float)
    nearest = np.full(shape, np.inf)
    for begin, end in pairwise(line):
        way = end - begin
        length2 = max(float(way @ way), 1e-30)
        along = np.clip(((at - begin) @ way) / length2, 0, 1)
        gone = at - (begin + along[..., None] * way)
        nearest = np.minimum(nearest, np.hypot(gone[..., 0], gone[..., 1]))
    return nearest


class TestJointBand:
    def test_no_joint_no_band(self):
        assert not joint_band_mask((), 5.0, SHAPE).any()

    def test_a_line_down_the_photo_by_counting(self):
        line = JointLine(line_px=np.array([[-50.0, 40.0], [150.0, 40.0]]))
        assert joint_band_mask((line,), 3.0, SHAPE).sum() == 60 * 7
        assert joint_band_mask((line,), 3.5, SHAPE).sum() == 60 * 7

    def test_rounded_ends_by_area(self):
        line = JointLine(line_px=np.array([[100.2, 60.3], [100.2, 160.3]]))
        area = joint_band_mask((line,), 30.0, (200, 220)).sum()
        assert area == pytest.approx(100 * 60 + math.pi * 900, rel=0.005)

    @given(
        line=st.lists(
            st.tuples(st.floats(-20, 80), st.floats(-20, 80)), min_size=2, max_size=4
        ).map(lambda pairs: np.array(pairs, dtype=float)),
        band_px=st.floats(0.1, 40),
    )
    @settings(max_examples=100, deadline=None)
    def test_same_as_the_distance_from_the_line(self, line, band_px):
        found = joint_band_mask((JointLine(line_px=line),), band_px, SHAPE)
        distance = away_from(line, SHAPE)
        assert found[distance < band_px - 1e-6].all()
        assert not found[distance > band_px + 1e-6].any()

    def test_a_line_just_outside_the_photo_still_has_its_band(self):
        line = JointLine(line_px=np.array([[-3.0, -10.0], [-3.0, 90.0]]))
        band = joint_band_mask((line,), 5.0, SHAPE)
        assert band[:3].all()
        assert not band[3:].any()

    def test_two_joints_are_joined(self):
        down = JointLine(line_px=np.array([[0.0, 10.0], [59.0, 10.0]]))
        across = JointLine(line_px=np.array([[10.0, 0.0], [10.0, 79.0]]))
        both = joint_band_mask((down, across), 2.0, SHAPE)
        one, other = (joint_band_mask((line,), 2.0, SHAPE) for line in (down, across))
        assert np.array_equal(both, one | other)

    def test_far_away_is_no_band(self):
        line = JointLine(line_px=np.array([[1e6, -1e6], [1e6, 1e6]]))
        assert not joint_band_mask((line,), 50.0, SHAPE).any()

    def test_a_point_is_a_disc(self):
        line = JointLine(line_px=np.array([[30.0, 40.0], [30.0, 40.0]]))
        # Gauss's circle: lattice points within 5 of the origin are 81.
        assert joint_band_mask((line,), 5.0, SHAPE).sum() == 81


class TestContinueOutside:
    def test_inside_stays_and_outside_takes_the_mean_beside_it(self):
        rng = np.random.default_rng(8)
        light = rng.random(SHAPE, dtype=np.float32)
        face = polygon_mask(box(9.5, 19.5, 39.5, 59.5), SHAPE)
        given = light.copy()
        continue_outside(light, face)
        assert np.array_equal(light[face], given[face])
        # Three px above the face only its top row is within reach.
        assert light[7, 40] == pytest.approx(given[10, 37:44].mean(), abs=1e-6)
        assert light[9, 40] == pytest.approx(given[10:13, 37:44].mean(), abs=1e-6)

    def test_farther_off_nothing_changes(self):
        light = np.zeros(SHAPE, np.float32)
        face = polygon_mask(box(9.5, 19.5, 39.5, 59.5), SHAPE)
        light[face] = 0.5
        continue_outside(light, face)
        assert (light[7:43, 17:63] == 0.5).all()
        assert light.sum() == pytest.approx(0.5 * 36 * 46)

    def test_a_hole_is_bridged_at_its_rim(self):
        light = np.full(SHAPE, 0.4, np.float32)
        light[30, 40] = 0.0
        face = np.ones(SHAPE, bool)
        face[30, 40] = False
        continue_outside(light, face)
        assert light == pytest.approx(np.full(SHAPE, 0.4))

    def test_a_face_all_over_changes_nothing(self):
        light = np.linspace(0, 1, 4800, dtype=np.float32).reshape(SHAPE)
        given = light.copy()
        continue_outside(light, np.ones(SHAPE, bool))
        assert np.array_equal(light, given)
