"""Small pictures: upright, of the right size, the outline where the face is."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from analysis.errors import PhotoError
from analysis.imaging.photo import read_photo, read_reduced
from analysis.imaging.thumbnail import THUMBNAIL_PX, thumbnail
from analysis.model.photo import Face
from analysis.model.view import View


def photo_file(rows=1200, cols=1600, *, file_format="JPEG", turn=1):
    ramp = np.linspace(60, 200, cols)[None, :] * np.ones((rows, 1))
    file = io.BytesIO()
    exif = Image.Exif()
    exif[0x0112] = turn
    image = Image.fromarray(ramp.astype(np.uint8)).convert("RGB")
    image.save(file, file_format, exif=exif)
    return file.getvalue()


def blue_of(jpeg):
    picture = np.asarray(Image.open(io.BytesIO(jpeg)).convert("RGB")).astype(int)
    return picture[..., 2] - picture[..., 0]


@pytest.mark.parametrize("file_format", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("turn", [1, 6])
def test_reduced_photo_is_the_photo_reduced(file_format, turn):
    data = photo_file(file_format=file_format, turn=turn)
    whole = read_photo(data).pixels

    small, zoom = read_reduced(data, longest_px=160)

    assert zoom == 0.1
    assert small.shape == (whole.shape[0] // 10, whole.shape[1] // 10, 3)
    blocks = whole.reshape(small.shape[0], 10, small.shape[1], 10, 3).mean((1, 3))
    assert np.abs(blocks - small).max() < 6


def test_small_photo_keeps_its_size():
    small, zoom = read_reduced(photo_file(30, 40), longest_px=320)

    assert (small.shape, zoom) == ((30, 40, 3), 1.0)


@pytest.mark.parametrize("data", [b"", b"no photo", photo_file()[:3000]])
def test_what_cannot_be_read_is_refused(data):
    with pytest.raises(PhotoError, match=r"can be read|cut short"):
        read_reduced(data, longest_px=100)


def test_outline_lies_where_the_face_is():
    face = Face(
        outline_px=np.array([[200.0, 400], [200, 1200], [900, 1200], [900, 400]])
    )

    blue = blue_of(thumbnail(photo_file(), "", face)) > 60

    rows, cols = np.nonzero(blue)
    zoom = THUMBNAIL_PX / 1600
    assert (rows.min(), rows.max()) == pytest.approx((200 * zoom, 900 * zoom), abs=3)
    assert (cols.min(), cols.max()) == pytest.approx((400 * zoom, 1200 * zoom), abs=3)


def test_no_outline_is_drawn_where_the_photo_is_all_face():
    assert blue_of(thumbnail(photo_file(), "", Face())).max() < 30
    assert blue_of(thumbnail(photo_file(), "", None)).max() < 30


@pytest.mark.parametrize("outlined", [True, False])
def test_outline_of_a_view_is_carried_to_the_photo(outlined):
    # The view is the photo's middle at half the size: px 2 x + 400, 2 y + 200.
    view = View(
        kind="straightened",
        height_px=400,
        width_px=400,
        mm_per_px=0.4,
        numbers=(2.0, 0.0, 400.0, 0.0, 2.0, 200.0, 0.0, 0.0, 1.0),
    )
    line = np.array([[0.0, 0], [0, 399], [399, 399], [399, 0]]) if outlined else None

    blue = blue_of(thumbnail(photo_file(), "", Face(outline_px=line, view=view))) > 60

    rows, cols = np.nonzero(blue)
    zoom = THUMBNAIL_PX / 1600
    assert (rows.min(), rows.max()) == pytest.approx((200 * zoom, 998 * zoom), abs=3)
    assert (cols.min(), cols.max()) == pytest.approx((400 * zoom, 1198 * zoom), abs=3)
