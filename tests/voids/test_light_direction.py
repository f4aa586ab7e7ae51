"""The lamp's side, and the whole rim of pits it rakes."""

import numpy as np
import pytest

from analysis.synthetic import FaceRecipe, PitPopulation, draw_face
from analysis.synthetic.scene import Lamp
from analysis.voids.light_direction import _Frame
from analysis.voids.shapes import region_pixels, region_shapes
from tests.support.painting import noisy, painted, pitted, scattered, segmented

PITS = PitPopulation(
    per_m2=9000,
    median_mm=2.6,
    spread=0.25,
    smallest_mm=1.6,
    largest_mm=5,
    touching_share=0,
)


def lit_from(azimuth_deg, elevation_deg, seed=3):
    lamp = Lamp(
        azimuth_deg=azimuth_deg, elevation_deg=elevation_deg, strength=0.85, sky=0.15
    )
    recipe = FaceRecipe(
        height_px=400, width_px=500, mm_per_px=0.1, pits=(PITS,), lamp=lamp
    )
    return draw_face(recipe, seed=seed)


def off_by(angle_rad, degrees):
    """Angle between two directions, in degrees."""
    return abs((np.degrees(angle_rad) - degrees + 180) % 360 - 180)


@pytest.mark.parametrize("azimuth", [0, 75, 200, 290])
@pytest.mark.parametrize("elevation", [15, 40])
def test_side(azimuth, elevation):
    found = segmented(lit_from(azimuth, elevation).pixels)
    assert off_by(found.light.towards_rad, azimuth) < 20


@pytest.mark.parametrize("turns", [1, 2, 3])
def test_side_turns_with_the_picture(turns):
    pixels = lit_from(200, 15).pixels
    turned = segmented(np.ascontiguousarray(np.rot90(pixels, turns)))
    before = np.degrees(segmented(pixels).light.towards_rad)
    assert turned.light.rakes
    # rot90 turns from the columns towards the rows backwards.
    assert off_by(turned.light.towards_rad, before - 90 * turns) < 25


def test_side_is_mirrored():
    pixels = lit_from(200, 15).pixels
    before = np.degrees(segmented(pixels).light.towards_rad)
    mirrored = segmented(np.ascontiguousarray(pixels[:, ::-1]))
    assert off_by(mirrored.light.towards_rad, 180 - before) < 5


def test_pits_without_shading_have_no_lamp():
    rng = np.random.default_rng(1)
    pits = scattered((400, 500), 30, (4, 9), rng)
    found = segmented(noisy(painted(pitted((400, 500), pits))))
    assert found.light.towards_rad is None
    assert not found.voids.shading.any()


def test_few_pits_tell_no_side():
    assert (
        segmented(painted(pitted((200, 200), [(90, 90, 9)]))).light.towards_rad is None
    )


def test_floors_are_darker_towards_the_lamp():
    found = segmented(lit_from(200, 40).pixels)
    assert np.median(found.voids.shading) > 0.2


@pytest.mark.parametrize("azimuth", [0, 130, 200])
def test_the_whole_rim_counts_not_the_shadow(azimuth):
    face = lit_from(azimuth, 15)
    found = segmented(face.pixels)
    assert found.light.rakes
    # The shadow alone, at half of the background's light (0.73 of its code).
    dark = face.pixels[..., 1] < 0.73 * np.median(face.pixels[..., 1])
    opening = face.labels > 0
    shadow = (dark & opening).sum()
    assert shadow < 0.87 * opening.sum()
    assert found.voids.area_px.sum() == pytest.approx(opening.sum(), rel=0.15)
    far_walls = found.mask & opening & ~dark
    assert far_walls.sum() > 0.4 * (opening & ~dark).sum()
    both = (found.mask & opening).sum() / (found.mask | opening).sum()
    assert both > 0.75


@pytest.mark.parametrize("quarter", range(4))
def test_rays_lie_over_the_whole_of_a_lopsided_pit(quarter):
    pit = np.zeros((80, 80), np.int32)
    pit[20:60, 30:40] = pit[20:30, 40:60] = 1
    shapes = region_shapes(region_pixels(pit, 1))
    turn = quarter * np.pi / 2
    away = -np.array([np.cos(turn), np.sin(turn)])
    at = np.array([0])
    row, col = _Frame.around(shapes, at, turn).points(shapes, at, away)
    across, low, high = (col, 30, 59) if quarter % 2 else (row, 20, 59)
    assert across.min() == pytest.approx(low, abs=1)
    assert across.max() == pytest.approx(high, abs=1)
