import numpy as np
import pytest

from analysis.imaging.overlay import OUTLINE_RGB
from analysis.model.photo import Face
from analysis.services import photos
from analysis.services.photos import reading_overlay
from tests.support.drawn_faces import HEIGHT, WIDTH, box, drawn, photo_of, reading_of
from tests.support.readings import catalog, reading


def blueness(picture):
    off = picture[..., 2].astype(int) - picture[..., 0]
    return off / (OUTLINE_RGB[2] - OUTLINE_RGB[0])


GREY = photo_of(np.full((HEIGHT, WIDTH, 3), 128, np.uint8))


@pytest.mark.parametrize(
    ("longest", "shape"),
    [(None, (300, 400)), (200, (150, 200)), (400, (300, 400)), (5000, (300, 400))],
)
def test_it_never_grows_and_keeps_its_shape(longest, shape):
    assert reading_overlay(GREY, reading(), longest_px=longest).shape == (*shape, 3)


def test_an_upright_photo_is_measured_by_its_longest_side():
    tall = photo_of(np.full((400, 100, 3), 128, np.uint8))
    assert reading_overlay(tall, reading(), longest_px=200).shape == (200, 50, 3)


def test_voids_are_blue_and_the_marks_of_the_face_are_not():
    void = catalog((400,), outline_px=(box(100, 50, 20, 20),))
    face = Face(outline_px=box(20, 20, 250, 350), left_out_px=(box(200, 200, 30, 30),))
    picture = reading_overlay(GREY, reading(void, face=face))
    blue = np.argwhere(blueness(picture) > 0.3)
    assert blue.min(axis=0) == pytest.approx([100, 50], abs=1.5)
    assert blue.max(axis=0) == pytest.approx([119, 69], abs=1.5)
    for row, col in ((20, 200), (215, 200), (200, 215)):
        assert picture[row - 1 : row + 2, col - 1 : col + 2].max() > 180


def test_honeycomb_is_dashed():
    patch = box(50, 50, 150, 200)
    picture = reading_overlay(GREY, reading(honeycomb_px=(patch,)))
    side = blueness(picture)[49:51, 60:240].max(axis=0) > 0.5
    assert 0.3 < side.mean() < 0.8


def test_each_void_of_a_reading_is_outlined_where_the_mask_has_it():
    photo = photo_of(np.array(drawn().pixels))
    found, mask = reading_of(photo)
    changed = (reading_overlay(photo, found) != photo.pixels).any(axis=2)
    for row, col in zip(found.voids.row_px, found.voids.col_px, strict=True):
        top, left = max(0, int(row) - 40), max(0, int(col) - 40)
        assert changed[top : int(row) + 40, left : int(col) + 40].any()
    # Lines run along the voids' edges: all drawn pixels lie near some void.
    rows, cols = np.nonzero(mask)
    near = np.zeros_like(mask)
    for down in range(-5, 6):
        for across in range(-5, 6):
            at = (
                np.clip(rows + down, 0, HEIGHT - 1),
                np.clip(cols + across, 0, WIDTH - 1),
            )
            near[at] = True
    assert not (changed & ~near).any()


def test_every_verb_is_there():
    for name in photos.__all__:
        assert callable(getattr(photos, name))
