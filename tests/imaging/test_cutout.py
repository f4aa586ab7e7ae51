"""Pieces of faces at one scale."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.imaging.cutout import cutout, face_extent_mm
from analysis.model.photo import Face

OUTLINE = np.array([[20.0, 40.0], [20.0, 140.0], [80.0, 140.0], [80.0, 40.0]])


def with_spot(side_px, *, shape=(100, 180), at=(50, 90)):
    pixels = np.full((*shape, 3), 200, np.uint8)
    half = side_px // 2
    pixels[at[0] - half : at[0] + half, at[1] - half : at[1] + half] = 20
    return pixels


@pytest.mark.parametrize("zoom", [0.5, 1.0, 2.0])
def test_a_spot_has_its_size_in_mm_at_every_scale(zoom):
    mm_per_px = 0.5
    shown = cutout(with_spot(20), Face(), mm_per_px, 40.0, zoom / mm_per_px)

    dark = (shown[..., 0] < 110).sum()

    assert shown.shape == (round(80 * zoom), round(80 * zoom), 3)
    assert dark == pytest.approx((20 * zoom) ** 2, rel=0.1)


def test_the_middle_of_the_outline_is_shown():
    face = Face(outline_px=OUTLINE)
    shown = cutout(with_spot(10, at=(50, 90)), face, 1.0, 40.0, 1.0)

    rows, cols = np.nonzero(shown[..., 0] < 110)

    assert (rows.mean(), cols.mean()) == pytest.approx((19.5, 19.5), abs=1)
    assert face_extent_mm(face, 0.5, (100, 180)) == (30.0, 50.0)


def test_what_lies_outside_the_photo_is_grey():
    shown = cutout(with_spot(2), Face(), 1.0, 300.0, 1.0)

    assert shown[0, 0].tolist() == [128, 128, 128]


@pytest.mark.parametrize("given", [(0.0, 1.0), (10.0, 0.0), (np.nan, 1.0)])
def test_sizes_are_checked(given):
    with pytest.raises(InputError, match="must be"):
        cutout(with_spot(2), Face(), 1.0, *given)
