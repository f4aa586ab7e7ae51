"""Marks of earlier photos, a first outline, and a first look at a photo."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from analysis.flags import Flag
from analysis.model.log import Piece, Pour
from analysis.model.photo import Face, JointLine
from analysis.model.workshop import Form
from analysis.services import marking
from analysis.services.log import open_log, save_with_new_piece
from analysis.services.photos import read_photo, scale_typed
from tests.support.drawn_faces import (
    HEIGHT,
    MM_PER_PX,
    WIDTH,
    drawn,
    photo_of,
    reading_of,
)
from tests.support.pictures import file_of

OUTLINE = np.array([[9.0, 9.0], [9.0, 380.0], [290.0, 380.0], [290.0, 9.0]])
LINE = np.array([[0.0, 200.0], [HEIGHT - 1.0, 200.0]])


@pytest.fixture(scope="module")
def kept(tmp_path_factory):
    log = open_log(tmp_path_factory.mktemp("log"))
    data = file_of(np.array(drawn().pixels))
    photo = read_photo(data, "face.png")
    face = Face(
        outline_px=OUTLINE,
        joints=(JointLine(line_px=LINE, name="left"),),
        up="right",
        name="front",
    )
    found, _ = reading_of(photo, face=face)
    save_with_new_piece(
        log,
        piece=Piece(name="1", pour_id=0),
        pour=Pour(name="P1", cast_on=date(2026, 3, 2)),
        form=Form(name="Trough A"),
        photo_bytes=data,
        photo=photo,
        reading=found,
        save_token="1",
    )
    return log


def test_marks_of_a_form_carry_over(kept):
    photo = photo_of(np.full((HEIGHT, WIDTH, 3), 150, np.uint8))
    found = marking.remembered_faces(kept, 1, photo)["front"]

    assert np.allclose(found.outline_px, OUTLINE)
    assert found.joints[0].name == "left"
    assert found.up == "right"


def test_marks_are_resized_with_the_photo(kept):
    photo = photo_of(np.full((2 * HEIGHT, 2 * WIDTH, 3), 150, np.uint8))
    found = marking.remembered_faces(kept, 1, photo)["front"]

    assert np.allclose(found.outline_px, 2 * OUTLINE + 0.5)


def test_photo_of_another_shape_gets_no_marks(kept):
    photo = photo_of(np.full((WIDTH, HEIGHT, 3), 150, np.uint8))

    assert marking.remembered_faces(kept, 1, photo) == {}
    assert marking.remembered_faces(kept, 2, photo) == {}


def look(pixels, *, mm_per_px=MM_PER_PX, face=None, smallest_mm=None):
    return marking.first_look(
        photo_of(pixels),
        scale=None if mm_per_px is None else scale_typed(mm_per_px),
        face=face or Face(),
        smallest_mm=smallest_mm,
    )


def test_good_photo_has_nothing_to_say():
    assert look(np.array(drawn().pixels)) == ()


def test_glare_dark_and_small_sizes_are_said():
    good = np.array(drawn().pixels)
    glare, dark = good.copy(), (good // 25).astype(np.uint8)
    glare[100:200, 150:260] = 255

    assert Flag.CLIPPED_BRIGHT in look(glare)
    assert Flag.TOO_DARK in look(dark)
    assert Flag.LOW_RESOLUTION in look(good, smallest_mm=0.3)


def test_small_face_is_said():
    small = np.array([[10.0, 10.0], [10.0, 80.0], [80.0, 80.0], [80.0, 10.0]])

    assert Flag.SMALL_FACE in look(
        np.array(drawn().pixels), face=Face(outline_px=small)
    )


def test_blur_is_said_before_measuring():
    from skimage.filters import gaussian  # noqa: PLC0415  used here only

    soft = gaussian(np.array(drawn().pixels) / 255, 5, channel_axis=2) * 255

    assert Flag.BLURRED in look(soft.round().astype(np.uint8))
