"""Outlines found around a tap against those the search finds by itself, and truth."""

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.imaging.photo import luminance
from analysis.synthetic import FaceRecipe, PitPopulation, draw_face
from analysis.voids.seeded_outline import drawn_outline, outline_around
from tests.support.painting import disc, grey, painted, segmented

SHAPE = (300, 400)


def light_of(cover, *, background=0.4, dark=0.1, noise=1.0):
    codes = painted(background + (dark - background) * cover)[..., 0]
    noise = np.random.default_rng(2).normal(0, noise, SHAPE)
    return luminance(grey(codes + noise))


@pytest.mark.parametrize("radius", [2.5, 5.0, 12.0, 40.0, 70.0])
@pytest.mark.parametrize("dark", [0.05, 0.3])
def test_a_disc_of_any_size_has_its_own_area(radius, dark):
    light = light_of(disc(SHAPE, 150, 200, radius), dark=dark)
    found = outline_around(light, np.ones(SHAPE, bool), (150 + radius / 2, 200), 4)
    assert found.area_px == pytest.approx(np.pi * radius**2, rel=0.12)
    assert not found.drawn


def test_a_disc_too_faint_for_the_search_is_found_by_a_tap():
    pixels = grey(painted(0.4 - 0.07 * disc(SHAPE, 150, 200, 8))[..., 0])
    assert len(segmented(pixels).voids) == 0
    found = outline_around(luminance(pixels), np.ones(SHAPE, bool), (150, 204), 4)
    assert found.area_px == pytest.approx(np.pi * 64, rel=0.1)
    assert found.contrast == pytest.approx(0.175, abs=0.02)


def test_a_tap_beside_a_void_within_reach_means_it():
    light = light_of(disc(SHAPE, 150, 200, 6))
    inside = np.ones(SHAPE, bool)
    found = outline_around(light, inside, (150, 214), 10)
    assert found.line_px.mean(axis=0) == pytest.approx([150, 200], abs=1)
    with pytest.raises(InputError, match="no dark candidate with an edge here"):
        outline_around(light, inside, (150, 230), 10)


def test_taps_give_the_outlines_of_the_search():
    """Rejecting a void and tapping it again must not change the share."""
    pits = PitPopulation(
        per_m2=9000, median_mm=2.2, spread=0.35, smallest_mm=1.2, largest_mm=6
    )
    recipe = FaceRecipe(height_px=500, width_px=600, mm_per_px=0.1, pits=(pits,))
    pixels = draw_face(recipe, seed=3).pixels
    found = segmented(pixels, smallest_px2=60.0, mm_per_px=0.1)
    light, inside = luminance(pixels), np.ones(pixels.shape[:2], bool)
    voids = found.voids
    areas = [
        outline_around(light, inside, at, 3).area_px
        for at in zip(voids.row_px, voids.col_px, strict=True)
    ]
    ratio = np.array(areas) / voids.area_px
    assert len(ratio) > 15
    assert np.median(ratio) == pytest.approx(1, abs=0.05)
    assert np.mean(np.abs(ratio - 1) < 0.2) > 0.7


def test_a_spot_that_leaves_the_window_is_not_taken():
    cover = np.zeros(SHAPE)
    cover[:, 390:] = 1
    light = light_of(cover)
    with pytest.raises(InputError, match="draw round it instead"):
        outline_around(light, np.ones(SHAPE, bool), (150, 395), 3)


def test_a_drawn_outline_has_the_area_of_its_polygon():
    angle = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    ring = np.column_stack([150 + 20 * np.sin(angle), 200 + 20 * np.cos(angle)])
    found = drawn_outline(light_of(disc(SHAPE, 150, 200, 5)), ring, 0.4)
    # Closed form: a regular 200-gon.
    assert found.area_px == pytest.approx(100 * 400 * np.sin(2 * np.pi / 200))
    assert found.drawn
    assert found.contrast == pytest.approx(0.75, abs=0.05)


@pytest.mark.parametrize("line", [[[1, 1]], [[1, 1], [5, 5], [9, 9]], []])
def test_a_drawn_outline_must_enclose_something(line):
    with pytest.raises(InputError, match="encloses nothing: tap three points"):
        drawn_outline(np.zeros((9, 9), np.float32), np.array(line), 0.4)
