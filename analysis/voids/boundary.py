"""Where each dark candidate ends: cut at a part of its own depth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

# The boundary lies at half depth: half way from the background to the floor beside it.
CUT = 0.5
# A floor is deeper than these: as a share, in sigmas, and against the deepest
# point around; and flat: depth over slope exceeds so many px.
_FLOOR_SHARE, _FLOOR_SIGMAS, _FLOOR_OF_DEEPEST, _FLAT_PX = 0.12, 8.0, 0.22, 2.9
# The deepest point near is a floor too, for pits too small to have a flat one.
_NEAREST_DEEPEST, _NEAR_PX = 0.9, 13
_FLOOR_REACH_PX = 7
# A candidate is taken to have grown into stains when it outgrows its deep core by this,
# or when its rim is softer than this many px.
_MOST_GROWTH, _SOFTEST_PX = 4.0, 7.0
_NO_FLOOR = np.float32(9.0)
BLOCK_PX, _WIDEST_PX = 4, 60.0


def boundary_margin(
    depth: NDArray[np.float32],
    look: NDArray[np.float32],
    noise: NDArray[np.float32],
    face: NDArray[np.bool_] | None,
    most_px: float,
) -> NDArray[np.float32]:
    """How far the depth of each pixel is beyond its cut.

    The cut is a part of the shallowest floor near it, where a floor is a place
    whose depth hardly changes: shadow, lit floor, or the deepest point of a small
    pit. So a pit lit from one side is cut at its lit floor on the far side and at
    its shadow on the near side. Where this grows a candidate softly into stains, the
    cut is a part of its deepest point instead.

    Parameters
    ----------
    depth : ndarray of float32, (rows, cols)
        1 - light / background.
    look : ndarray of float32, (rows, cols)
        Least depth of a candidate.
    noise : ndarray of float32, (rows, cols)
        Flicker of the background, in units of depth.
    face : ndarray of bool, (rows, cols), or None
        Measured pixels.
    most_px : float
        Longest side of the candidates sought.

    Returns
    -------
    ndarray of float32, (rows, cols)
        Positive inside a boundary.

    Examples
    --------
    >>> depth = np.zeros((40, 40), np.float32)
    >>> depth[10:20, 10:20] = 0.8
    >>> low = np.full_like(depth, 0.07)
    >>> int((boundary_margin(depth, low, low / 10, None, 30.0) > 0).sum())
    100
    """
    deepest = _deepest(depth, min(most_px, _WIDEST_PX))
    across = cv2.Sobel(depth, cv2.CV_32F, 1, 0, scale=0.125)
    down = cv2.Sobel(depth, cv2.CV_32F, 0, 1, scale=0.125)
    slope = np.asarray(cv2.magnitude(across, down), dtype=np.float32)
    least = np.maximum(_FLOOR_SIGMAS * noise, _FLOOR_OF_DEEPEST * deepest)
    np.maximum(least, _FLOOR_SHARE, out=least)
    near = cv2.dilate(depth, np.ones((_NEAR_PX, _NEAR_PX), np.uint8))
    tip = (depth > _NEAREST_DEEPEST * near) & (depth > look)
    floor = ((depth > least) | tip) & (depth > _FLAT_PX * slope)
    level = np.where(floor, depth, _NO_FLOOR)
    reach = np.ones((_FLOOR_REACH_PX, _FLOOR_REACH_PX), np.uint8)
    shallowest = np.asarray(cv2.erode(level, reach), dtype=np.float32)
    margin: NDArray[np.float32] = depth - np.maximum(CUT * shallowest, look)
    core = depth - np.maximum(CUT * deepest, look)
    if face is not None:
        margin[~face] = -1.0
    _hold_back(margin, core, slope, shallowest)
    return margin


def _deepest(depth: NDArray[np.float32], window_px: float) -> NDArray[np.float32]:
    """Largest depth within about half the window around each pixel, on blocks."""
    rows, cols = depth.shape
    tall, wide = -(-rows // BLOCK_PX) * BLOCK_PX, -(-cols // BLOCK_PX) * BLOCK_PX
    padded = cv2.copyMakeBorder(
        depth, 0, tall - rows, 0, wide - cols, cv2.BORDER_REPLICATE
    )
    pooled = cv2.dilate(padded, np.ones((BLOCK_PX, BLOCK_PX), np.uint8), anchor=(0, 0))[
        ::BLOCK_PX, ::BLOCK_PX
    ]
    side = int(window_px / BLOCK_PX) | 1
    pooled = cv2.dilate(np.ascontiguousarray(pooled), np.ones((side, side), np.uint8))
    full = cv2.resize(pooled, (wide, tall), interpolation=cv2.INTER_NEAREST)
    return np.asarray(full[:rows, :cols], dtype=np.float32)


def _hold_back(
    margin: NDArray[np.float32],
    core: NDArray[np.float32],
    slope: NDArray[np.float32],
    floor: NDArray[np.float32],
) -> None:
    """Give candidates that have grown softly the margin of their core, in place."""
    dark = margin > 0
    number, found = cv2.connectedComponents(dark.astype(np.uint8), connectivity=8)
    flat = np.flatnonzero(dark)
    label = found.ravel()[flat]
    area = np.bincount(label, minlength=number)
    inner = np.bincount(label, core.ravel()[flat] > 0, number)
    steepness = slope.ravel()[flat]
    rim = margin.ravel()[flat] < steepness
    met = label[rim]
    steep = np.bincount(met, steepness[rim], number)
    level = np.bincount(met, np.minimum(floor.ravel()[flat[rim]], 1.0), number)
    grown = (area > _MOST_GROWTH * np.maximum(inner, 1)) | (level > _SOFTEST_PX * steep)
    held = flat[grown[label]]
    margin.ravel()[held] = core.ravel()[held]
