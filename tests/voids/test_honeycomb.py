"""Honeycomb patches."""

import cv2
import numpy as np
import pytest

from analysis.imaging.face import polygon_mask
from analysis.synthetic import FaceRecipe, PitPopulation, draw_face
from analysis.synthetic.recipe import Honeycomb
from tests.support.painting import noisy, painted, pitted, scattered, segmented

PITS = PitPopulation(per_m2=6000, median_mm=1.8, spread=0.3, smallest_mm=1.0)


def patched(*patches, seed=5):
    recipe = FaceRecipe(
        height_px=500, width_px=600, mm_per_px=0.1, pits=(PITS,), honeycomb=patches
    )
    return draw_face(recipe, seed=seed)


@pytest.mark.parametrize("seed", [5, 6, 7])
def test_patch_is_found_where_it_is(seed):
    face = patched(Honeycomb(row_mm=25, col_mm=30, diameter_mm=25), seed=seed)
    found = segmented(face.pixels, mm_per_px=0.1, smallest_px2=20)
    assert (found.honeycomb & face.honeycomb).sum() > 0.6 * face.honeycomb.sum()
    assert (found.honeycomb & ~face.honeycomb).mean() < 0.05
    in_patch = found.voids.kind == "honeycomb"
    assert in_patch.sum() >= 1
    row, col = np.rint([found.voids.row_px, found.voids.col_px]).astype(int)
    assert np.array_equal(found.honeycomb[row, col], in_patch)


def test_voids_in_it_count():
    face = patched(Honeycomb(row_mm=25, col_mm=30, diameter_mm=25))
    found = segmented(face.pixels, mm_per_px=0.1, smallest_px2=20)
    inside = found.mask & face.honeycomb
    true = (face.labels > 0) & face.honeycomb
    assert inside.sum() > 0.5 * true.sum()


def test_scattered_pits_are_none():
    assert not segmented(patched().pixels, mm_per_px=0.1).honeycomb.any()


def test_none_on_a_clean_face():
    pits = scattered((300, 400), 8, (2, 4), np.random.default_rng(2))
    assert not segmented(noisy(painted(pitted((300, 400), pits)))).honeycomb.any()


def test_none_along_the_edge_of_a_face_on_darker_ground():
    pits = PitPopulation(per_m2=2600, median_mm=1.8, largest_mm=10)
    recipe = FaceRecipe(height_px=500, width_px=600, mm_per_px=0.28, pits=(pits,))
    rim = np.array([(30, 42), (45, 560), (470, 548), (455, 36)], float)
    face = polygon_mask(rim, (500, 600))
    soft = cv2.GaussianBlur(face.astype(np.float32), (0, 0), 1.0)[..., None]
    pixels = np.uint8(draw_face(recipe, seed=5).pixels * soft + 55 * (1 - soft))

    inside = cv2.erode(face.astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    found = segmented(pixels, face=inside, mm_per_px=0.28)

    assert not found.honeycomb.any()
