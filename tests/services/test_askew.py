"""A face drawn, photographed at 20 degrees, and measured: the drawn share again."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.imaging.straightening import plane_from_corners
from analysis.imaging.viewing import to_view
from analysis.model.photo import Face
from analysis.services.measuring import measure
from analysis.services.photos import reading_overlay
from analysis.services.sheets import find_sheet, sheet_area, straightened
from analysis.synthetic import Camera, FaceRecipe, PitPopulation, draw_face
from tests.support.cameras import (
    face_to_photo,
    moved,
    paper_sheet,
    pasted,
    seen,
)
from tests.support.drawn_faces import photo_of

PX_PER_MM = 6.0
FACE_MM = (300.0, 200.0)
PHOTO_PX = (1500, 2000)
POSE = {"far_mm": 420.0, "photo_px": PHOTO_PX, "focal_px": 2200.0}
PITS = PitPopulation(
    per_m2=9_000,
    median_mm=3.5,
    spread=0.3,
    smallest_mm=2.0,
    largest_mm=7.0,
    touching_share=0.0,
)


@pytest.fixture(scope="module")
def face():
    recipe = FaceRecipe(
        height_px=round(FACE_MM[1] * PX_PER_MM),
        width_px=round(FACE_MM[0] * PX_PER_MM),
        mm_per_px=1 / PX_PER_MM,
        pits=(PITS,),
        camera=Camera(blur_px=0.5),
    )
    return draw_face(recipe, seed=11)


def _truth(face):
    return face.coverage.mean()


@pytest.mark.parametrize(("tilt", "turn"), [(20, 0), (0, -20), (14, 14)])
def test_by_corners_the_share_of_a_tilted_face_is_the_drawn_one(face, tilt, turn):
    to_photo = face_to_photo(FACE_MM, tilt_deg=tilt, turn_deg=turn, **POSE)
    photo = photo_of(seen(face.pixels, PX_PER_MM, to_photo, PHOTO_PX))
    width, height = FACE_MM
    square = np.array([[0, 0], [width, 0], [width, height], [0, height]])
    corners = moved(to_photo, square)[:, ::-1]

    view, scale = straightened(plane_from_corners(corners, *FACE_MM), PHOTO_PX)
    outline = to_view(
        view, moved(to_photo, 2 + square * (1 - 4 / np.array(FACE_MM)))[:, ::-1]
    )
    reading, mask = measure(
        photo, scale=scale, face=Face(outline_px=outline, view=view)
    )

    share = reading.summary.void_share
    assert share.value == pytest.approx(_truth(face), rel=0.05)
    assert share.low < _truth(face) < share.high
    assert reading.summary.face_area_mm2 == pytest.approx(
        (width - 4) * (height - 4), rel=0.01
    )
    assert (
        mask.shape
        == (reading.height_px, reading.width_px)
        == (view.height_px, view.width_px)
    )
    assert reading.photo_sha256 == photo.sha256
    assert reading_overlay(photo, reading).shape == (*mask.shape, 3)


def test_by_sheet_the_share_of_a_tilted_face_is_the_drawn_one(face):
    top = 20
    wide = np.full((face.pixels.shape[0] + 900, face.pixels.shape[1], 3), 128, np.uint8)
    wide[900:] = face.pixels
    together = pasted(wide, paper_sheet(PX_PER_MM), top, 40)
    size_mm = (FACE_MM[0], FACE_MM[1] + 150)
    large = (2250, 3000)
    pose = {"far_mm": 640.0, "photo_px": large, "focal_px": 3400.0}
    to_photo = face_to_photo(size_mm, tilt_deg=20, **pose)
    photo = photo_of(seen(together, PX_PER_MM, to_photo, large))

    plane, _ = find_sheet(photo.pixels)
    view, scale = straightened(plane, large)
    square = np.array([[2, 152], [298, 152], [298, 348], [2, 348.0]])
    outline = to_view(view, moved(to_photo, square)[:, ::-1])
    reading, _ = measure(
        photo,
        scale=scale,
        face=Face(
            outline_px=outline,
            left_out_px=(to_view(view, sheet_area(plane)),),
            view=view,
        ),
    )

    assert scale.method == "sheet"
    assert reading.summary.face_area_mm2 == pytest.approx(296 * 196, rel=0.02)
    share = reading.summary.void_share
    assert share.value == pytest.approx(_truth(face), rel=0.05)
