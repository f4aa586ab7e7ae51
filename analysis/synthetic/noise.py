"""Smooth random fields."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.synthetic.filters import SHARPEST_PX, resized, softened

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Below this, knots would show as a weave: white noise is blurred instead.
FINE_PX = 4.0


def clouds(
    shape: tuple[int, int],
    size_px: float | tuple[float, float],
    rng: np.random.Generator,
) -> NDArray[np.float32]:
    """Return a field of mean about 0 and standard deviation about 1.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns.
    size_px : float or tuple of float
        Distance over which it changes, px; per axis (row, col) when two are given.
    rng : Generator
        Source of randomness.

    Examples
    --------
    >>> clouds((40, 60), 5, np.random.default_rng(1)).shape
    (40, 60)
    """
    down, right = size_px if isinstance(size_px, tuple) else (size_px, size_px)
    if max(down, right) < FINE_PX:
        return _filtered(shape, (0.4 * down, 0.4 * right), rng)
    rows = int(np.ceil(shape[0] / max(down, 1.0))) + 3
    cols = int(np.ceil(shape[1] / max(right, 1.0))) + 3
    coarse = rng.standard_normal((rows, cols), dtype=np.float32)
    size = (int(np.ceil(rows * max(down, 1.0))), int(np.ceil(cols * max(right, 1.0))))
    fine = resized(coarse, size, cv2.INTER_CUBIC)
    # Cut one knot in, where the cubic has a knot on either side to lean on.
    top, left = int(max(down, 1.0)), int(max(right, 1.0))
    # Interpolated between independent knots, a field keeps about 0.93 of its spread
    # on each axis that is stretched.
    gain = (1.075 if down > 1 else 1.0) * (1.075 if right > 1 else 1.0)
    cut = fine[top : top + shape[0], left : left + shape[1]]
    return np.ascontiguousarray(cut) * np.float32(gain)


def _filtered(
    shape: tuple[int, int], sigma_px: tuple[float, float], rng: np.random.Generator
) -> NDArray[np.float32]:
    white = rng.standard_normal(shape, dtype=np.float32)
    down, right = sigma_px
    if max(down, right) < SHARPEST_PX:
        return white
    soft = softened(white, right, down)
    soft /= np.float32(soft.std())
    return soft


def fractal(
    shape: tuple[int, int], size_px: float, octaves: int, rng: np.random.Generator
) -> NDArray[np.float32]:
    """Return clouds of several sizes, each half as large and 0.6 as strong.

    Examples
    --------
    >>> fractal((40, 60), 20, 3, np.random.default_rng(1)).shape
    (40, 60)
    """
    total = np.zeros(shape, np.float32)
    power = 0.0
    for k in range(octaves):
        # Octaves are independent, so that their variances add.
        weight = 0.6**k
        total += np.float32(weight) * clouds(shape, size_px / 2**k, rng)
        power += weight**2
    total /= np.float32(np.sqrt(power))
    return total
