from __future__ import annotations

import itertools
import math

import numpy as np
import pytest

from analysis.errors import FaceError, ScaleError
from analysis.imaging.straightening import plane_from_corners, straightened
from tests.support.cameras import face_to_photo, moved

FACE_MM = (400.0, 250.0)
CORNERS_MM = np.array([[0, 0], [400, 0], [400, 250], [0, 250]], float)
SHAPE = (1500, 2000)


def _corners(**pose):
    to_photo = face_to_photo(FACE_MM, **pose)
    return to_photo, moved(to_photo, CORNERS_MM)[:, ::-1]


@pytest.mark.parametrize(
    "pose", [{}, {"tilt_deg": 20}, {"tilt_deg": -12, "turn_deg": 25}]
)
def test_lengths_on_the_straightened_picture_are_true_everywhere(pose):
    to_photo, corners = _corners(**pose)

    view, scale = straightened(plane_from_corners(corners, *FACE_MM), SHAPE)

    back = np.linalg.inv(np.array(view.numbers).reshape(3, 3))
    for start, end in (
        ([10, 10], [60, 10]),
        ([350, 200], [350, 245]),
        ([20, 230], [380, 20]),
    ):
        ends = moved(back, moved(to_photo, np.array([start, end], float)))
        assert scale.mm_per_px * math.dist(*ends) == pytest.approx(
            math.dist(start, end)
        )
    assert scale.method == "corners"


def test_the_order_in_which_corners_are_marked_does_not_matter():
    _, corners = _corners(tilt_deg=15, roll_deg=8)
    wanted = plane_from_corners(corners, *FACE_MM).photo_to_mm

    for order in itertools.permutations(range(4)):
        found = plane_from_corners(corners[list(order)], *FACE_MM).photo_to_mm
        assert np.allclose(found, wanted)


def test_the_picture_is_as_fine_as_the_photo_in_the_middle_of_the_face():
    _, corners = _corners(tilt_deg=20)
    _, scale = straightened(plane_from_corners(corners, *FACE_MM), SHAPE)
    # Seen from 900 mm at 1500 px focal length, and shortened by the tilt.
    assert scale.mm_per_px == pytest.approx(
        0.6 / math.sqrt(math.cos(math.radians(20))), rel=0.02
    )


def test_its_uncertainty_is_that_of_clicks_that_are_off():
    _, corners = _corners(tilt_deg=15)
    told = plane_from_corners(corners, *FACE_MM).relative_uncertainty
    rng = np.random.default_rng(8)
    scales = [
        straightened(
            plane_from_corners(corners + rng.normal(0, 1.5, (4, 2)), *FACE_MM), SHAPE
        )[1].mm_per_px
        for _ in range(100)
    ]
    assert 0.3 * told < np.std(scales) / np.mean(scales) < told


@pytest.mark.parametrize(
    "corners",
    [
        [[0, 0], [0, 900], [700, 900], [200, 400]],
        [[0, 0], [0, 900], [700, 900], [350, 450]],
        [[0, 0], [0, 450], [0, 900], [700, 400]],
    ],
)
def test_corners_that_are_no_rectangle_seen_askew_are_refused(corners):
    with pytest.raises(FaceError, match="One of the four corners lies inside"):
        plane_from_corners(corners, *FACE_MM)


def test_corners_on_one_spot_are_refused():
    with pytest.raises(FaceError, match="Two corners are 10 px apart"):
        plane_from_corners([[0, 0], [0, 10], [700, 900], [700, 0]], *FACE_MM)


def test_five_corners_are_refused():
    with pytest.raises(FaceError, match="5 were given"):
        plane_from_corners([[0, 0], [0, 9], [9, 9], [9, 0], [4, 4]], *FACE_MM)


@pytest.mark.parametrize(
    ("size", "name"),
    [((0, 250), "width"), ((400, math.nan), "height"), ((400, -1), "height")],
)
def test_impossible_sizes_are_refused(size, name):
    _, corners = _corners()
    with pytest.raises(ScaleError, match=f"The face's {name}"):
        plane_from_corners(corners, *size)


def test_a_face_seen_along_it_is_refused():
    _, corners = _corners(tilt_deg=84)
    with pytest.raises(ScaleError, match="along the face too much"):
        straightened(plane_from_corners(corners, *FACE_MM), SHAPE)
