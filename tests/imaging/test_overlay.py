import io

import numpy as np
import pytest
from PIL import Image

from analysis.imaging.overlay import OUTLINE_RGB, encoded, overlay, preview

GREY = np.full((120, 160, 3), 128, np.uint8)
SQUARE = np.array([[30.0, 40.0], [30.0, 100.0], [80.0, 100.0], [80.0, 40.0]])


def blueness(picture):
    """How much of the outlines' colour a pixel has, 0..1; greys and white have none."""
    off = picture[..., 2].astype(int) - picture[..., 0]
    return off / (OUTLINE_RGB[2] - OUTLINE_RGB[0])


def middle_of(picture, row=None, col=None):
    """Where the outline crosses a row or column: first and last crossing."""
    line = blueness(picture)[row] if row is not None else blueness(picture)[:, col]
    halves = np.array_split(np.arange(len(line)), 2)
    return [float(np.average(half, weights=line[half])) for half in halves]


@pytest.mark.parametrize("zoom", [0.5, 1.0, 2.0, 3.7])
def test_the_line_lands_where_the_void_is(zoom):
    picture = overlay(GREY, [SQUARE], zoom=zoom)
    assert picture.shape == (round(120 * zoom), round(160 * zoom), 3)
    # The centre of pixel p of the photo lies at (p + 0.5) * zoom - 0.5.
    expected = [(edge + 0.5) * zoom - 0.5 for edge in (40, 100)]
    found = middle_of(picture, row=round(55 * zoom))
    assert found == pytest.approx(expected, abs=0.1)
    expected = [(edge + 0.5) * zoom - 0.5 for edge in (30, 80)]
    assert middle_of(picture, col=round(70 * zoom)) == pytest.approx(expected, abs=0.1)


@pytest.mark.parametrize("zoom", [0.5, 2.0])
def test_the_photo_under_the_line_moves_with_it(zoom):
    photo = GREY.copy()
    photo[31:80, 41:100] = 250
    light = overlay(photo, [], zoom=zoom)[..., 0] > 190
    edges = np.flatnonzero(light[round(55 * zoom)])
    assert edges[0] == pytest.approx((40.5 + 0.5) * zoom - 0.5, abs=1)
    assert edges[-1] == pytest.approx((99.5 + 0.5) * zoom - 0.5, abs=1)


def test_sub_pixel_places_are_kept():
    moved = [
        middle_of(overlay(GREY, [SQUARE + by], zoom=8.0), row=444) for by in (0, 0.5)
    ]
    assert moved[1][0] - moved[0][0] == pytest.approx(4.0, abs=0.1)


def test_one_colour_with_a_light_rim():
    picture = overlay(GREY, [SQUARE], zoom=3.0).reshape(-1, 3).astype(int)
    part = (picture[:, 2] - picture[:, 0]) / (OUTLINE_RGB[2] - OUTLINE_RGB[0])
    full = picture[part > 0.9]
    assert len(full) > 50
    assert np.abs(full - OUTLINE_RGB).max() < 30
    # The rest is a mixture of that blue with white or with the photo.
    rest = picture[part <= 0.9]
    mixed = part[part <= 0.9, None]
    base = (rest - mixed * OUTLINE_RGB) / (1 - mixed)
    assert (base.max(axis=1) - base.min(axis=1)).max() < 25
    assert base.min() > 100
    assert (base > 230).any()


def test_dashes_leave_gaps_and_follow_the_line():
    dashed = blueness(overlay(GREY, [], dashed_px=[SQUARE], zoom=2.0)) > 0.5
    side = dashed[60:62, 85:200].any(axis=0)
    assert 0.3 < side.mean() < 0.8
    assert np.count_nonzero(np.diff(side.astype(int)) == 1) >= 4
    rows, cols = (at / 2 - 0.25 for at in np.nonzero(dashed))
    away = [np.abs(rows - 30), np.abs(rows - 80), np.abs(cols - 40), np.abs(cols - 100)]
    assert np.min(away, axis=0).max() <= 1.5


def test_the_face_is_white():
    picture = overlay(GREY, [], face_px=[SQUARE])
    assert np.abs(blueness(picture)).max() == 0
    assert picture[30, 70].min() > 230


def test_nothing_to_draw_is_the_photo():
    assert np.array_equal(overlay(GREY, []), GREY)


def test_the_photo_itself_stays_as_it_was():
    photo = GREY.copy()
    photo.flags.writeable = False
    overlay(photo, [SQUARE], dashed_px=[SQUARE], face_px=[SQUARE])
    assert np.array_equal(photo, GREY)


def test_a_void_of_one_pixel_is_seen():
    small = np.array([[29.5, 39.5], [29.5, 40.5], [30.5, 40.5], [30.5, 39.5]])
    for picture in (overlay(GREY, [small]), overlay(GREY, [], dashed_px=[small])):
        assert blueness(picture)[28:33, 38:43].max() > 0.5
        assert blueness(picture)[:25].max() == 0


def test_an_empty_line_draws_nothing():
    none = np.empty((0, 2))
    assert np.array_equal(overlay(GREY, [none], dashed_px=[none], face_px=[none]), GREY)


def test_lines_far_outside_are_cut_off():
    far = np.array([[-1e6, 50.0], [1e6, 50.0], [1e6, 60.0]])
    picture = overlay(GREY, [], face_px=[far])
    assert (picture[10:110, 50] > 200).all()


def test_a_mask_is_255_where_a_void_lies():
    mask = np.zeros((30, 40), bool)
    mask[3:6, 7:9] = True
    read = np.asarray(Image.open(io.BytesIO(encoded(mask))))
    assert read.dtype == np.uint8
    assert np.array_equal(read, np.where(mask, 255, 0))


@pytest.mark.parametrize("file_format", ["PNG", "JPEG"])
def test_pictures_come_back_as_they_went(file_format):
    picture = overlay(GREY, [SQUARE])
    read = Image.open(io.BytesIO(encoded(picture, file_format)))
    assert read.format == file_format
    off = np.abs(np.asarray(read).astype(int) - picture)
    assert off.mean() < (0.1 if file_format == "PNG" else 3)


@pytest.mark.parametrize(
    ("longest", "shape"),
    [(80, (60, 80)), (160, (120, 160)), (500, (120, 160)), (1, (1, 1))],
)
def test_previews_never_grow(longest, shape):
    assert preview(GREY, longest).shape[:2] == shape


def test_a_preview_keeps_the_mean():
    rng = np.random.default_rng(2)
    photo = rng.integers(0, 256, (120, 160, 3), dtype=np.uint8)
    assert preview(photo, 40).mean() == pytest.approx(photo.mean(), abs=0.5)
