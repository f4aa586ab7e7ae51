import numpy as np
import pytest

from analysis.errors import FaceError
from analysis.model.photo import SCALE_METHODS, Face, JointLine, Photo, Scale


def test_a_photo_tells_its_size():
    pixels = np.zeros((30, 40, 3), np.uint8)
    photo = Photo(pixels=pixels, opaque=None, sha256="", name="", file_format="PNG")
    assert (photo.height_px, photo.width_px) == (30, 40)


@pytest.mark.parametrize("method", SCALE_METHODS)
def test_every_way_to_a_scale_is_taken(method):
    assert Scale(mm_per_px=1, relative_uncertainty=0.5, method=method).method == method


def test_marks_are_sealed_copies():
    corners = np.array([[0.0, 0.0], [0.0, 9.0], [9.0, 9.0]])
    joint = JointLine(line_px=corners, name="left")
    face = Face(outline_px=corners, left_out_px=[corners], joints=(joint,))
    corners[:] = 99
    for kept in (face.outline_px, face.left_out_px[0], face.joints[0].line_px):
        assert kept.max() == 9
        assert not kept.flags.writeable


def test_lists_will_do_for_points():
    face = Face(outline_px=[[0, 0], [0, 9], [9, 9]])
    assert face.outline_px.dtype == np.float64


def test_usual_band_of_a_joint():
    assert Face().joint_band_mm == 15.0


@pytest.mark.parametrize("band", [0, -1, float("nan"), 1001, "15", None])
def test_impossible_bands(band):
    with pytest.raises(FaceError, match="Width of the joint band must be"):
        Face(joint_band_mm=band)
