"""The ghost of a first photo on a second one, as both were taken."""

import cv2
import numpy as np
import pytest

from analysis.errors import InputError
from analysis.imaging.photo import read_photo
from analysis.services.ghost import ghost_of, ghost_on


def photo_of(pixels):
    return read_photo(cv2.imencode(".png", pixels)[1].tobytes())


def board(left, *, size=(120, 160)):
    """A light board on dark ground, its left edge there."""
    pixels = np.full((*size, 3), 60, np.uint8)
    pixels[30:90, left : left + 80] = 180
    return photo_of(pixels)


def inked(picture):
    """Where the ghost is drawn: what is plainly blue."""
    return picture[..., 2].astype(int) - picture[..., 0] > 60


def test_edges_of_the_first_lie_where_they_are_in_the_first():
    here = inked(ghost_on(board(40), board(60), longest_px=160))

    columns = np.flatnonzero(here[60])
    assert columns.min() == pytest.approx(40, abs=3)
    assert columns.max() == pytest.approx(120, abs=3)
    assert not here[60, 57:63].any()


def test_the_second_is_seen_as_it_was_taken():
    picture = ghost_on(board(40), board(60), longest_px=160)

    away = ~cv2.dilate(inked(picture).astype(np.uint8), np.ones((9, 9))).astype(bool)
    assert np.abs(picture[away].astype(int) - board(60).pixels[away]).max() <= 2


def test_a_plain_first_draws_nothing():
    plain = photo_of(np.full((120, 160, 3), 150, np.uint8))

    assert np.array_equal(ghost_on(plain, board(60), longest_px=160), board(60).pixels)


def test_an_upright_second_is_shown_whole_in_a_lying_frame():
    upright = photo_of(np.full((160, 120, 3), 200, np.uint8))
    plain = photo_of(np.full((120, 160, 3), 150, np.uint8))

    picture = ghost_on(plain, upright, longest_px=80)

    assert picture.shape == (60, 80, 3)
    light = np.flatnonzero((picture == 200).all(axis=(0, 2)))
    assert (light.min(), light.max()) == pytest.approx((17.5, 61.5), abs=1)


def test_edges_alone_cover_what_lies_below_only_where_they_are():
    ghost = ghost_of(board(40), longest_px=160)

    columns = np.flatnonzero(ghost[60, :, 3] > 128)
    assert columns.min() == pytest.approx(40, abs=3)
    assert columns.max() == pytest.approx(120, abs=3)
    assert not ghost[60, 60:100, 3].any()
    assert (ghost[..., :3] == ghost[0, 0, :3]).all()


@pytest.mark.parametrize("longest_px", [0, 15, float("nan")])
def test_a_size_that_cannot_be_is_refused(longest_px):
    with pytest.raises(InputError, match="The longest side"):
        ghost_on(board(40), board(40), longest_px=longest_px)
    with pytest.raises(InputError, match="The longest side"):
        ghost_of(board(40), longest_px=longest_px)
