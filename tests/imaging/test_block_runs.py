"""Runs of blocks that are off by one amount, in brightness or in colour alone."""

from __future__ import annotations

import io
from pathlib import Path

import cv2
import numpy as np
import pytest
from PIL import Image

from analysis.flags import Flag
from analysis.imaging.block_runs import has_shifted_run
from analysis.imaging.photo import read_photo
from tests.benchmarks import hostile
from tests.support.pictures import file_of

SAMPLES = Path(__file__).parents[2] / "sample_images"
RED, GREEN, BLUE = np.eye(3)


def grainy(seed, height=360, width=480):
    """Grey concrete with grain of 5 levels a px, (rows, cols, 3)."""
    rng = np.random.default_rng(seed)
    grey = 150 + rng.normal(0, 5, (height, width))
    return np.repeat(grey[..., None], 3, axis=2)


def decoded(picture, **options):
    data = file_of(picture.clip(0, 255).astype(np.uint8), "JPEG", **options)
    image = Image.open(io.BytesIO(data))
    image.load()
    return image


def rows_of(image):
    return 8 * max(part[2] for part in image.layer)


def is_told(picture, **options):
    image = decoded(picture, **options)
    return has_shifted_run(image, rows_of(image))


def shifted(picture, first, column, end, off, rows=16):
    """Shift all from a block on in the order of the file, down to row `end`."""
    picture = picture.copy()
    picture[first : first + rows, column:] += off
    picture[first + rows : end] += off
    return picture


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("column", [0, 96, 304, 464])
def test_small_steps_that_no_column_shows_by_itself_are_told(seed, column):
    # 6 levels in grain of 5: a column of 8 px steps by -3 to 15. 720 px of edge do.
    off = 6 if seed % 2 else -6
    for end in (320, 360):
        picture = shifted(grainy(seed), 272, column, end, off)
        assert is_told(picture, quality=92)
        picture = shifted(grainy(seed), 272, column, end, off, rows=8)
        assert is_told(picture, quality=92, subsampling=0)


@pytest.mark.parametrize("seed", range(4))
def test_run_in_the_first_or_the_last_row_has_one_edge(seed):
    last = grainy(seed)
    last[352:, 160:] -= 9
    assert is_told(last, quality=90)
    first = grainy(seed)
    first[:16, 240:] += 9
    first[16:] += 9
    assert is_told(first, quality=90)


@pytest.mark.parametrize("column", [0, 16, 200])
@pytest.mark.parametrize("subsampling", [0, 1, 2])
def test_colour_alone_is_told(column, subsampling):
    # As much less blue as Cb steps by -8; brightness stays (ITU-T T.871, section 7).
    off = -8 * (1.772 * BLUE - 0.344 * GREEN)
    rows = 16 if subsampling == 2 else 8
    picture = shifted(grainy(3), 272, column, 360, off, rows=rows)
    assert is_told(picture, quality=90, subsampling=subsampling)
    picture = picture.clip(0, 255).astype(np.uint8)
    data = file_of(picture, "JPEG", quality=90, subsampling=subsampling)
    assert read_photo(data).flags == {Flag.DAMAGED}


def test_files_whose_one_wrong_byte_or_bit_went_unnoticed_are_doubted():
    for seed in (1338, 2092, 8700):
        found, wrong = hostile.photos([seed])
        assert wrong == []
        assert found == {"doubted": 1}


def test_grain_alone_is_no_damage():
    for seed in range(12):
        for options in ({"quality": 92}, {"quality": 45}, {"subsampling": 0}):
            assert not is_told(grainy(seed), **options)


@pytest.mark.parametrize("softness", [0.7, 1.5])
@pytest.mark.parametrize("quality", [50, 75, 95])
def test_level_edge_of_a_thing_is_soft_even_on_the_grid(softness, quality):
    # 0.7 px: a lens sharper than most. One level edge at each row of px in turn.
    for row in range(176, 184):
        picture = grainy(row)
        picture[row:] -= 25 * RED + 20 * GREEN + 12 * BLUE
        picture = cv2.GaussianBlur(picture, (0, 0), softness)
        for subsampling in (0, 2):
            assert not is_told(picture, quality=quality, subsampling=subsampling)


def test_line_on_the_grid_is_no_step():
    picture = grainy(1)
    picture[174:176] -= 12
    assert not is_told(picture, quality=95)


def test_drawing_with_sharp_edges_off_the_grid_is_not_told():
    picture = shifted(grainy(1), 272, 0, 360, 10)
    assert is_told(picture, quality=92)
    picture[99:] += 10
    assert not is_told(picture, quality=92)


def test_coarse_colour_in_whole_blocks_is_no_damage():
    # A coarse file draws the edge of a coloured backdrop along its blocks.
    row, col = np.mgrid[:480, :640]
    for start in range(160, 176, 3):
        picture = grainy(2, 480, 640)
        backdrop = row > start + 2 * np.sin(col / 40)
        backdrop |= np.hypot(row - 70, col - 300) < 40
        picture[backdrop] -= (18 * BLUE - 8 * GREEN)[None]
        picture = cv2.GaussianBlur(picture, (0, 0), 1.0)
        for quality in (30, 50, 70):
            assert not is_told(picture, quality=quality)


def test_sound_samples_are_not_told_however_they_are_cut_and_stored():
    for number, path in enumerate(sorted(SAMPLES.glob("*.jpg"))):
        with Image.open(path) as image:
            whole = np.asarray(image.convert("RGB"), dtype=np.float64)
        for quality, subsampling in ((40, 2), (70, 0), (90, 2)):
            cut = whole[number:, 2 * number :]
            options = {"quality": quality, "subsampling": subsampling}
            assert not is_told(cut, **options)
            assert not is_told(cut.transpose(1, 0, 2), **options)


def test_small_grey_and_printers_pictures():
    assert not is_told(grainy(1, 40, 120))
    grey = shifted(grainy(1), 272, 96, 360, 7, rows=8)[..., 0]
    assert is_told(grey, quality=90)
    image = Image.fromarray(grey.astype(np.uint8)).convert("CMYK")
    file = io.BytesIO()
    image.save(file, "JPEG", quality=92)
    printed = Image.open(file)
    assert has_shifted_run(printed, rows_of(printed))


@pytest.mark.parametrize("column", [64, 160, 400])
def test_bar_that_ends_with_its_row_of_blocks_is_told(column):
    # A restart comes with the next row: brightness and colour go back there.
    for off in (9, -4 * (1.772 * BLUE - 0.344 * GREEN)):
        bar = grainy(column)
        bar[240:256, column:] += off
        assert is_told(bar, quality=95)


def test_band_of_white_between_two_restarts_is_told():
    picture = grainy(5)
    picture[144:192] = 255
    assert is_told(picture, quality=95)
    picture = grainy(5)
    picture[144:190] = 255  # a strip of paper, level by chance
    assert not is_told(picture, quality=95)
    picture = grainy(5)
    picture[144:] = 255  # a backdrop
    assert not is_told(picture, quality=95)


def test_one_level_edge_in_a_coarse_file_is_not_told():
    # Such a file has rounded away what a lens adds beside the edge.
    for off, told in ((9, False), (35, True)):
        picture = shifted(grainy(4), 272, 0, 360, off)
        assert is_told(picture, quality=60) is told
