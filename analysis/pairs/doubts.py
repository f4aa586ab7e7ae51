"""Pairs that cannot be measured: the same photo twice, one blurred, lights alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy import fft

from analysis.errors import PairError
from analysis.imaging.homography import moved
from analysis.imaging.registration import levelled
from analysis.pairs.lights import LEAST_ANGLE_DEG
from analysis.robust import MAD_TO_SD, median, robust_sd

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.imaging.registration import Registration
    from analysis.pairs.lights import Lights

    Plane = NDArray[np.float32]

# Slopes weaker than this part of the other photo's, in any direction, are blurred.
_LEAST_DETAIL, _FINE_PX, _MOST_LOG = 0.68, 1.2, 0.7
# Blind to even slopes; over 6, the root of the sum of its squares, it leaves white
# noise its spread.
_NO_SLOPE = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], dtype=np.float32) / 6
_WORKED_PX = 1600
# Mottling over some px, as a part of the light, that nothing can be lined up by: noise
# and the blocks of a JPEG leave 0.01, the faintest drawn faces have 0.025.
_BARE_LOG, _BARE_PX = 0.013, 2.0
# Two shots by hand are mostly turned or tilted by more of their width than this.
_STRAIGHT_PART = 0.002
# All but so little of the broad light of copies, stored at half the size or at quality
# 60, differs by less than 0.034 (log), on black faces too; that of two shots from one
# stand does by 0.13 or more at the uneven light of any near lamp, and at every pit.
_SAME_LIGHT_LOG, _SAME_LIGHT_PART = 0.05, 0.999
# Under the darkest light a JPEG keeps too little for a ratio.
_BROAD_PX, _BROAD_STEP, _DARKEST = 4.0, 4, 0.01
# Half of the face changes by this much where the lamp was moved (drawn pairs: 0.039),
# or, under a lamp far away, its pits do.
_MOVED_LOG, _SHADED_PART, _SHADED_LOG = 0.02, 0.995, 0.1
# Correlation of the noise on drawn faces without texture: copies 0.74 and more, two
# shots 0.07 at most. A sensor's fixed pattern makes 0.1 at most (from memory).
_SAME_NOISE, _NOISE_PX, _NOISE_FINE_PX, _NOISE_SPREADS = 0.3, 1024, 1.0, 7.4
SAME_PHOTO = (
    "Both files are the same photo, or the lamp was not moved between them: photograph "
    "the face again with the lamp on its other side."
)


def refuse_blurred(
    first: Plane, second: Plane, inside: NDArray[np.bool_] | None = None
) -> None:
    """Refuse a pair of which one photo lacks the detail of the other.

    A blurred photo has weaker slopes all round, a moved one along its movement.

    Parameters
    ----------
    first, second : ndarray of float32, (rows, cols)
        Linear light, best of the second as it lies on the first.
    inside : ndarray of bool, (rows, cols), optional
        What both show; without it, all of each.

    Raises
    ------
    PairError
        One is blurred or moved.
    """
    here, there = _slopes(first, inside), _slopes(second, inside)
    second_lacks, first_lacks = _weakest(there, here), _weakest(here, there)
    if min(first_lacks, second_lacks) < _LEAST_DETAIL:
        name = "first" if first_lacks < second_lacks else "second"
        msg = (
            f"The {name} photo is blurred or was moved beside the other: hold still, "
            "tap to focus on the face, and photograph it again."
        )
        raise PairError(msg)


def is_bare(light: Plane, inside: NDArray[np.bool_]) -> bool:
    """Tell a face without texture, on which nothing shows how two photos lie.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    inside : ndarray of bool, (rows, cols)
        The face.

    Examples
    --------
    >>> flat = np.full((90, 120), 0.3, np.float32)
    >>> is_bare(flat, np.ones(flat.shape, bool))
    True
    """
    smooth = cv2.GaussianBlur(levelled(light), (0, 0), _BARE_PX)
    calm = np.asarray(smooth, dtype=np.float32)[inside]
    if not calm.size:
        return True
    return robust_sd(calm) < _BARE_LOG


def _slopes(light: Plane, inside: NDArray[np.bool_] | None) -> NDArray[np.float64]:
    """Mean products of the slopes over details of few px, (2, 2), less their noise."""
    middle = _middle(light.shape, _WORKED_PX)
    plane = np.clip(
        levelled(np.ascontiguousarray(light[middle])), -_MOST_LOG, _MOST_LOG
    )
    known = np.ones(plane.shape, bool) if inside is None else inside[middle]
    if not known.any():
        return np.zeros((2, 2))
    # The structure tensor (Foerstner and Guelch 1987, from memory), one mean over
    # the face. Sobel of size 1 is the plain central difference, halved by `scale`.
    calm = cv2.GaussianBlur(plane, (0, 0), _FINE_PX)
    across = cv2.Sobel(calm, cv2.CV_32F, 1, 0, ksize=1, scale=0.5)[known]
    down = cv2.Sobel(calm, cv2.CV_32F, 0, 1, ksize=1, scale=0.5)[known]
    products = np.cov(np.stack([across, down]), bias=True)
    # White noise of spread s, smoothed so, has slopes of this variance.
    noise = _noise(plane, known) ** 2 / (8 * np.pi * _FINE_PX**4)
    return np.asarray(products - noise * np.eye(2), dtype=np.float64)


def _middle(shape: tuple[int, ...], most_px: int) -> tuple[slice, ...]:
    """Return the middle of a picture, of so many px each way at most."""
    return tuple(
        slice(max(0, (side - most_px) // 2), (side + most_px + 1) // 2)
        for side in shape
    )


def _weakest(of: NDArray[np.float64], beside: NDArray[np.float64]) -> float:
    """Least ratio of the slopes of two photos over all directions."""
    spread, turn = np.linalg.eigh(beside)
    if not spread.max() > 0:
        return 1.0
    # Generalised eigenvalues: in axes where the slopes of `beside` are alike all
    # round, the least one of `of` is the least ratio in any direction, squared. A
    # direction without slopes keeps a thousandth, or it would be divided by none.
    whiten = turn / np.sqrt(np.maximum(spread, 1e-3 * spread.max()))
    return float(np.sqrt(max(np.linalg.eigvalsh(whiten.T @ of @ whiten)[0], 0.0)))


def _noise(plane: Plane, known: NDArray[np.bool_]) -> float:
    """Noise of single px.

    After Immerkaer 1996, Computer Vision and Image Understanding 64.
    """
    rough = cv2.filter2D(plane, cv2.CV_32F, _NO_SLOPE)
    return float(MAD_TO_SD * median(np.abs(rough[known])))


def refuse_same_photo(
    first: Plane, laid: Plane, inside: NDArray[np.bool_], lying: Registration
) -> None:
    """Refuse one photo given twice, even stored anew, smaller or cut.

    A copy is not turned a little nor tilted, as a second shot by hand is, and its light
    over that of the first is the same all over the face. Two shots from one stand, the
    lamp moved between them, differ in the light.

    Parameters
    ----------
    first, laid : ndarray of float32, (rows, cols)
        Linear light, the second as it lies on the first.
    inside : ndarray of bool, (rows, cols)
        What both show.
    lying : Registration

    Raises
    ------
    PairError
        Both photos are one shot, or the lamp did not move.
    """
    if _is_straight(lying, first.shape) and _lamp_did_not_move(first, laid, inside):
        raise PairError(SAME_PHOTO)


def refuse_same_noise(first: Plane, second: Plane) -> None:
    """Refuse one photo stored anew of a face without texture.

    Nothing lines such photos up; but two shots never have the noise in common, and a
    copy has, at one shift. A camera's fixed pattern alone is far below the limit.

    Parameters
    ----------
    first, second : ndarray of float32, (rows, cols)
        Linear light, each in its own frame.

    Raises
    ------
    PairError
        Both photos are one shot.

    Examples
    --------
    >>> noise = np.random.default_rng(1).normal(0.4, 0.004, (2, 90, 120))
    >>> first, second = noise.astype(np.float32)
    >>> refuse_same_noise(first, second)
    >>> refuse_same_noise(first, first / 2)
    Traceback (most recent call last):
    ...
    analysis.errors.PairError: Both files are the same photo, ...
    """
    size = tuple(min(sides) for sides in zip(first.shape, second.shape, strict=True))
    here, there = (_fine(light, size) for light in (first, second))
    # Their product is the correlation at all shifts at once, round the edges; the
    # peak over `power` is the greatest coefficient. Without `s` an odd width would
    # lose a px on the way back.
    spectra = [fft.rfft2(plane) for plane in (here, there)]
    alike = fft.irfft2(spectra[0] * np.conj(spectra[1]), s=here.shape)
    power = float(np.sqrt((here**2).sum() * (there**2).sum()))
    # `not <=` also refuses NaN.
    if not float(alike.max()) <= _SAME_NOISE * power or power == 0.0:
        raise PairError(SAME_PHOTO)


def _fine(light: Plane, size: tuple[int, ...]) -> Plane:
    """Noise of the middle of a photo brought to one size, marks cut out."""
    if light.shape != size:
        light = np.asarray(cv2.resize(light, size[::-1], interpolation=cv2.INTER_AREA))
    logs = levelled(np.ascontiguousarray(light[_middle(size, _NOISE_PX)]))
    calm, broad = (
        cv2.GaussianBlur(logs, (0, 0), part * _NOISE_FINE_PX) for part in (1, 3)
    )
    fine = np.asarray(calm - broad, dtype=np.float32)
    # A card, an edge or a pit would be alike in two shots too: only noise is compared.
    marks = np.abs(fine) > _NOISE_SPREADS * float(np.median(np.abs(fine)))
    fine[cv2.dilate(marks.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0] = 0.0
    return fine


def _is_straight(lying: Registration, shape: tuple[int, ...]) -> bool:
    """Tell a photo only shifted, scaled and turned by quarters from a shot by hand.

    A viewer turns a copy by a quarter; what an editor turns by a little more is not
    told from a shot by hand, which is turned too.
    """
    high, wide = shape[0] - 1.0, shape[1] - 1.0
    start = np.array([[0.0, 0.0], [0.0, high], [wide, 0.0], [wide, high]])
    # As complex numbers, so that one factor turns and scales.
    here, there = (
        at[:, 0] + 1j * at[:, 1] for at in (start, moved(lying.to_second, start))
    )
    here, there = here - here.mean(), there - there.mean()
    quarters = round(lying.rotation_deg / 90)
    there = there * (-1j) ** quarters
    # The factor of least squares, kept real: it scales and cannot turn, so that a
    # turn or tilt beyond the quarters is what is left over.
    factor = (there * here.conj()).real.sum() / (np.abs(here) ** 2).sum()
    return bool(np.abs(there - factor * here).max() < _STRAIGHT_PART * max(shape))


def lamp_moved(first: Plane, laid: Plane, inside: NDArray[np.bool_]) -> bool:
    """Tell whether the light of two shots differs by more than a factor.

    Parameters
    ----------
    first, laid : ndarray of float32, (rows, cols)
        Linear light, the second as it lies on the first.
    inside : ndarray of bool, (rows, cols)
        What both show.

    Examples
    --------
    >>> left = np.tile(np.linspace(0.3, 0.5, 120, dtype=np.float32), (90, 1))
    >>> face = np.ones(left.shape, bool)
    >>> lamp_moved(left, left[:, ::-1], face), lamp_moved(left, 2 * left, face)
    (True, False)
    """
    off = _light_off(first, laid, inside)
    if not off.size:
        return False
    half, darkest = np.quantile(off, (0.5, _SHADED_PART))
    return bool(half > _MOVED_LOG or darkest > _SHADED_LOG)


def _lamp_did_not_move(first: Plane, laid: Plane, inside: NDArray[np.bool_]) -> bool:
    """Tell whether the light of both is the same but for one factor."""
    off = _light_off(first, laid, inside)
    return bool(off.size and np.quantile(off, _SAME_LIGHT_PART) < _SAME_LIGHT_LOG)


def _light_off(
    first: Plane, laid: Plane, inside: NDArray[np.bool_]
) -> NDArray[np.float32]:
    """How far the broad light of one over the other is off its usual ratio, log."""
    broad = [
        cv2.GaussianBlur(np.maximum(light, _DARKEST), (0, 0), _BROAD_PX)[
            ::_BROAD_STEP, ::_BROAD_STEP
        ]
        for light in (first, laid)
    ]
    # Twelve px, three spreads of the blur: nothing beside the face has got in. After
    # it neighbours are nearly alike, and every fourth px will do.
    known = cv2.erode(inside.astype(np.uint8), np.ones((25, 25), np.uint8))
    change = np.log(broad[0] / broad[1])[known[::_BROAD_STEP, ::_BROAD_STEP] > 0]
    middle = float(np.median(change)) if change.size else 0.0
    return np.asarray(np.abs(change - middle), dtype=np.float32)


def refuse_same_light(lights: Lights) -> None:
    """Refuse a pair whose lamps stand on one side.

    Raises
    ------
    PairError
        Less than 25 degrees between the lights.
    """
    angle = lights.angle_deg
    if lights.sure and angle is not None and angle < LEAST_ANGLE_DEG:
        msg = (
            f"The light comes from one side in both photos ({angle:.0f}° apart, at "
            f"least {LEAST_ANGLE_DEG:g}° are needed): hold the lamp once to the left "
            "and once to the right of the face."
        )
        raise PairError(msg)
