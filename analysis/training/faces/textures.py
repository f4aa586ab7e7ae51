"""What drawn surfaces are made of: random fields, tints, cells.

All are light, linear, 1 about white; scales are px of the drawing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Light = NDArray[np.float32]
    Shape = tuple[int, int]

WHITE = 0.9


def field(rng: np.random.Generator, shape: Shape, wave_px: float) -> Light:
    """Return a smooth random field of about unit spread.

    Parameters
    ----------
    rng : Generator
    shape : tuple of int
        Rows and columns.
    wave_px : float
        Distance between its cells, px.

    Returns
    -------
    ndarray of float32, (rows, cols)

    Examples
    --------
    >>> field(np.random.default_rng(1), (20, 30), 5.0).shape
    (20, 30)
    """
    cells = [max(2, min(side, round(side / max(wave_px, 1.0)) + 2)) for side in shape]
    grid = rng.standard_normal(cells, dtype=np.float32)
    smooth = cv2.resize(grid, shape[::-1], interpolation=cv2.INTER_CUBIC)
    return np.asarray(smooth, np.float32)


def rough(
    rng: np.random.Generator, shape: Shape, wave_px: float, *, fade: float = 0.6
) -> Light:
    """Return fields of halving wavelength added up.

    Examples
    --------
    >>> rough(np.random.default_rng(1), (20, 30), 10.0).dtype
    dtype('float32')
    """
    total = field(rng, shape, wave_px)
    gain = 1.0
    while wave_px > 2:
        wave_px /= 2
        gain *= fade
        total += np.float32(gain) * field(rng, shape, wave_px)
    return total / np.float32(max(float(total.std()), 1e-6))


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """Return a number between two, evenly in its logarithm.

    Examples
    --------
    >>> 1 <= between(np.random.default_rng(1), 1.0, 9.0) <= 9
    True
    """
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def colour(rng: np.random.Generator, strength: float) -> Light:
    """Return a random tint of mean 1.

    Examples
    --------
    >>> colour(np.random.default_rng(1), 0.0).tolist()
    [1.0, 1.0, 1.0]
    """
    tint = np.exp(strength * rng.standard_normal(3)).astype(np.float32)
    return np.asarray(tint / tint.mean(), np.float32)


def step(away: Light, edge: float) -> Light:
    """Return a soft step: 0 where `away` is far below 0, 1 far above.

    Examples
    --------
    >>> step(np.array([-90.0, 0.0, 90.0], np.float32), 1.0).round(3).tolist()
    [0.0, 0.5, 1.0]
    """
    return np.asarray(0.5 + 0.5 * np.tanh(away / (2 * edge)), np.float32)


def tinted(tone: NDArray[Any], tint: Light) -> Light:
    """Give a grey tone a colour, never black."""
    return np.asarray(np.maximum(tone, 0.002)[..., None] * tint, np.float32)


def scattered_cells(
    rng: np.random.Generator, shape: Shape, size_px: float
) -> tuple[Light, NDArray[np.int32]]:
    """Return the distance to the nearest of scattered points, and which it is."""
    count = max(4, round(shape[0] * shape[1] / size_px**2))
    rows = rng.integers(0, shape[0], count)
    cols = rng.integers(0, shape[1], count)
    bare = np.full(shape, 255, np.uint8)
    bare[rows, cols] = 0
    away, cells = cv2.distanceTransformWithLabels(
        bare, cv2.DIST_L2, 3, labelType=cv2.DIST_LABEL_PIXEL
    )
    return np.asarray(away, np.float32), np.asarray(cells, np.int32)
