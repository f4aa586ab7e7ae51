"""Two photos of one face lined up: by colour, and by relief that turns its sign."""

import cv2
import numpy as np
import pytest
from skimage.registration import phase_cross_correlation

from analysis.errors import PairError
from analysis.imaging.homography import moved
from analysis.imaging.registration import described, levelled, register
from analysis.imaging.registration_blocks import (
    as_matrix,
    fitted_shifts,
    laid_on,
    misfit,
    peaks,
    shift_of_all,
    surfaces,
)
from analysis.imaging.registration_marks import guessed

SIZE = (420, 560)


def field(seed, sigmas, size=SIZE):
    rng = np.random.default_rng(seed)
    total = sum(cv2.GaussianBlur(rng.normal(0, 1, size), (0, 0), s) * s for s in sigmas)
    return (total / total.std()).astype(np.float32)


def through(motion, light):
    """The light as a camera moved by `motion` sees it."""
    return cv2.warpPerspective(
        light, motion, SIZE[::-1], flags=cv2.INTER_CUBIC, borderMode=cv2.BORDER_REFLECT
    )


MOTION = np.array([[1.01, -0.02, 14.0], [0.021, 1.008, -9.0], [1e-5, -8e-6, 1.0]])


def photos(*, mottle, relief, seed=4):
    """Relief as slopes, of opposite sign in the two photos; noise of their own."""
    rng = np.random.default_rng(seed)
    colour = mottle * field(1, (2, 5, 12))
    rough = relief * cv2.Sobel(field(2, (2.5, 5)), cv2.CV_32F, 1, 0, ksize=3)
    first = 0.4 * np.exp(colour + rough)
    second = through(MOTION, 0.3 * np.exp(colour - rough))
    noisy = [p * (1 + rng.normal(0, 0.01, SIZE)) for p in (first, second)]
    return [p.astype(np.float32) for p in noisy]


def off_truth(matrix):
    y, x = np.mgrid[20:400:60, 20:540:60]
    at = np.column_stack([x.ravel(), y.ravel()]).astype(float)
    off = moved(matrix, at) - moved(MOTION, at)
    return float(np.sqrt((off**2).sum(axis=1).mean()))


def test_colour_lines_up():
    lying = register(*photos(mottle=0.05, relief=0.0), np.ones(SIZE, bool))

    assert off_truth(lying.to_second) < 0.15
    assert lying.rms_px < 0.5


def test_relief_that_turns_its_sign_does_not_pull():
    lying = register(*photos(mottle=0.05, relief=0.02), np.ones(SIZE, bool))

    assert off_truth(lying.to_second) < 0.25


def test_the_doubled_phase_sees_what_plain_phase_cannot():
    """Relief alone, of opposite sign: `skimage`'s phase correlation misses it."""
    rough = cv2.Sobel(field(2, (2.5, 5)), cv2.CV_32F, 1, 0, ksize=3) * 0.02
    true = np.array([[1, 0, 3.0], [0, 1, -2.0], [0, 0, 1]])
    there = cv2.warpPerspective(-rough, true, SIZE[::-1], flags=cv2.INTER_CUBIC)
    found = surfaces(
        rough,
        there,
        np.eye(3),
        np.ones(SIZE, bool),
        block_px=128,
        stride_px=64,
        reach_px=8,
    )

    # The surfaces stand where the first photo's px must move back to.
    np.testing.assert_allclose(shift_of_all(found), [-3.0, 2.0], atol=0.5)
    plain, *_ = phase_cross_correlation(rough, there, upsample_factor=10)
    assert np.hypot(plain[0] - 2.0, plain[1] + 3.0) > 0.9


def test_said_rms_is_no_better_than_the_truth():
    for mottle in (0.02, 0.05, 0.1):
        lying = register(*photos(mottle=mottle, relief=0.01), np.ones(SIZE, bool))
        assert off_truth(lying.to_second) < 1.5 * lying.rms_px + 0.05


@pytest.mark.parametrize("common_px", [0.0, 1.5])
def test_misfit_is_what_a_fit_is_off_and_not_the_noise_of_blocks(common_px):
    """Over a hundred drawings: the error of the fit itself, by its own truth."""
    rng = np.random.default_rng(8)
    at = np.stack(np.meshgrid(np.arange(64, 960, 64.0), np.arange(64, 760, 64.0)), -1)
    at = at.reshape(-1, 2)
    bent = common_px * np.sin(at[:, ::-1] / 90)
    height = np.full(len(at), 8.0)
    true, told, scatter = [], [], []
    for _ in range(100):
        shift = bent + rng.normal(0, 0.5, at.shape)
        _, fitted = fitted_shifts(at, shift, height, (800, 1000), 3.0)
        true.append(((fitted - bent) ** 2).sum(axis=1).mean())
        told.append(misfit(at, shift - fitted, 64, 64))
        scatter.append(np.sqrt(((shift - fitted) ** 2).sum(axis=1).mean()))

    off = np.sqrt(np.mean(true))
    assert 0.8 * off < np.mean(told) < 3 * off
    assert np.all(np.array(told) <= np.array(scatter) + 1e-9)
    if not common_px:
        assert np.mean(told) < 0.7 * np.mean(scatter)


def test_only_the_face_counts():
    """What moves beside the face, as a background does, is left out."""
    first, second = photos(mottle=0.05, relief=0.0)
    rng = np.random.default_rng(9)
    second[:, 400:] = (
        0.3 * np.exp(0.2 * cv2.GaussianBlur(rng.normal(0, 3, SIZE), (0, 0), 3))[:, 400:]
    )
    inside = np.zeros(SIZE, bool)
    inside[:, :360] = True

    y, x = np.mgrid[40:380:60, 40:340:60]
    at = np.column_stack([x.ravel(), y.ravel()]).astype(float)
    found = register(first, second, inside).to_second
    off = moved(found, at) - moved(MOTION, at)
    assert np.sqrt((off**2).sum(axis=1).mean()) < 0.5


def test_another_face_is_refused():
    first, _ = photos(mottle=0.05, relief=0.01)
    other = (0.4 * np.exp(0.05 * field(7, (2, 5, 12)))).astype(np.float32)

    with pytest.raises(PairError, match="does not show the same face"):
        register(first, other, np.ones(SIZE, bool))


def test_a_bent_face_is_refused():
    """A sheet that bends between the shots fits no plane."""
    first, _ = photos(mottle=0.08, relief=0.0)
    row, col = np.mgrid[: SIZE[0], : SIZE[1]].astype(np.float32)
    bent = col + 9 * np.sin(col / 60)
    second = cv2.remap(first, bent, row + 6 * np.sin(col / 45), cv2.INTER_CUBIC)

    with pytest.raises(PairError, match=r"lie on each other no better than|same face"):
        register(first, second, np.ones(SIZE, bool))


def test_a_photo_without_marks_is_refused():
    flat = np.full(SIZE, 0.4, np.float32)

    with pytest.raises(PairError, match="no marks in common"):
        register(flat, flat, np.ones(SIZE, bool))


def test_described_turns_and_scales_about_the_middle():
    turn = np.radians(2.0)
    middle = np.array([[1, 0, 49.5], [0, 1, 39.5], [0, 0, 1]])
    spin = 1.03 * np.array(
        [[np.cos(turn), -np.sin(turn), 0], [np.sin(turn), np.cos(turn), 0], [0, 0, 0]]
    )
    spin[2, 2] = 1.0
    matrix = middle @ spin @ np.linalg.inv(middle)

    lying = described(matrix, (80, 100), 0.2, 0.3)

    assert lying.rotation_deg == pytest.approx(2.0)
    assert lying.scale == pytest.approx(1.03)
    assert lying.shift_px == pytest.approx(0.0, abs=1e-9)


def test_a_small_homography_is_fitted_in_spite_of_wrong_blocks():
    truth = np.array([2.0, 3.0, -1.0, -4.0, 1.5, 2.0, 0.5, -0.8])
    at = np.stack(np.meshgrid(np.arange(30, 560, 50.0), np.arange(30, 420, 50.0)), -1)
    at = at.reshape(-1, 2)
    shift = moved(as_matrix(truth, SIZE), at) - at
    height = np.full(len(at), 8.0)
    shift[::7] += 5.0

    _, fitted = fitted_shifts(at, shift, height, SIZE, 1.0)

    good = np.arange(len(at)) % 7 != 0
    assert np.abs(fitted - shift)[good].max() < 0.25


def test_too_few_blocks_say_nothing():
    small = np.zeros((140, 140), np.float32)
    assert (
        surfaces(
            small,
            small,
            np.eye(3),
            np.ones(small.shape, bool),
            block_px=128,
            stride_px=64,
            reach_px=8,
        )
        is None
    )


def test_peaks_stay_near_what_is_expected():
    first = field(3, (3, 6)) * 0.03
    found = surfaces(
        first,
        np.roll(first, 5, axis=1),
        np.eye(3),
        np.ones(SIZE, bool),
        block_px=128,
        stride_px=64,
        reach_px=8,
    )
    expected = np.tile([-5.0, 0.0], (len(found.at), 1))

    shift, height = peaks(found, expected, 2.0, 0.7)

    assert np.median(np.abs(shift - expected)) < 0.1
    assert height.min() > 3.5


def test_too_few_marks_are_no_guess():
    flat = np.zeros((300, 300), np.float32)
    assert guessed(flat, flat, np.ones(flat.shape, bool)) == (None, 0)


def test_levelled_light_has_no_slope():
    slope = np.linspace(0.1, 0.6, 400, dtype=np.float32)[None].repeat(300, axis=0)
    assert np.abs(levelled(slope)[:, 80:-80]).max() < 0.06


def test_laid_on_tells_what_the_second_shows():
    _, shown = laid_on(
        np.ones((50, 60), np.float32),
        np.array([[1, 0, 10.0], [0, 1, 0], [0, 0, 1]]),
        (50, 60),
    )
    assert shown[:, :49].all()
    assert not shown[:, 51:].any()
