"""Steps of colour, large steps, and steps at the first and last row of blocks."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.flags import Flag
from analysis.imaging.photo import read_photo
from tests.support.pictures import file_of


def grainy(height=320, width=480, seed=2):
    """Grey concrete with grain and a slope of light, (rows, cols, 3) of int."""
    rng = np.random.default_rng(seed)
    slope = np.linspace(-12, 12, height)[:, None]
    grey = 150 + slope + rng.normal(0, 5, (height, width))
    return np.repeat(grey.clip(0, 255).astype(int)[..., None], 3, axis=2)


def flags(picture, **options):
    pixels = picture.clip(0, 255).astype(np.uint8)
    return read_photo(file_of(pixels, "JPEG", quality=92, **options)).flags


@pytest.mark.parametrize("off", [(14, 0, -14), (-4, 3, -15), (0, -2, 14)])
@pytest.mark.parametrize("subsampling", [0, 2])
def test_colour_that_steps_between_blocks_is_doubted(off, subsampling):
    picture = grainy()
    below = 176 if subsampling else 168
    picture[160:below, 208:] += off
    picture[below:] += off
    assert flags(picture, subsampling=subsampling) == {Flag.DAMAGED}


def test_edges_of_colour_are_no_damage():
    for rows, columns in (
        (slice(160, None), slice(None)),  # another coat from a row of blocks on
        (slice(160, 240), slice(208, 368)),  # a label on the blocks' own lines
        (slice(163, None), slice(100, None)),
    ):
        picture = grainy()
        picture[rows, columns] += (20, 0, -20)
        assert flags(picture) == frozenset()
    slanting = grainy()
    row, col = np.mgrid[:320, :480]
    slanting[row > 150 + col / 40] += (20, 0, -20)
    assert flags(slanting) == frozenset()


@pytest.mark.parametrize("off", [-141, 95])
def test_step_that_leaves_nearly_black_or_white_is_doubted(off):
    picture = grainy()
    picture[160:176, 208:] += off
    picture[176:] += off
    assert flags(picture) == {Flag.DAMAGED}


@pytest.mark.parametrize("off", [-60, -26, 30])
def test_block_lost_in_the_first_or_last_row_is_doubted(off):
    first = grainy()
    first[:16, 208:] += off
    first[16:] += off
    assert flags(first) == {Flag.DAMAGED}
    last = grainy()
    last[304:, 208:] += off
    assert flags(last) == {Flag.DAMAGED}


def test_things_in_the_corners_are_no_damage():
    for at in (0, 300):
        for wide in (150, 160):
            for value in (20, 255):  # a clamp or a printed date: drawn, without grain
                picture = grainy()
                picture[at : at + 20, :wide] = value
                assert flags(picture) == frozenset()
    shaded = grainy().astype(float)
    shaded[:16, :200] *= np.linspace(0.6, 1, 16)[:, None, None]
    assert flags(shaded) == frozenset()
