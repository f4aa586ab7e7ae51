"""Sectors lost or written in the wrong place, told by a JPEG's bytes alone."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from analysis.flags import Flag
from analysis.imaging.photo import read_photo
from analysis.imaging.sectors import SECTOR, has_alien_sector
from tests.support.pictures import file_of

SAMPLES = Path(__file__).parents[2] / "sample_images"


def grainy(height=320, width=480, seed=2):
    rng = np.random.default_rng(seed)
    grey = 150 + rng.normal(0, 5, (height, width))
    return np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)


def struck(data, at, filled):
    return data[:at] + filled + data[at + len(filled) :]


DATA = file_of(grainy(), "JPEG", quality=90)


@pytest.mark.parametrize("value", [0x00, 0xAA, 0xE5, 0xFF])
@pytest.mark.parametrize("count", [1, 8])
def test_sector_of_one_value(value, count):
    filled = bytes([value]) * (count * SECTOR)
    for at in range(3 * SECTOR, len(DATA) - len(filled) - SECTOR, 5 * SECTOR):
        assert has_alien_sector(struck(DATA, at, filled))


@pytest.mark.parametrize("count", [1, 8])
@pytest.mark.parametrize(
    "options", [{"quality": 90}, {"quality": 97, "progressive": True}]
)
def test_sector_that_stands_in_another_place_too(count, options):
    data = file_of(grainy(seed=5), "JPEG", **options)
    long = count * SECTOR
    rng = np.random.default_rng(6)
    tried = 0
    for at in range(3 * SECTOR, len(data) - long - SECTOR, 5 * SECTOR):
        other = int(rng.integers(1024, len(data) - long))
        if abs(other - at) < long:
            continue
        tried += 1
        assert has_alien_sector(struck(data, at, data[other : other + long]))
    assert tried


def test_what_decodes_without_a_word_is_doubted():
    # Behind this copy the decoder finds its place: only colour is off from there on.
    whole = read_photo(DATA).pixels.astype(int)
    passed = 0
    for at in range(4 * SECTOR, len(DATA) - 2 * SECTOR, SECTOR):
        for other in (1031, 5003, 9001):
            broken = struck(DATA, at, DATA[other : other + SECTOR])
            if broken == DATA:
                continue
            try:
                photo = read_photo(broken)
            except Exception:  # noqa: BLE001  refused, told elsewhere
                continue
            passed += 1
            assert photo.flags == {Flag.DAMAGED}
            assert (photo.pixels != whole).any()
    assert passed


def test_bytes_of_one_value_elsewhere_are_no_sector():
    """Filling of a maker's notes, flat sky coded short, and unaligned runs."""
    assert not has_alien_sector(DATA)
    assert not has_alien_sector(struck(DATA, 5 * SECTOR + 9, bytes(SECTOR)))
    # An application's own segment of zeros (ITU-T T.81, B.2.4.6) comes before the scan.
    padded = DATA[:2] + b"\xff\xe5" + (4098).to_bytes(2, "big") + bytes(4096) + DATA[2:]
    assert not has_alien_sector(padded)
    flat = np.full((2000, 2000, 3), 255, np.uint8)
    for options in ({}, {"optimize": True}, {"progressive": True}):
        assert not has_alien_sector(file_of(flat, "JPEG", **options))


@pytest.mark.parametrize("options", [{}, {"optimize": True}, {"progressive": True}])
@pytest.mark.parametrize("period", [8, 16, 33, 64])
def test_drawn_patterns_repeat_and_are_no_damage(options, period):
    tile = grainy(period, period, seed=period)
    picture = np.tile(tile, (640 // period, 640 // period, 1))
    assert not has_alien_sector(file_of(picture, "JPEG", **options))


def test_bytes_that_are_no_jpeg_and_cut_ones():
    for data in (b"", b"\xff\xd8", b"\xff\xd8\xff", bytes(4096), DATA[:700]):
        assert not has_alien_sector(data)
    assert not has_alien_sector(b"\x89PNG\r\n\x1a\n" + bytes(8192))


def test_sound_samples_hold_none():
    for path in sorted(SAMPLES.glob("*.jp*g")):
        assert not has_alien_sector(path.read_bytes())
