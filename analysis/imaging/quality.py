"""What a photo of a face can carry: light, clipping, sharpness."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import FaceError
from analysis.flags import Flag
from analysis.imaging.photo import luminance
from analysis.robust import MAD_TO_SD, median

if TYPE_CHECKING:
    from numpy.typing import NDArray

_CLIPPED_SHARE = 0.02
# From here on nothing of a face is seen: a covered lens, a flash too near.
_UNSEEN_SHARE = 0.9
_BLACK_CODE, _WHITE_CODE = 2, 253
_DARK_MEDIAN = 0.004
_UNEVEN_RATIO = 2.5
_CELLS = 16
_NOISY, _PATCH_PX, _DARKEST = 0.06, 400, 1e-4
# The squares of its weights add up to 36: over 6, white noise keeps its sd.
_NO_SLOPE = np.array([[1, -2, 1], [-2, 4, -2], [1, -2, 1]], dtype=np.float32) / 6
# Every third pixel each way tells as much about the light.
_THIN = 3


def light_flags(pixels: NDArray[np.uint8], face: NDArray[np.bool_]) -> frozenset[Flag]:
    """Judge the light on the face.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB.
    face : ndarray of bool, (rows, cols)
        Measured pixels.

    Examples
    --------
    >>> grey = np.full((64, 64, 3), 128, np.uint8)
    >>> light_flags(grey, np.ones((64, 64), bool))
    frozenset()
    """
    thin, inside = _thinned(pixels, face)
    light = luminance(thin)
    found = set()
    black, white = _clipped(thin, inside)
    if black > _CLIPPED_SHARE:
        found.add(Flag.CLIPPED_DARK)
    if white > _CLIPPED_SHARE:
        found.add(Flag.CLIPPED_BRIGHT)
    if float(median(light[inside])) < _DARK_MEDIAN:
        found.add(Flag.TOO_DARK)
    if _unevenness(light, inside) > _UNEVEN_RATIO:
        found.add(Flag.UNEVEN_LIGHT)
    if pixel_noise(pixels, face) > _NOISY:
        found.add(Flag.NOISY)
    return frozenset(found)


def refuse_unseen(
    pixels: NDArray[np.uint8], face: NDArray[np.bool_], *, called: str = "face"
) -> None:
    """Refuse a face that is black or white all over: it would read 0.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB.
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    called : str
        What is told to be black or white.

    Raises
    ------
    FaceError
        Nine tenths of it are pure black, or pure white.

    Examples
    --------
    >>> grey = np.full((64, 64, 3), 128, np.uint8)
    >>> refuse_unseen(grey, np.ones((64, 64), bool))
    """
    thin, inside = _thinned(pixels, face)
    black, white = _clipped(thin, inside)
    if not max(black, white) < _UNSEEN_SHARE:
        what, more = ("black", "more") if black > white else ("white", "less")
        msg = (
            f"The {called} is pure {what} nearly all over, so that no void can be "
            f"seen: take it again with {more} light, or mark the part that shows."
        )
        raise FaceError(msg)


def _thinned(
    pixels: NDArray[np.uint8], face: NDArray[np.bool_]
) -> tuple[NDArray[np.uint8], NDArray[np.bool_]]:
    step = _THIN if face[::_THIN, ::_THIN].any() else 1
    return np.ascontiguousarray(pixels[::step, ::step]), face[::step, ::step]


def _clipped(thin: NDArray[np.uint8], inside: NDArray[np.bool_]) -> tuple[float, float]:
    """Return the shares of the face that are pure black and pure white."""
    # Channel by channel: along an axis of three NumPy is thirty times slower.
    red, green, blue = cv2.split(thin)
    brightest = cv2.max(cv2.max(red, green), blue)
    darkest = cv2.min(cv2.min(red, green), blue)
    count = np.count_nonzero(inside)
    return (
        np.count_nonzero(inside & (brightest <= _BLACK_CODE)) / count,
        np.count_nonzero(inside & (darkest >= _WHITE_CODE)) / count,
    )


def pixel_noise(pixels: NDArray[np.uint8], face: NDArray[np.bool_]) -> float:
    """Estimate the noise of single pixels, as a share of the light.

    The mask that no plane or slope passes (Immerkaer 1996, Computer Vision and
    Image Understanding 64), with a median in place of the mean so that pits and
    grain do not count, on the middle of the photo.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB.
    face : ndarray of bool, (rows, cols)
        Measured pixels.

    Returns
    -------
    float
        Standard deviation over the local light.

    Examples
    --------
    >>> grey = np.full((64, 64, 3), 128, np.uint8)
    >>> round(pixel_noise(grey, np.ones((64, 64), bool)), 6)
    0.0
    """
    middle = tuple(
        slice(max(0, size // 2 - _PATCH_PX), size // 2 + _PATCH_PX)
        for size in face.shape
    )
    inside = face[middle]
    if not inside.any():
        return 0.0
    light = luminance(np.ascontiguousarray(pixels[middle]))
    rough = cv2.filter2D(light, cv2.CV_32F, _NO_SLOPE)
    ratio = rough / np.maximum(cv2.blur(light, (9, 9)), _DARKEST)
    return float(MAD_TO_SD * median(np.abs(ratio[inside])))


def _unevenness(light: NDArray[np.float32], face: NDArray[np.bool_]) -> float:
    """Ratio of the bright to the dark parts of the face on coarse cells."""
    rows, cols = light.shape
    size = (min(_CELLS, cols), min(_CELLS, rows))
    # Means of light over face alone: area means of light times mask over those of the
    # mask (normalised convolution).
    weight = cv2.resize(face.astype(np.float32), size, interpolation=cv2.INTER_AREA)
    inside = cv2.resize(light * face, size, interpolation=cv2.INTER_AREA)
    known = weight > 0.5  # noqa: PLR2004  mostly face
    if np.count_nonzero(known) < _CELLS:
        return 1.0
    cells = inside[known] / weight[known]
    low, high = np.percentile(cells, [5, 95])
    return float(high / max(low, 1e-6))
