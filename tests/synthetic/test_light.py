"""Light, marks and camera, seen in the drawn pixels."""

import numpy as np
import pytest

from analysis.synthetic import (
    Aggregate,
    Camera,
    FaceRecipe,
    Joint,
    Lamp,
    Pit,
    Surface,
    draw_face,
)
from analysis.synthetic.exposure import SRGB, coded
from analysis.synthetic.noise import clouds, fractal

BARE = Surface(
    grain_contrast=0, mottle_contrast=0, roughness_mm=0, reflectance=(0.5, 0.5, 0.5)
)
STILL = Camera(blur_px=0, full_well=1e9, read_noise=0, vignette=0)


def linear(face):
    """Return linear light of the green channel, from the sRGB formula."""
    value = face.pixels[..., 1] / 255
    return np.where(value <= 0.04045, value / 12.92, ((value + 0.055) / 1.055) ** 2.4)


def draw(seed=1, **parts):
    settings = {
        "height_px": 200,
        "width_px": 200,
        "mm_per_px": 0.1,
        "surface": BARE,
        "camera": STILL,
        "supersample": 2,
    }
    return draw_face(FaceRecipe(**{**settings, **parts}), seed=seed)


def test_flat_face_shows_its_reflectance():
    assert linear(draw()) == pytest.approx(0.5, abs=0.005)


def test_sky_in_a_half_ball_is_darker_by_the_closed_form():
    # Half a ball sees half of the sky from everywhere; its own light returns as in
    # an integrating sphere: (1 - f) / (1 - r f), f = 1/2. The inside's own
    # reflectance r is drawn at random, so its range bounds the answer.
    pit = Pit(row_mm=10, col_mm=10, diameter_mm=12, depth_ratio=0.5)
    light = linear(draw(placed=(pit,), lamp=Lamp(strength=0, sky=1)))
    inside = np.median(light[80:120, 80:120])
    low, high = (tone * 0.5 * 0.5 / (1 - tone * 0.25) for tone in (0.25, 1.0))
    assert low - 0.01 < inside < high + 0.01


def test_deeper_pits_are_darker():
    means = []
    for depth in (0.1, 0.3, 0.6):
        pit = Pit(row_mm=10, col_mm=10, diameter_mm=6, depth_ratio=depth)
        means.append(linear(draw(placed=(pit,)))[70:130, 70:130].mean())
    assert means[0] > means[1] > means[2]


def test_shallow_pit_under_a_high_lamp_is_lit_inside():
    pit = Pit(row_mm=10, col_mm=10, diameter_mm=6, depth_ratio=0.1)
    lamp = Lamp(elevation_deg=70, strength=1, sky=0, radius_deg=0)
    light = linear(draw(placed=(pit,), lamp=lamp))
    direct_share = light[100, 100] / 0.5
    assert direct_share > 0.2


def test_a_fin_shades_the_side_away_from_the_lamp():
    joint = Joint(start_mm=(0, 10), end_mm=(20, 10), fin_height_mm=1.0)
    lamp = Lamp(azimuth_deg=0, elevation_deg=35, strength=1, sky=0)
    light = linear(draw(joints=(joint,), lamp=lamp)).mean(axis=0)
    assert light[80:94].min() < 0.2
    assert light[112:180].min() > 0.45
    assert light[102:106].max() > 0.55


@pytest.mark.parametrize("share", [0.05, 0.3])
def test_aggregate_covers_its_share_and_is_no_void(share):
    grains = Aggregate(share=share, median_mm=0.8, reflectance=(0, 0, 0))
    surface = Surface(
        grain_contrast=0,
        mottle_contrast=0,
        roughness_mm=0,
        reflectance=(0.5, 0.5, 0.5),
        aggregate=(grains,),
    )
    face = draw(surface=surface, height_px=1000, width_px=1000)
    # Grains strewn at random overlap: 1 - exp(-share) is seen.
    light = linear(face)
    seen = 1 - light.mean() / light.max()
    assert seen == pytest.approx(1 - np.exp(-share), rel=0.15)
    assert face.true_void_share == 0


def test_marks_lie_on_the_face_not_in_the_pits():
    black = Aggregate(share=0.8, median_mm=3, spread=0, reflectance=(0, 0, 0))
    pit = Pit(row_mm=10, col_mm=10, diameter_mm=12, depth_ratio=0.1)
    plain = linear(draw(placed=(pit,)))
    strewn = linear(
        draw(
            placed=(pit,),
            surface=Surface(
                grain_contrast=0,
                mottle_contrast=0,
                roughness_mm=0,
                reflectance=(0.5, 0.5, 0.5),
                aggregate=(black,),
            ),
        )
    )
    np.testing.assert_allclose(strewn[60:140, 60:140], plain[60:140, 60:140], atol=0.01)
    assert strewn[:30].mean() < 0.7 * plain[:30].mean()


@pytest.mark.parametrize(
    ("marks", "darker"),
    [
        ({"stains": 6, "stain_strength": 0.5}, True),
        ({"cracks": 4, "crack_width_mm": 0.4}, True),
        ({"bloom": 6, "bloom_strength": 0.8}, False),
        ({"scratches": 6, "scratch_width_mm": 0.4}, False),
    ],
)
def test_marks_change_the_light_but_not_the_truth(marks, darker):
    surface = Surface(
        grain_contrast=0,
        mottle_contrast=0,
        roughness_mm=0,
        reflectance=(0.5, 0.5, 0.5),
        **marks,
    )
    face = draw(surface=surface)
    light = linear(face)
    changed = light.min() < 0.45 if darker else light.max() > 0.53
    assert changed
    assert face.true_void_share == 0


def test_board_grain_runs_down_the_picture():
    surface = Surface(
        grain_contrast=0, mottle_contrast=0, roughness_mm=0, board_contrast=0.08
    )
    light = linear(draw(surface=surface))
    assert np.diff(light, axis=1).std() > 3 * np.diff(light, axis=0).std()


def test_leak_band_is_darker_than_the_face():
    joint = Joint(start_mm=(0, 10), end_mm=(20, 10), leak_width_mm=3, gap_mm=0.3)
    light = linear(draw(joints=(joint,))).mean(axis=0)
    assert light[90:110].mean() < 0.45
    assert light[:40].mean() == pytest.approx(0.5, abs=0.01)


def test_noise_has_the_variance_asked_for():
    camera = Camera(blur_px=0, full_well=2_000, read_noise=20, vignette=0)
    light = linear(draw(camera=camera))
    expected = np.sqrt(0.5 / 2_000 + (20 / 2_000) ** 2)
    assert light.std() == pytest.approx(expected, rel=0.05)


def test_vignette_and_fall_darken_where_they_should():
    corner = linear(
        draw(camera=Camera(blur_px=0, full_well=1e9, read_noise=0, vignette=0.4))
    )
    assert corner[0, 0] == pytest.approx(0.5 * 0.6, abs=0.01)
    assert corner[100, 100] == pytest.approx(0.5, abs=0.01)
    fall = linear(
        draw(
            camera=Camera(
                blur_px=0, full_well=1e9, read_noise=0, vignette=0, uneven=0.5
            )
        )
    )
    assert fall[:, 0].mean() == pytest.approx(0.5, abs=0.01)
    assert fall[:, -1].mean() == pytest.approx(0.25, abs=0.01)


def test_blur_keeps_the_light_and_widens_the_edge():
    pit = Pit(row_mm=10, col_mm=10, diameter_mm=3, depth_ratio=0.6)
    lamp = Lamp(strength=0, sky=1)
    soft = Camera(blur_px=3, full_well=1e9, read_noise=0, vignette=0)
    sharp, blurred = (
        linear(draw(placed=(pit,), lamp=lamp, camera=camera))
        for camera in (STILL, soft)
    )
    assert blurred.sum() == pytest.approx(sharp.sum(), rel=1e-3)
    assert np.abs(np.diff(blurred[100])).max() < 0.5 * np.abs(np.diff(sharp[100])).max()


def test_jpeg_leaves_its_blocks():
    strong = Camera(jpeg_quality=20)
    assert not np.array_equal(draw(camera=strong).pixels, draw(camera=Camera()).pixels)


def test_coding_meets_the_srgb_formula():
    # IEC 61966-2-1: linear 0.2140411 is code 0.5.
    assert coded(np.array([0.2140411], np.float32))[0] in {127, 128}
    assert np.all(np.diff(SRGB.astype(int)) >= 0)
    assert (SRGB[0], SRGB[-1]) == (0, 255)


@pytest.mark.parametrize("size_px", [0.5, 2, 7, 30])
def test_clouds_have_unit_spread_and_their_size(size_px):
    field = clouds((600, 600), size_px, np.random.default_rng(5))
    assert field.mean() == pytest.approx(0, abs=0.15)
    assert field.std() == pytest.approx(1, rel=0.2)
    if size_px >= 2:
        step = int(max(1, size_px // 4))
        near = np.corrcoef(field[:, step:].ravel(), field[:, :-step].ravel())[0, 1]
        assert near > 0.5


def test_fractal_has_about_unit_spread():
    field = fractal((500, 500), 60, 4, np.random.default_rng(6))
    assert field.std() == pytest.approx(1, rel=0.3)
