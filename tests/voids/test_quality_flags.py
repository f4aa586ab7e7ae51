"""Doubts about a finished segmentation."""

import cv2
import numpy as np
import pytest

from analysis.flags import Flag
from analysis.model.photo import Scale
from analysis.synthetic import FaceRecipe, PitPopulation, draw_face
from analysis.synthetic.scene import Aggregate, Lamp, Surface
from analysis.voids.quality_flags import finish_flags
from tests.support.painting import (
    GROUND,
    disc,
    noisy,
    painted,
    pitted,
    scattered,
    segmented,
)

PITS = PitPopulation(per_m2=9000, median_mm=2.4, spread=0.3, smallest_mm=1.4)


def doubts(pixels, mm_per_px=0.15, smallest_mm=None):
    scale = None
    if mm_per_px is not None:
        scale = Scale(mm_per_px=mm_per_px, relative_uncertainty=0.01, method="typed")
    found = segmented(pixels, smallest_px2=9, mm_per_px=mm_per_px)
    face = np.ones(pixels.shape[:2], bool)
    return finish_flags(found, face, scale, smallest_mm)


def drawn(elevation_deg=40, surface=None, pits=(PITS,)):
    recipe = FaceRecipe(
        height_px=500,
        width_px=600,
        mm_per_px=0.15,
        pits=pits,
        lamp=Lamp(elevation_deg=elevation_deg, strength=0.85, sky=0.15),
        surface=surface or Surface(),
    )
    return draw_face(recipe, seed=2).pixels


def test_a_good_photo_raises_none():
    assert doubts(drawn()) == frozenset()


def test_nothing_found():
    clean = noisy(np.full((400, 500, 3), 150, np.uint8))
    assert doubts(clean) == {Flag.NOTHING_FOUND}


def test_raking_light():
    assert Flag.GRAZING_LIGHT in doubts(drawn(15))


def test_flat_light():
    pits = scattered((400, 500), 30, (4, 8), np.random.default_rng(1))
    assert Flag.FLAT_LIGHT in doubts(noisy(painted(pitted((400, 500), pits))))


def test_blur():
    soft = cv2.GaussianBlur(drawn(), (0, 0), 3)
    assert Flag.BLURRED in doubts(soft)


def test_dark_stones_all_over():
    stones = Surface(aggregate=(Aggregate(share=0.2, median_mm=1.5),))
    assert Flag.UNRELIABLE_FINISH in doubts(drawn(surface=stones, pits=()))


def test_damp_looking():
    rows, cols = np.mgrid[:500, :600]
    wet = cv2.GaussianBlur(np.float32(rows + cols / 2 > 600), (0, 0), 15)
    damp = np.uint8(drawn() * (1 - 0.35 * wet[..., None]))
    assert Flag.DAMP_LOOKING in doubts(damp)


@pytest.mark.parametrize("ends", [(0.5, 1.0), (1.0, 0.4)])
def test_a_lamp_falling_off_is_not_damp(ends):
    fall = np.linspace(*ends, 600)[None, :, None]
    assert Flag.DAMP_LOOKING not in doubts(np.uint8(drawn() * fall))


def shiny(strength, sigma_px=70):
    """A face that mirrors the lamp in one place, `strength` times its own light."""
    rows, cols = np.mgrid[:500, :600]
    near = np.exp(-((rows - 250) ** 2 + (cols - 300) ** 2) / 2 / sigma_px**2)
    dull = np.float32(drawn()) * 0.3
    linear = (dull / 255) ** 2.2 * (1 + strength * near[..., None])
    return np.uint8(255 * np.clip(linear, 0, 1) ** (1 / 2.2))


def test_glare():
    assert Flag.GLARE in doubts(shiny(4))


@pytest.mark.parametrize("plain", [lambda: shiny(0), lambda: shiny(1.5, 300), drawn])
def test_a_near_lamp_is_no_glare(plain):
    assert Flag.GLARE not in doubts(plain())


def test_rims_in_glare_are_doubted():
    dull, bright = segmented(shiny(0)), segmented(shiny(4))
    rims = [found.doubts.rim_px / found.voids.area_px.sum() for found in (dull, bright)]
    assert rims[1] > 2 * rims[0]


class TestScale:
    def test_none(self):
        assert Flag.NO_SCALE in doubts(drawn(), mm_per_px=None)

    def test_small_face(self):
        assert Flag.SMALL_FACE in doubts(drawn()[:200, :300])
        assert Flag.SMALL_FACE not in doubts(drawn())

    def test_coarse(self):
        """2 mm need 8 to 10 px: 0.20 to 0.25 mm per px (derived)."""
        assert Flag.LOW_RESOLUTION in doubts(drawn(), mm_per_px=0.3)
        assert Flag.LOW_RESOLUTION not in doubts(drawn(), mm_per_px=0.2)
        assert Flag.LOW_RESOLUTION in doubts(drawn(), mm_per_px=0.2, smallest_mm=0.5)


@pytest.mark.parametrize(
    ("depths", "unreliable"), [((0.58, 0.62), True), ((0.3, 0.9), False)]
)
def test_very_many_as_dark_as_each_other_may_be_grains(depths, unreliable):
    """Grains of one kind share a darkness; pits are deep and shallow."""
    rng, shape = np.random.default_rng(3), (900, 1200)
    light = np.full(shape, GROUND)
    for row, col, radius in scattered(shape, 160, (4, 8), rng, apart_px=8.0):
        light *= 1 - rng.uniform(*depths) * disc(shape, row, col, radius)
    face = noisy(painted(cv2.GaussianBlur(light, (0, 0), 0.7)))
    assert (Flag.UNRELIABLE_FINISH in doubts(face)) is unreliable
