"""Where each dark candidate ends: cut at a part of its own depth."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SET = SETTINGS.boundary
_NO_FLOOR = np.float32(9.0)


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
    deepest = _deepest(depth, min(most_px, _SET.widest_px))
    # Sobel's kernel measures eight times the slope: scaled so, it is depth per px.
    across = cv2.Sobel(depth, cv2.CV_32F, 1, 0, scale=0.125)
    down = cv2.Sobel(depth, cv2.CV_32F, 0, 1, scale=0.125)
    slope = np.asarray(cv2.magnitude(across, down), dtype=np.float32)
    least = np.maximum(_SET.floor_sigmas * noise, _SET.floor_of_deepest_share * deepest)
    np.maximum(least, _SET.floor_depth, out=least)
    near = cv2.dilate(
        depth, np.ones((_SET.tip_window_px, _SET.tip_window_px), np.uint8)
    )
    tip = (depth > _SET.tip_share * near) & (depth > look)
    floor = ((depth > least) | tip) & (depth > _SET.flat_px * slope)
    # An erosion is the least within its window: with all but floors set above any depth
    # it gives the shallowest floor near each px.
    level = np.where(floor, depth, _NO_FLOOR)
    reach = np.ones((_SET.floor_window_px, _SET.floor_window_px), np.uint8)
    shallowest = np.asarray(cv2.erode(level, reach), dtype=np.float32)
    margin: NDArray[np.float32] = depth - np.maximum(_SET.cut_share * shallowest, look)
    core = depth - np.maximum(_SET.cut_share * deepest, look)
    if face is not None:
        margin[~face] = -1.0
    _hold_back(margin, core, slope, shallowest)
    return margin


def _deepest(depth: NDArray[np.float32], window_px: float) -> NDArray[np.float32]:
    """Largest depth within about half the window around each pixel, on blocks."""
    rows, cols = depth.shape
    tall, wide = (
        -(-rows // _SET.block_px) * _SET.block_px,
        -(-cols // _SET.block_px) * _SET.block_px,
    )
    padded = cv2.copyMakeBorder(
        depth, 0, tall - rows, 0, wide - cols, cv2.BORDER_REPLICATE
    )
    pooled = cv2.dilate(
        padded,
        np.ones((_SET.block_px, _SET.block_px), np.uint8),
        anchor=(0, 0),
    )[:: _SET.block_px, :: _SET.block_px]
    side = int(window_px / _SET.block_px) | 1
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
    # From here on one entry a dark px, and sums by label: what is true of a candidate
    # costs one pass over its px, however many candidates there are.
    flat = np.flatnonzero(dark)
    label = found.ravel()[flat]
    area = np.bincount(label, minlength=number)
    inner = np.bincount(label, core.ravel()[flat] > 0, number)
    steepness = slope.ravel()[flat]
    # The boundary passes within a px of those whose margin is less than their slope.
    rim = margin.ravel()[flat] < steepness
    met = label[rim]
    steep = np.bincount(met, steepness[rim], number)
    level = np.bincount(met, np.minimum(floor.ravel()[flat[rim]], 1.0), number)
    grown = (area > _SET.most_growth_ratio * np.maximum(inner, 1)) | (
        level > _SET.softest_rim_px * steep
    )
    held = flat[grown[label]]
    margin.ravel()[held] = core.ravel()[held]
