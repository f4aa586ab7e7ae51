from __future__ import annotations

import numpy as np
import pytest

from analysis.errors import PhotoError, ScaleError
from analysis.imaging.straightening import plane_from_corners, straightened
from analysis.imaging.viewing import seen, to_photo, to_view
from analysis.model.view import Plane, View
from tests.support.cameras import face_to_photo, moved
from tests.support.drawn_faces import photo_of

SIZE_MM = (400.0, 250.0)


def _tilted():
    to_px = face_to_photo(SIZE_MM, tilt_deg=20, photo_px=(600, 800), focal_px=600)
    corners = moved(to_px, np.array([[0, 0], [400, 0], [400, 250], [0, 250.0]]))
    plane = plane_from_corners(corners[:, ::-1], *SIZE_MM)
    return straightened(plane, (600, 800))[0]


def _photo():
    return photo_of(np.full((600, 800, 3), 120, np.uint8))


def test_marks_go_to_the_view_and_back():
    view = _tilted()
    marks = np.array([[200.0, 300.0], [320.5, 410.25]])
    assert np.allclose(to_photo(view, to_view(view, marks)), marks)


def test_the_view_keeps_the_file_and_is_made_once():
    view = _tilted()
    shown = seen(_photo(), view)
    assert shown.sha256 == _photo().sha256
    assert shown.key != _photo().key
    assert seen(shown, view) is shown
    assert shown.pixels.shape == (view.height_px, view.width_px, 3)
    assert (shown.pixels == 120).all()


def test_what_lies_outside_the_photo_is_no_face():
    view = _tilted()
    shown = seen(_photo(), view)
    rows, cols = np.mgrid[: view.height_px, : view.width_px]
    at = to_photo(view, np.stack([rows, cols], axis=-1).reshape(-1, 2).astype(float))
    outside = (at < -0.5).any(axis=1) | (at[:, 0] > 599.5) | (at[:, 1] > 799.5)
    assert 0 < outside.mean() < 0.6
    assert not shown.opaque.ravel()[outside].any()
    assert shown.opaque.mean() == pytest.approx(1 - outside.mean(), abs=0.01)


def test_a_cut_out_stays_cut_out():
    pixels = np.full((600, 800, 4), 120, np.uint8)
    pixels[..., 3] = 255
    pixels[:, 400:, 3] = 0
    shown = seen(photo_of(pixels), _tilted())
    assert not shown.opaque[:, -10:].any()


def test_a_view_of_a_view_is_refused():
    shown = seen(_photo(), _tilted())
    with pytest.raises(PhotoError, match="from the photo only"):
        seen(shown, None)


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"kind": "fisheye"}, "Kind of view"),
        ({"width_px": 0}, "Side of the view"),
        ({"mm_per_px": 0}, "Scale"),
        ({"numbers": (float("nan"),)}, "A view's number"),
    ],
)
def test_impossible_views_are_refused(change, said):
    usual = {"kind": "straightened", "height_px": 9, "width_px": 9, "mm_per_px": 1.0}
    with pytest.raises(ScaleError, match=said):
        View(**({"numbers": (1.0,) * 9} | usual | change))


def test_a_plane_without_a_matrix_is_refused():
    with pytest.raises(ScaleError, match="3 x 3"):
        Plane(
            photo_to_mm=np.eye(2),
            centre_px=(0, 0),
            relative_uncertainty=0.1,
            method="sheet",
        )
