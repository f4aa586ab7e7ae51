"""A large face in tiles: the same voids as at once, none lost, none listed twice."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial import KDTree

from analysis.imaging.photo import luminance
from analysis.services import measuring
from analysis.voids.segmentation import segment
from analysis.voids.settings import SETTINGS
from analysis.voids.tiling import segment_in_tiles
from tests.support.drawn_faces import drawn, reading_of

LIMIT_PX2 = 12.0


def light_of(pixels, _inside, _where):
    return luminance(pixels)


def in_tiles(pixels, inside, *, tile_px, tell=lambda *_: None):
    return segment_in_tiles(
        pixels,
        light_of,
        inside,
        smallest_px2=LIMIT_PX2,
        mm_per_px=0.2,
        tell=tell,
        tile_px=tile_px,
    )


@pytest.fixture(scope="module")
def pixels():
    face = np.array(drawn().pixels)
    two = np.concatenate([face, face[::-1]])
    return np.ascontiguousarray(np.concatenate([two, two[:, ::-1]], axis=1))


@pytest.fixture(scope="module")
def inside(pixels):
    return np.ones(pixels.shape[:2], bool)


@pytest.fixture(scope="module")
def at_once(pixels, inside):
    return segment(
        pixels, luminance(pixels), inside, smallest_px2=LIMIT_PX2, mm_per_px=0.2
    )


@pytest.fixture(scope="module")
def tiled(pixels, inside):
    return in_tiles(pixels, inside, tile_px=500)


def test_tiles_find_what_is_found_at_once(at_once, tiled):
    assert len(tiled.voids) == pytest.approx(len(at_once.voids), rel=0.03)
    assert tiled.mask.sum() == pytest.approx(at_once.mask.sum(), rel=0.03)
    assert tiled.counted_share == pytest.approx(at_once.counted_share, rel=0.03)
    both = (tiled.mask & at_once.mask).sum() / (tiled.mask | at_once.mask).sum()
    assert both > 0.93
    assert tiled.noise == pytest.approx(at_once.noise, rel=0.2)
    assert tiled.blur_px == pytest.approx(at_once.blur_px, rel=0.2)


def test_nothing_is_listed_twice_and_the_mask_is_of_the_list(tiled):
    places = np.column_stack([tiled.voids.row_px, tiled.voids.col_px])
    nearest = KDTree(places).query(places, k=2)[0][:, 1]
    assert nearest.min() > 1
    assert tiled.mask.sum() == pytest.approx(tiled.voids.area_px.sum(), rel=0.03)
    row, col = np.rint(places).astype(int).T
    assert tiled.mask[row, col].mean() > 0.98


@pytest.mark.parametrize("at", [380, 400, 420])
def test_a_void_on_a_seam_is_one_void_at_its_place(at):
    pixels = np.full((800, 1000, 3), 150, np.uint8)
    row, col = np.ogrid[:800, :1000]
    pixels[(row - at) ** 2 + (col - 500) ** 2 < 30**2] = 40

    found = in_tiles(pixels, np.ones((800, 1000), bool), tile_px=400)

    assert len(found.voids) == 1
    assert found.voids.row_px[0] == pytest.approx(at, abs=1.5)
    assert found.voids.col_px[0] == pytest.approx(500, abs=1.5)
    assert found.mask.sum() == pytest.approx(np.pi * 30**2, rel=0.05)


def test_light_kept_is_the_light_of_the_face(pixels, at_once, tiled):
    near = at_once.background.spread()
    kept = tiled.background.spread()
    assert kept.shape == pixels.shape[:2]
    assert np.median(np.abs(kept / near - 1)) < 0.02


def test_parts_without_face_are_passed_by(pixels):
    told = []
    inside = np.zeros(pixels.shape[:2], bool)
    inside[: pixels.shape[0] // 4, :] = True

    found = in_tiles(
        pixels,
        inside,
        tile_px=pixels.shape[0] // 4,
        tell=lambda part, what: told.append((part, what)),
    )

    assert not found.mask[~inside].any()
    parts = [part for part, _ in told]
    assert parts == sorted(parts)
    assert 0 <= parts[0] < parts[-1] < 1
    assert told[-1][1] == f"Finding voids, part {len(told)} of {len(told)}"
    assert len(told) < 10


def test_calling_off_ends_it(pixels, inside):
    def stop(_part, _what):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        in_tiles(pixels, inside, tile_px=500, tell=stop)


def test_a_large_photo_is_measured_in_tiles_and_says_how_far_it_is(monkeypatch):
    pixels = np.array(drawn().pixels)
    at_once, _ = reading_of(pixels)
    small = replace(SETTINGS, tiling=replace(SETTINGS.tiling, tiled_from_px=1000))
    monkeypatch.setattr(measuring, "SETTINGS", small)
    tiled, mask = reading_of(pixels)

    # One tile holds all of it.
    assert max(pixels.shape) < SETTINGS.tiling.tile_px
    assert mask.shape == pixels.shape[:2]
    assert tiled.summary.void_share.value == at_once.summary.void_share.value
    assert tiled.summary.void_share.low == at_once.summary.void_share.low
    assert tiled.flags == at_once.flags
