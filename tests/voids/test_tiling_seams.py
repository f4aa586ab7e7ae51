"""A void larger than what a tile sees of its neighbours is listed once, and whole."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.flags import Flag
from analysis.voids import tiling
from analysis.voids.segmentation import segment
from analysis.voids.tiling import segment_in_tiles


def hollow():
    """Grey grain with one long void across the seam at 1200 px, (1000, 2400, 3)."""
    rng = np.random.default_rng(1)
    grey = 160 + rng.normal(0, 3, (1000, 2400))
    row, col = np.mgrid[:1000, :2400]
    grey[((row - 500) / 120) ** 2 + ((col - 1180) / 450) ** 2 < 1] = 40
    return np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)


def light_of(part, *_):
    return (part[..., 0] / 255.0).astype(np.float32) ** 2.2


def tiled(photo):
    return segment_in_tiles(
        photo,
        light_of,
        np.ones(photo.shape[:2], bool),
        smallest_px2=4,
        mm_per_px=None,
        tell=lambda *_: None,
        tile_px=1200,
    )


@pytest.mark.slow
def test_void_larger_than_the_overlap_is_whole_and_listed_once():
    photo = hollow()
    whole = segment(
        photo,
        light_of(photo),
        np.ones(photo.shape[:2], bool),
        smallest_px2=4,
        mm_per_px=None,
    )
    found = tiled(photo)
    assert len(whole.voids.area_px) == 1
    assert found.voids.area_px == pytest.approx(whole.voids.area_px, rel=0.05)
    assert found.voids.flags == whole.voids.flags
    assert np.count_nonzero(found.mask ^ whole.mask) < 0.05 * whole.mask.sum()


@pytest.mark.slow
def test_void_that_the_second_look_cuts_too_is_flagged(monkeypatch):
    monkeypatch.setattr(tiling, "_widened", lambda tile, *_: tile)
    found = tiled(hollow())
    assert len(found.voids.area_px) == 2
    assert all(Flag.TOUCHES_EDGE in flags for flags in found.voids.flags)
