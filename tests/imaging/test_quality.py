import numpy as np
import pytest

from analysis.flags import LIGHT_FLAGS, Flag
from analysis.imaging.quality import light_flags, pixel_noise

SHAPE = (240, 320)


def even(code, shape=SHAPE):
    return np.full((*shape, 3), code, np.uint8)


def doubts(pixels, face=None):
    whole = np.ones(pixels.shape[:2], bool)
    return light_flags(pixels, whole if face is None else face)


def coded(light):
    """Linear light as sRGB codes of a grey photo."""
    code = np.where(
        light <= 0.0031308,
        12.92 * light,
        1.055 * np.maximum(light, 0) ** (1 / 2.4) - 0.055,
    )
    grey = np.rint(255 * np.clip(code, 0, 1)).astype(np.uint8)
    return np.repeat(grey[..., None], 3, axis=2)


def slope(darkest, brightest):
    """Light that falls off evenly across the photo."""
    light = np.linspace(darkest, brightest, SHAPE[1])
    return coded(np.broadcast_to(light, SHAPE))


@pytest.mark.parametrize("code", [40, 128, 240])
def test_an_even_photo_raises_no_doubt(code):
    assert doubts(even(code)) == frozenset()


@pytest.mark.parametrize(
    ("code", "expected"),
    [
        (0, {Flag.CLIPPED_DARK, Flag.TOO_DARK}),
        (10, {Flag.TOO_DARK}),
        (14, set()),
        (255, {Flag.CLIPPED_BRIGHT}),
        (252, set()),
    ],
)
def test_black_dark_and_white(code, expected):
    assert doubts(even(code)) == expected


@pytest.mark.parametrize(("share", "clipped"), [(0.01, False), (0.03, True)])
@pytest.mark.parametrize(
    ("code", "flag"), [(0, Flag.CLIPPED_DARK), (255, Flag.CLIPPED_BRIGHT)]
)
def test_clipping_from_two_parts_in_a_hundred(share, clipped, code, flag):
    pixels = even(128)
    pixels[: round(SHAPE[0] * share * 3) : 1, :] = 128
    rng = np.random.default_rng(1)
    pixels[rng.random(SHAPE) < share] = code
    assert (flag in doubts(pixels)) == clipped


def test_one_full_channel_is_not_white():
    assert doubts(np.full((*SHAPE, 3), (255, 120, 60), np.uint8)) == frozenset()


@pytest.mark.parametrize(("ratio", "uneven"), [(1.5, False), (2.2, False), (4.0, True)])
def test_light_that_falls_off(ratio, uneven):
    assert (Flag.UNEVEN_LIGHT in doubts(slope(0.6 / ratio, 0.6))) == uneven


def test_a_hard_shadow():
    pixels = even(200)
    pixels[:, :160] = 90
    assert doubts(pixels) == {Flag.UNEVEN_LIGHT}


def test_voids_and_stains_do_not_make_light_uneven():
    pixels = even(180)
    pixels[40:60, 50:70] = 15
    pixels[100:130, 200:240] = 90
    assert doubts(pixels) == frozenset()


def test_only_the_face_is_judged():
    pixels = even(128)
    pixels[:, :160] = 0
    pixels[:40] = 255
    face = np.zeros(SHAPE, bool)
    face[60:200, 180:300] = True
    assert doubts(pixels, face) == frozenset()


def test_a_face_thinner_than_the_steps_is_judged_all_the_same():
    face = np.zeros(SHAPE, bool)
    face[:, 1] = True
    pixels = even(128)
    pixels[:, 1] = 0
    assert Flag.CLIPPED_DARK in doubts(pixels, face)


def test_only_doubts_about_light_and_noise_come_from_here():
    assert doubts(slope(0.0, 1.0)) <= LIGHT_FLAGS | {Flag.NOISY}


class TestNoise:
    def grainy(self, spread, light=0.3, seed=9):
        rng = np.random.default_rng(seed)
        return coded(light * (1 + spread * rng.standard_normal(SHAPE)))

    def noise(self, pixels):
        return pixel_noise(pixels, np.ones(pixels.shape[:2], bool))

    @pytest.mark.parametrize("spread", [0.03, 0.08, 0.15])
    def test_spread_of_single_pixels_over_the_light(self, spread):
        # The local light is a mean over 81 px that holds the pixel itself.
        assert self.noise(self.grainy(spread)) == pytest.approx(spread, rel=0.08)

    def test_a_slope_of_light_is_no_noise(self):
        assert self.noise(slope(0.2, 0.8)) < 0.01

    def test_pits_and_a_shadow_hardly_count(self):
        pixels = self.grainy(0.05)
        row, col = np.mgrid[: SHAPE[0], : SHAPE[1]]
        for at in range(30, 230, 40):
            pixels[np.hypot(row - at, col - at) < 8] = 20
        pixels[:, 200:] //= 2
        assert self.noise(pixels) == pytest.approx(
            self.noise(self.grainy(0.05)), rel=0.15
        )

    def test_only_a_grainy_photo_is_flagged(self):
        assert Flag.NOISY not in doubts(self.grainy(0.05))
        assert Flag.NOISY in doubts(self.grainy(0.075))

    def test_no_face_in_the_middle_is_no_noise(self):
        big = np.zeros((3000, 3000, 3), np.uint8)
        face = np.zeros(big.shape[:2], bool)
        face[:5, :5] = True
        assert pixel_noise(big, face) == 0
