import numpy as np
import pytest

from analysis.errors import InputError
from analysis.synthetic import (
    Camera,
    FaceRecipe,
    Lamp,
    Pit,
    PitPopulation,
    Surface,
    draw_face,
    encode,
)

BARE = Surface(grain_contrast=0, mottle_contrast=0, roughness_mm=0)
STILL = Camera(blur_px=0, full_well=1e9, read_noise=0, vignette=0)
CROWD = PitPopulation(per_m2=60_000, median_mm=1.0)


def recipe(**changes: object) -> FaceRecipe:
    settings: dict[str, object] = {
        "height_px": 200,
        "width_px": 240,
        "mm_per_px": 0.1,
        "surface": BARE,
        "camera": STILL,
    }
    return FaceRecipe(**{**settings, **changes})


@pytest.mark.parametrize("diameter_mm", [0.6, 1.0, 3.0, 9.0])
@pytest.mark.parametrize("irregularity", [0.0, 0.3])
def test_one_pit_opens_the_area_of_its_circle(diameter_mm, irregularity):
    pit = Pit(
        row_mm=9.83, col_mm=11.37, diameter_mm=diameter_mm, irregularity=irregularity
    )
    face = draw_face(recipe(placed=(pit,)), seed=3)
    circle = np.pi * diameter_mm**2 / 4
    assert face.area_mm2[0] == pytest.approx(circle, rel=0.005)
    assert face.coverage.sum() * 0.1**2 == pytest.approx(circle, rel=0.005)


def test_two_overlapping_pits_open_the_union_of_two_circles():
    radius, apart = 2.0, 3.0
    placed = tuple(
        Pit(row_mm=10, col_mm=col, diameter_mm=2 * radius) for col in (9, 9 + apart)
    )
    face = draw_face(recipe(placed=placed), seed=1)
    # Lens of two equal circles, closed form.
    lens = 2 * radius**2 * np.arccos(apart / (2 * radius)) - apart / 2 * np.sqrt(
        4 * radius**2 - apart**2
    )
    union = 2 * np.pi * radius**2 - lens
    assert face.area_mm2.sum() == pytest.approx(union, rel=0.005)
    assert face.area_mm2[0] == pytest.approx(face.area_mm2[1], rel=0.05)
    assert set(np.unique(face.labels)) == {0, 1, 2}


def test_shares_add_up():
    face = draw_face(recipe(pits=(CROWD,)), seed=7)
    assert len(face.area_mm2) > 10
    assert face.true_void_share == pytest.approx(face.coverage.mean(), rel=1e-4)
    assert face.share_of() == pytest.approx(face.true_void_share, rel=1e-9)
    limit = float(np.median(face.equivalent_diameter_mm))
    small = face.area_mm2[face.equivalent_diameter_mm < limit].sum()
    assert face.share_of(limit) + small / face.recipe.face_area_mm2 == pytest.approx(
        face.true_void_share
    )
    assert face.count_of(limit) == np.sum(face.equivalent_diameter_mm >= limit)


def test_labels_cover_what_is_half_open():
    face = draw_face(recipe(pits=(CROWD,)), seed=7)
    np.testing.assert_array_equal(face.labels > 0, face.coverage >= 0.5)


@pytest.mark.parametrize(
    ("azimuth_deg", "dark", "bright"),
    [
        (0, (0, 1), (0, -1)),
        (90, (1, 0), (-1, 0)),
        (180, (0, -1), (0, 1)),
        (270, (-1, 0), (1, 0)),
    ],
)
def test_dark_arc_lies_towards_the_lamp(azimuth_deg, dark, bright):
    pit = Pit(row_mm=10, col_mm=12, diameter_mm=8, depth_ratio=0.35)
    lamp = Lamp(azimuth_deg=azimuth_deg, elevation_deg=40)
    pixels = draw_face(recipe(placed=(pit,), lamp=lamp), seed=1).pixels[..., 1]
    flat = int(pixels[5, 5])
    at_dark = int(pixels[100 + 30 * dark[0], 120 + 30 * dark[1]])
    at_bright = int(pixels[100 + 30 * bright[0], 120 + 30 * bright[1]])
    assert at_dark < 0.7 * flat
    assert at_bright > at_dark + 30


def test_shadow_reaches_as_far_as_the_ray():
    # A ray over the rim at 45° meets a half ball of radius 4 mm exactly below its
    # centre: the half towards the lamp is dark, the other half is lit.
    pit = Pit(row_mm=10, col_mm=12, diameter_mm=8, depth_ratio=0.5)
    lamp = Lamp(azimuth_deg=0, elevation_deg=45, strength=1, sky=0)
    face = draw_face(recipe(placed=(pit,), lamp=lamp), seed=2)
    line = face.pixels[100, :, 1].astype(float)
    assert line[125:155].max() < line[90:110].min()


def test_no_pits_no_truth():
    face = draw_face(recipe(surface=Surface(stains=2, bloom=2, cracks=1)), seed=1)
    assert face.true_void_share == 0
    assert face.count_of() == 0
    assert not face.labels.any()
    assert not face.coverage.any()


def test_same_seed_same_face_other_seed_another():
    first, again, other = (
        draw_face(recipe(pits=(CROWD,), camera=Camera()), seed=s) for s in (4, 4, 5)
    )
    np.testing.assert_array_equal(first.pixels, again.pixels)
    np.testing.assert_array_equal(first.area_mm2, again.area_mm2)
    assert not np.array_equal(first.pixels, other.pixels)
    assert not np.array_equal(first.area_mm2, other.area_mm2)


def test_another_lamp_and_camera_show_the_same_pits():
    plain = draw_face(recipe(pits=(CROWD,)), seed=4)
    turned = draw_face(
        recipe(pits=(CROWD,), lamp=Lamp(azimuth_deg=10), camera=Camera(blur_px=2)),
        seed=4,
    )
    np.testing.assert_array_equal(plain.coverage, turned.coverage)
    assert not np.array_equal(plain.pixels, turned.pixels)


def test_arrays_are_sealed():
    face = draw_face(recipe(), seed=0)
    with pytest.raises(ValueError, match="read-only"):
        face.pixels[0, 0] = 0


@pytest.mark.parametrize("seed", [-1, 1.5, True, "1", None])
def test_bad_seed_is_refused(seed):
    with pytest.raises(InputError, match="seed must be a whole number"):
        draw_face(recipe(), seed=seed)


@pytest.mark.parametrize(
    ("file_format", "magic"),
    [("PNG", b"\x89PNG"), ("JPEG", b"\xff\xd8"), ("TIFF", b"II"), ("WEBP", b"RIFF")],
)
def test_encode_writes_the_format_asked_for(file_format, magic):
    assert encode(draw_face(recipe(), seed=0), file_format).startswith(magic)


def test_encode_refuses_other_formats():
    with pytest.raises(InputError, match="File format must be one of"):
        encode(draw_face(recipe(), seed=0), "GIF")
    with pytest.raises(InputError, match="Quality must be between 1 and 100"):
        encode(draw_face(recipe(), seed=0), "JPEG", quality=0)
