"""The third renderer: light against closed forms, truth against itself."""

from __future__ import annotations

import cv2
import numpy as np
import pytest

from tests.benchmarks.renderers import RENDERERS
from tests.benchmarks.shop import camera, draw, kinds, light, marks, noise, voids
from tests.benchmarks.shop import surface as surfaces

SIZE_PX = (160, 200)
PX_PER_MM = 5.0
STEP_MM = 0.1


def seen_from(tilt=0.0, size_px=SIZE_PX):
    rng = np.random.default_rng(0)
    return camera.look(
        camera.Camera(tilt_degrees=tilt, distance=50.0), rng, size_px, PX_PER_MM
    )


def straight(size_px=SIZE_PX):
    return camera.View(
        place_mm=(16.0, 20.0, 100.0),
        to_photo=np.eye(3),
        shape=size_px,
        px_per_mm=PX_PER_MM,
    )


def face_with(*discs, size_px=SIZE_PX):
    """A bare face with plain round voids (row, col, radius in mm)."""
    face = surfaces.bare(PX_PER_MM, size_px, "grey")
    for row, col, radius in discs:
        rng = np.random.default_rng(1)
        voids.sink(face, rng, (row, col), radius, kinds.USUAL, shape="disc")
    return face


@pytest.mark.parametrize("radius_mm", [1.0, 2.03, 4.5, 7.77])
def test_a_disc_has_its_area_within_a_hundredth(radius_mm):
    truth = draw.truth(face_with((16.1, 20.07, radius_mm)), straight())
    wanted = np.pi * (radius_mm * PX_PER_MM) ** 2
    assert truth["area_px"].tolist() == pytest.approx([wanted], rel=0.01)
    assert truth["cover"].sum() == pytest.approx(wanted, rel=0.01)


def test_a_small_disc_is_not_swollen_in_the_mean():
    """Polygons painted pixel by pixel add 8 % of area; the canvas must not."""
    places = np.random.default_rng(4).uniform(3, 29, (40, 2))
    areas = [
        draw.truth(face_with((*place, 0.4)), straight())["area_px"][0]
        for place in places
    ]
    assert np.mean(areas) == pytest.approx(np.pi * 2.0**2, rel=0.01)


def test_a_tilt_shortens_the_mouth_by_its_cosine():
    shape = (400, 400)
    truth = draw.truth(face_with((40, 40, 8.0), size_px=shape), seen_from(40, shape))
    view = seen_from(40, shape)
    along = view.px_per_mm / PX_PER_MM
    wanted = np.pi * 40**2 * along**2 * np.cos(np.radians(40))
    assert truth["area_px"][0] == pytest.approx(wanted, rel=0.02)
    assert truth["labels"].shape == (round(400 * np.cos(np.radians(40))), 400)


def test_a_void_cut_by_another_keeps_its_own_part():
    face = face_with((16, 15, 4.0), (16, 19, 4.0))
    areas = draw.truth(face, straight())["area_px"]
    overlap = 2 * 16 * np.arccos(0.5) - 2 * np.sqrt(64 - 16)
    both = (2 * np.pi * 16 - overlap) * PX_PER_MM**2
    assert areas.sum() == pytest.approx(both, rel=0.01)
    assert areas[0] == pytest.approx(np.pi * 16 * PX_PER_MM**2, rel=0.01)


@pytest.mark.parametrize("shape", voids.SHAPES)
def test_every_shape_opens_downwards_and_stays_on_its_patch(shape):
    face = surfaces.bare(PX_PER_MM, (200, 200), "grey")
    rng = np.random.default_rng(5)
    assert voids.sink(face, rng, (20, 20), 3.0, kinds.USUAL, shape=shape)
    opened = face.canvas[::2, ::2] > 0
    assert face.height[opened].mean() < -0.3
    assert np.abs(face.height[~face.active]).max() == 0
    border = np.concatenate([opened[0], opened[-1], opened[:, 0], opened[:, -1]])
    assert not border.any()
    count, _ = cv2.connectedComponents(np.uint8(opened))
    assert count == 2


def test_the_floor_of_half_a_sphere_is_one_radius_deep():
    r = np.linspace(0, 1, 5)
    assert voids._cap(r**2, 1.0) == pytest.approx(np.sqrt(1 - r**2))
    assert voids._cap(np.zeros(1), 0.4) == pytest.approx([0.4])
    assert voids._cap(np.ones(1), 0.4) == pytest.approx([0], abs=1e-12)


def test_the_share_is_about_the_one_asked_for():
    face = surfaces.bare(PX_PER_MM, (500, 600), "grey")
    wanted = voids.Population(share_percent=(2, 2), median_mm=1.5)
    voids.strew(face, np.random.default_rng(8), wanted)
    assert (face.canvas > 0).mean() == pytest.approx(0.02, rel=0.2)


# -- light


@pytest.mark.parametrize("turn", [0.0, 0.9, np.pi / 2, 4.0])
def test_the_horizon_of_a_wall_is_its_height_over_its_distance(turn):
    rows, cols = np.mgrid[:161, :161] - 80
    away = cols * np.cos(turn) + rows * np.sin(turn)
    wall = np.where(away > 30, 2.0, 0).astype(np.float32)
    at = np.array([80]), np.array([80])
    steps = np.arange(1, 60, 0.5)
    tangent = light.horizon(wall, STEP_MM, *at, (np.sin(turn), np.cos(turn)), steps)
    assert tangent == pytest.approx(2.0 / (30 * STEP_MM), rel=0.05)


@pytest.mark.parametrize("name", list(light.LIGHTS))
def test_a_level_open_face_gets_one_unit_of_every_light(name):
    face = surfaces.bare(PX_PER_MM, SIZE_PX, "grey")
    lit = light.LIGHTS[name](np.random.default_rng(2), face.size_mm)
    radiance = light.shade(face, lit) / face.albedo
    middle = radiance[150:170, 190:210].mean(axis=(0, 1))
    assert middle.mean() == pytest.approx(1, abs=0.06)


def test_the_foot_of_a_high_wall_sees_half_the_sky():
    wall = np.zeros((120, 120), np.float32)
    wall[:, 60:] = 60
    at = np.array([60]), np.array([59])
    slopes = light.normals(np.zeros_like(wall), STEP_MM)
    even = light.Light(dome=1.0)
    _, seen, sky = light.from_sky(even, wall, STEP_MM, slopes, at)
    assert sky == pytest.approx(0.5, abs=0.05)
    assert seen[0] == pytest.approx(0.5, abs=0.06)


def test_an_overcast_sky_is_three_times_brighter_overhead():
    """CIE standard overcast sky (ISO 15469): (1 + 2 sin h) / 3."""
    _, radiance = light._sky_parts(light.Light(dome=1.0, overcast=True))
    assert radiance[0, -1, 0] / radiance[0, 0, 0] == pytest.approx(3, rel=0.03)


def test_light_passed_on_in_a_closed_cavity():
    """A cavity of albedo a that sees no sky returns a / (1 - a) of the mean."""
    ones = np.ones((4, 3), np.float32)
    number = np.ones(4, int)
    passed = light._passed_on(ones, np.zeros(4), number, 0.5 * ones, np.ones(2))
    assert passed == pytest.approx(1.0)


def test_a_lamp_from_the_left_shades_the_left_of_a_void():
    face = face_with((16, 20, 4.0))
    lamp = light.Lamp(place_mm=(16, -500, 300), half_width_mm=5, power=1.0)
    radiance = light.shade(face, light.Light(dome=0.1, lamps=(lamp,)))[..., 1]
    row = radiance[160]
    assert row[163:172].mean() < 0.5 * row[228:237].mean()


def test_a_curved_face_mirrors_the_flash_where_it_is_square_on():
    face = surfaces.bare(PX_PER_MM, SIZE_PX, "black")
    face.polish += 1
    face.bow = (8.0, 10.0, 1 / 60)
    place = (16.0, 20.0, 300.0)
    flash = light.Lamp(place_mm=place, half_width_mm=3, power=1.0)
    mirrored = light.gloss(face, light.Light(dome=0.0, lamps=(flash,)), place)[..., 0]
    row, col = np.unravel_index(mirrored.argmax(), mirrored.shape)
    centre = np.array([row, col]) * face.step_mm
    assert np.linalg.norm(centre - [8, 10]) < 6


# -- camera and whole faces


def test_the_camera_looks_past_the_near_wall():
    """Seen at 45 degrees, a floor `d` below shows `d` further off."""
    face = surfaces.bare(PX_PER_MM, SIZE_PX, "grey")
    face.height[100:200, 100:300] = -2.0
    face.active[100:200, 100:300] = True
    rows = np.arange(face.shape[0], dtype=np.float32)
    image = np.repeat(rows[:, None], face.shape[1], axis=1)[..., None].repeat(3, axis=2)
    view = camera.View(
        place_mm=(15.0 - 1e6, 20.0, 1e6),
        to_photo=np.eye(3),
        shape=SIZE_PX,
        px_per_mm=PX_PER_MM,
    )
    camera.parallax(image, face, view)
    assert image[150, 200, 0] == pytest.approx(150 + 2.0 / face.step_mm, abs=2)
    assert image[50, 200, 0] == 50


def test_the_photo_shows_nothing_but_the_face():
    view = seen_from(35)
    high, wide = view.shape
    corners = np.float32([[[0, 0], [wide, 0], [wide, high], [0, high]]])
    on_face = cv2.perspectiveTransform(corners, np.linalg.inv(view.to_photo))[0]
    assert on_face.min() >= 0
    assert (on_face <= [SIZE_PX[1], SIZE_PX[0]]).all()


@pytest.fixture(scope="module")
def face():
    return draw.draw("lamp_grey", 0, size_px=SIZE_PX)


def test_truth_agrees_with_itself(face):
    total = face.area_px.sum()
    assert total > 0
    assert face.cover.sum() == pytest.approx(total, rel=1e-4)
    assert (face.labels > 0).sum() == pytest.approx(total, rel=0.1)
    photo = cv2.imdecode(np.frombuffer(face.jpeg, np.uint8), cv2.IMREAD_COLOR)
    assert photo.shape[:2] == face.labels.shape == face.cover.shape


def test_one_seed_draws_one_face(face):
    assert draw.draw("lamp_grey", 0, size_px=SIZE_PX).jpeg == face.jpeg
    assert draw.draw("lamp_grey", 1, size_px=SIZE_PX).jpeg != face.jpeg


def test_another_light_leaves_the_face_as_it_is(face):
    other = draw.draw("lamp_grey", 0, size_px=SIZE_PX, light="overcast")
    assert np.array_equal(other.labels, face.labels)
    assert np.array_equal(other.area_px, face.area_px)
    assert other.jpeg != face.jpeg


def test_a_clean_face_has_no_void():
    clean = draw.draw("clean_hairlines", 0, size_px=SIZE_PX)
    assert clean.area_px.sum() == 0
    assert clean.lines.any()


@pytest.mark.parametrize("mark", [m for m in marks.MARKS if m != "nest"])
def test_marks_open_nothing(mark):
    face = surfaces.bare(PX_PER_MM, SIZE_PX, "grey")
    marks.MARKS[mark](face, np.random.default_rng(3))
    assert not face.canvas.any()
    assert np.isfinite(face.albedo).all()
    assert face.albedo.min() > 0


def test_a_nest_opens_gaps_between_its_stones():
    face = surfaces.bare(4.0, (300, 400), "grey")
    marks.nest(face, np.random.default_rng(3))
    open_part = (face.canvas[::2, ::2] > 0) & face.honeycomb
    assert 0.1 < open_part.sum() / face.honeycomb.sum() < 0.6
    assert not (face.canvas[::2, ::2] > 0)[~face.honeycomb].any()


def test_a_field_has_the_spectrum_asked_for():
    values = noise.field(np.random.default_rng(6), (512, 512), 1e4, 2.0, hurst=0.5)
    power = np.abs(np.fft.fft(values, axis=1)) ** 2
    mean = power.mean(axis=0)
    # a cut through a surface of power q^-3 falls as q^-2
    low, high = mean[8:16].mean(), mean[64:128].mean()
    assert np.log2(low / high) / 3 == pytest.approx(2, abs=0.25)


def test_specks_cover_their_share():
    grains = noise.specks(np.random.default_rng(6), (300, 300), 6.0, 0.1)
    assert (grains > 0.5).mean() == pytest.approx(0.1, abs=0.01)


def test_kinds_cover_what_is_reported():
    tiers = [kind.tier for kind in kinds.KINDS.values()]
    assert tiers.count("clean") >= 8
    assert tiers.count("easy") >= 12
    assert tiers.count("hard") >= 12
    lights = {kind.light for kind in kinds.KINDS.values() if kind.tier == "easy"}
    assert lights == set(light.LIGHTS)
    for name, kind in kinds.KINDS.items():
        known = (kind.form in surfaces.FORMS, kind.colour in surfaces.COLOURS)
        assert known == (True, True), name
        assert set(kind.marks) <= set(marks.MARKS), name
        assert (kind.voids.share_percent[1] == 0) == (kind.tier == "clean"), name


def test_kinds_of_all_renderers_have_names_of_their_own():
    names = [name for renderer in RENDERERS.values() for name in renderer.kinds]
    assert len(names) == len(set(names))
    for renderer in RENDERERS.values():
        for kind in renderer.kinds.values():
            assert kind.tier in {"easy", "hard", "clean"}
            assert isinstance(kind.light, str)
