"""The drawn faces: light against closed forms, truth against itself."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from tests.benchmarks import faces, faces_camera, faces_scene

STEP_MM = 0.1
SIZE_PX = (240, 300)


@pytest.fixture(scope="module")
def face():
    return faces.draw("px_2_5", 0, size_px=SIZE_PX)


@pytest.mark.parametrize("azimuth", [0.0, 0.7, np.pi / 2, np.pi, 4.0])
def test_a_wall_throws_a_shadow_of_its_height_over_the_slope(azimuth):
    size, tall_mm, elevation = 201, 2.0, np.radians(30)
    rows, cols = np.mgrid[:size, :size] - size // 2
    towards = cols * np.cos(azimuth) + rows * np.sin(azimuth)
    wall = np.where((towards > 20) & (towards < 24), tall_mm, 0).astype(np.float32)
    lit = faces_camera.lamp_seen(wall, STEP_MM, azimuth, elevation, 0.01)
    middle = np.hypot(rows, cols) < 60
    dark = (lit < 0.5) & middle & (towards < 20)
    length_mm = tall_mm / np.tan(elevation)
    assert towards[dark].max() >= 18
    reach_mm = (20 - towards[dark].min()) * STEP_MM
    assert reach_mm == pytest.approx(length_mm, abs=2 * STEP_MM)
    assert lit[middle & (towards > 30)].min() > 0.99


def test_a_flat_face_sees_all_of_the_sky():
    seen = faces_camera.sky_seen(np.zeros((40, 50), np.float32), STEP_MM)
    assert seen == pytest.approx(1)


def test_the_foot_of_a_high_wall_sees_half_the_sky():
    wall = np.zeros((120, 120), np.float32)
    wall[:, 60:] = 50
    seen = faces_camera.sky_seen(wall, STEP_MM, directions=16)
    assert seen[60, 59] == pytest.approx(0.5, abs=0.07)


def test_a_slope_facing_the_lamp_is_brighter():
    ramp = np.tile(np.arange(80, dtype=np.float32) * 0.02, (80, 1))
    right, down, up = faces_camera._unit_normals(ramp, STEP_MM)
    assert right[40, 40] == pytest.approx(0.2)
    assert down[40, 40] == 0
    assert up[40, 40] == pytest.approx(1 / np.hypot(1, 0.2))


def test_pits_cover_about_the_share_asked_for():
    rng = np.random.default_rng(3)
    scene = faces_scene.bare_scene(
        rng,
        (600, 800),
        STEP_MM,
        roughness=0.5,
        waviness_mm=0.05,
        mottle=0.05,
        tint=(1, 1, 1),
    )
    faces_scene.scatter_pits(
        scene,
        rng,
        share=0.02,
        median_mm=2.0,
        spread=0.4,
        range_mm=(0.5, 6.0),
        touching=0.1,
        weights=faces_scene.USUAL_PROFILES,
    )
    assert (scene.labels > 0).mean() == pytest.approx(0.02, rel=0.35)
    assert scene.height_mm[scene.labels > 0].mean() < -0.3
    assert scene.height_mm[scene.labels == 0].min() > -0.5


def test_truth_agrees_with_itself(face):
    total = face.area_px.sum()
    assert face.cover.sum() == pytest.approx(total, rel=0.01)
    assert (face.labels > 0).sum() == pytest.approx(total, rel=0.1)
    large = face.area_px > 40
    pixels = np.bincount(face.labels.ravel(), minlength=len(face.area_px) + 1)[1:]
    assert pixels[large] == pytest.approx(face.area_px[large], rel=0.25)


def test_the_photo_has_the_size_of_its_truth(face):
    photo = cv2.imdecode(np.frombuffer(face.jpeg, np.uint8), cv2.IMREAD_COLOR)
    assert photo.shape[:2] == face.labels.shape


def test_one_seed_draws_one_face(face):
    assert faces.draw("px_2_5", 0, size_px=SIZE_PX).jpeg == face.jpeg
    assert faces.draw("px_2_5", 0, 1, SIZE_PX).jpeg != face.jpeg


def test_pits_are_darker_than_the_ground(face):
    photo = cv2.imdecode(np.frombuffer(face.jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
    inside, outside = photo[face.cover > 0.9], photo[face.cover == 0]
    assert np.median(inside) < 0.85 * np.median(outside)


def test_kinds_cover_what_is_reported():
    tiers = [kind.tier for kind in faces.KINDS.values()]
    assert len(faces.KINDS) >= 30
    assert {tier: tiers.count(tier) >= 5 for tier in set(tiers)} == {
        "easy": True,
        "hard": True,
        "clean": True,
    }
    assert faces.KINDS["noisy"].tier == "hard"
    assert faces.KINDS["terrazzo"].grainy
