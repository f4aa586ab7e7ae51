"""What pairs ask of the room of voids: patches that are relief, not flush stones."""

import numpy as np
import pytest

from analysis.pairs import spots
from analysis.voids.honeycomb import Patches


@pytest.fixture
def stones(monkeypatch):
    """A face with five dark squares that all lie in one rough patch."""
    light = np.ones((120, 160), np.float32)
    for col in range(15, 150, 30):
        light[50:58, col : col + 8] = 0.2
    whole = Patches(extent=np.ones(light.shape, bool), low_px=9e3, high_px=2e4)
    monkeypatch.setattr(spots, "honeycomb_patches", lambda *_: whole)
    inside = np.ones(light.shape, bool)
    return spots.candidates_of(light, inside), light, inside


@pytest.mark.parametrize(("open_ones", "kept"), [(5, True), (4, True), (1, False)])
def test_a_patch_of_stones_is_honeycomb_where_its_holes_change_with_the_lamp(
    stones, open_ones, kept
):
    found, light, inside = stones
    assert len(found) == 5

    patches = spots.patches_of(found, light, inside, 0.2, np.arange(5) < open_ones)

    assert patches.extent.any() == kept
