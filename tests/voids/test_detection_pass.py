"""Bands leave no seam; the plan of detection_passes leaves no size out."""

from itertools import pairwise

import numpy as np
import pytest

from analysis.synthetic import FaceRecipe, PitPopulation, draw_face
from analysis.voids import detection_pass as rooms
from analysis.voids.candidates import detection_passes
from tests.support.painting import noisy, painted, pitted, segmented

WIDE = 400


@pytest.fixture(scope="module")
def tall():
    pits = PitPopulation(
        per_m2=25_000, median_mm=2.2, spread=0.5, smallest_mm=0.6, largest_mm=9
    )
    recipe = FaceRecipe(height_px=1000, width_px=WIDE, mm_per_px=0.08, pits=(pits,))
    return draw_face(recipe, seed=5).pixels


@pytest.mark.parametrize("rows", [150, 201, 333, 418])
def test_bands_give_what_one_band_gives(tall, monkeypatch, rows):
    whole = segmented(tall)
    monkeypatch.setattr(rooms, "_BAND_PX", rows * WIDE)
    banded = segmented(tall)
    assert len(whole.voids) > 40
    assert np.array_equal(whole.mask, banded.mask)
    for column in ("row_px", "col_px", "area_px", "contrast", "rim_sharpness"):
        assert np.array_equal(
            getattr(whole.voids, column), getattr(banded.voids, column)
        )


def test_pits_on_every_row_survive_bands(monkeypatch):
    pits = [(15 + 31.3 * i, 20 + 37 * (i % 10), 8) for i in range(30)]
    face = noisy(painted(pitted((970, WIDE), pits)))
    monkeypatch.setattr(rooms, "_BAND_PX", 1)
    found = segmented(face)
    assert len(found.voids) == len(pits)
    assert found.voids.area_px == pytest.approx(np.pi * 64, rel=0.1)


@pytest.mark.parametrize("longest", [1, 500, 1000, 4000, 12_000])
def test_sweeps_leave_no_size_out(longest):
    plan = detection_passes(longest)
    reach = [(one.step * one.least_px, one.step * one.most_px) for one in plan]
    assert reach == sorted(reach, reverse=True)
    for (least, _), (_, most) in pairwise(reach):
        assert most > least
    assert reach[-1][0] == 1
    assert sum(one.step == 1 for one in plan) >= 2
