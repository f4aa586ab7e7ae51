"""A picture reduced to be searched: its light, and which of its px are of the face.

Whatever searches a whole face for how its shape turns the light (flutes, facets) begins
here, so that both read the same light.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from analysis.imaging.photo import luminance

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Light below this tells no more from its logarithm than noise.
DARKEST: Final = 1e-4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reduced:
    """A picture made small.

    Attributes
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    whole : ndarray of bool, (rows, cols)
        Px that lie inside as a whole.
    step : float
        Px of the picture to one of these, 1 and more.
    """

    light: NDArray[np.float32]
    whole: NDArray[np.bool_]
    step: float


def reduced(
    picture: NDArray[np.float32] | NDArray[np.uint8],
    inside: NDArray[np.bool_],
    longest_px: int,
) -> Reduced:
    """Reduce a picture and what is measured of it alike.

    Parameters
    ----------
    picture : ndarray of float32, (rows, cols), or of uint8, (rows, cols, 3)
        Linear light, or sRGB: that is reduced first, so that a large photo costs no
        picture of its light.
    inside : ndarray of bool, (rows, cols)
        Measured pixels.
    longest_px : int
        Longer side afterwards; a smaller picture stays as it is.

    Examples
    --------
    >>> small = reduced(np.ones((90, 120), np.float32), np.ones((90, 120), bool), 40)
    >>> small.light.shape, small.step, bool(small.whole.all())
    ((30, 40), 3.0, True)
    """
    rows, cols = inside.shape
    step = max(1.0, max(rows, cols) / longest_px)
    size = (max(1, round(cols / step)), max(1, round(rows / step)))
    small = cv2.resize(picture, size, interpolation=cv2.INTER_AREA)
    if picture.dtype == np.uint8:
        light = luminance(np.asarray(small, dtype=np.uint8))
    else:
        light = np.asarray(small, dtype=np.float32)
    # Area means of 255 and 0: how much of each reduced px is face. 0.99 leaves room for
    # rounding.
    covered = np.uint8(255) * inside.view(np.uint8)
    face = cv2.resize(covered, size, interpolation=cv2.INTER_AREA)
    return Reduced(light=light, whole=face > 0.99 * 255, step=step)


def log_of(light: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the natural logarithm of light, of the darkest as of `DARKEST`.

    Examples
    --------
    >>> bool(np.isfinite(log_of(np.zeros(3, np.float32))).all())
    True
    """
    return np.asarray(np.log(np.maximum(light, DARKEST)), dtype=np.float32)
