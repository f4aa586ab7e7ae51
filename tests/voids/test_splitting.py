"""Parting touching voids."""

import numpy as np
import pytest

from analysis.voids import splitting
from analysis.voids.shapes import region_pixels, region_shapes
from analysis.voids.splitting import split_touching
from tests.support.painting import ellipse, noisy, painted, pitted, segmented

SHAPE = (120, 200)


def parted(*masks, left_whole=None):
    labels = np.zeros(SHAPE, np.int32)
    for mask in masks:
        labels[mask] = 1
    shapes = region_shapes(region_pixels(labels, 1))
    return (labels, *split_touching(labels, shapes, np.zeros(1, bool), left_whole))


def disc(row, col, radius):
    return ellipse(SHAPE, row, col, radius, radius)


@pytest.mark.parametrize("radii", [(15, 15), (20, 12), (8, 8)])
def test_two_touching_discs(radii):
    """Public thread scikit-image 5047: the input must stay as it was."""
    one, other = radii
    before, after, origin = parted(
        disc(60, 60, one), disc(60, 60 + one + other - 1, other)
    )
    assert origin.tolist() == [0, 0]
    assert set(np.unique(before)) == {0, 1}
    assert np.array_equal(after > 0, before > 0)
    areas = np.sort(np.bincount(after.ravel())[1:])[::-1]
    assert areas == pytest.approx(np.pi * np.square(radii), rel=0.05)
    again = parted(disc(60, 60, one), disc(60, 60 + one + other - 1, other))
    assert np.array_equal(again[1], after)


def test_a_chain_of_three():
    _, after, origin = parted(*(disc(60, 50 + 27 * i, 14) for i in range(3)))
    assert len(origin) == 3
    assert after.max() == 3


@pytest.mark.parametrize(
    "mask", [disc(60, 60, 20), ellipse(SHAPE, 60, 90, 40, 20, 0.4), disc(60, 60, 1)]
)
def test_round_ones_stay_whole(mask):
    before, after, origin = parted(mask)
    assert origin.tolist() == [0]
    assert np.array_equal(after, before)


def test_lines_have_no_lobes():
    mask = np.zeros(SHAPE, bool)
    mask[58:62, 20:180] = True
    mask[50:70, 95:105] = True
    assert parted(mask)[2].tolist() == [0]


def test_a_long_chain_has_lobes():
    chain = [disc(60, 20 + 20 * i, 11) for i in range(5)]
    assert len(parted(*chain)[2]) == 5
    assert len(parted(*chain, left_whole=np.ones(1, bool))[2]) == 1


def test_no_region():
    labels = np.zeros(SHAPE, np.int32)
    shapes = region_shapes(region_pixels(labels, 0))
    after, origin = split_touching(labels, shapes, np.zeros(0, bool))
    assert len(origin) == 0
    assert not after.any()


@pytest.mark.parametrize("gap", [-2, 0, 1])
def test_two_pits_on_a_face_are_two_voids(gap):
    pits = [(60, 70, 12), (60, 94 + gap, 12)]
    found = segmented(noisy(painted(pitted(SHAPE, pits)), 1))
    assert found.voids.area_px == pytest.approx(np.pi * 144, rel=0.15)
    assert len(found.voids) == 2


@pytest.mark.parametrize("seed", range(6))
def test_lobes_told_without_a_watershed_are_those_of_one(seed, monkeypatch):
    """The short cut leaves every region as scikit-image's watershed would."""
    rng = np.random.default_rng(seed)
    blobs = [
        ellipse(SHAPE, 60 + rng.uniform(-9, 9), 100 + at, *rng.uniform(5, 12, 2))
        for at in np.cumsum(rng.uniform(3, 14, 4))
    ]
    blob = np.logical_or.reduce(blobs)
    parts, count = splitting._parts(blob)
    asked = []

    def never(_, peaks):
        asked.append(len(peaks))
        return False

    monkeypatch.setattr(splitting, "_is_one_lobe", never)
    whole, found = splitting._parts(blob)
    assert asked
    assert count == found
    assert np.array_equal(parts, whole)
