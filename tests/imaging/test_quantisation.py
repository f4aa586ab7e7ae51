"""A wrong byte in a JPEG's quantisation table."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from analysis.flags import Flag
from analysis.imaging.photo import read_photo
from analysis.imaging.quantisation import has_odd_number
from tests.support.pictures import file_of


def saved(**options):
    rng = np.random.default_rng(1)
    grey = 150 + rng.normal(0, 5, (64, 96))
    picture = np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return file_of(picture, "JPEG", **options)


def tables_of(data):
    return [list(one) for one in Image.open(io.BytesIO(data)).quantization.values()]


@pytest.mark.parametrize("quality", [1, 2, 25, 49, 50, 51, 75, 90, 95, 99, 100])
def test_tables_of_libjpeg_are_sound_and_a_wrong_number_is_told(quality):
    # The tables are those that libjpeg itself writes.
    tables = tables_of(saved(quality=quality))
    assert not has_odd_number(tables)
    for at in (1, 9, 40, 63):
        for kind in (0, 1):
            wrong = [list(one) for one in tables]
            wrong[kind][at] ^= 0x40
            assert has_odd_number(wrong)


@pytest.mark.parametrize("byte", [5, 20, 64])
def test_photo_with_a_wrong_number_is_doubted(byte):
    data = saved(quality=80)
    at = data.index(b"\xff\xdb") + 4 + byte
    photo = read_photo(data[:at] + bytes([data[at] ^ 0x80]) + data[at + 1 :])
    assert photo.flags == {Flag.DAMAGED}
    assert read_photo(data).flags == frozenset()


def test_tables_of_an_encoders_own_are_no_damage():
    flat = [7] * 64
    finer = tables_of(saved(quality=50))
    finer[0][0] = 8
    rounded = tables_of(saved(quality=60))
    rounded[1][5] += 1
    several = tables_of(saved(quality=70))
    several[0][3] += 9
    several[0][30] += 9
    for tables in ([flat], finer, rounded, several, [], [[1, 2]]):
        assert not has_odd_number(tables)
    own = saved(qtables=[flat, several[0]])
    assert read_photo(own).flags == frozenset()
