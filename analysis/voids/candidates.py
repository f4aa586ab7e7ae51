"""Dark spots that may be voids, found at every size, each with its own boundary."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.ground import ground_light, noise_cells, spread

if TYPE_CHECKING:
    from numpy.typing import NDArray

# A spot is looked at where it is darker than its ground by this share and by this
# many times the flicker; it is kept when its darkest part passes the second pair.
LOOK_SHARE, LOOK_SIGMAS = 0.07, 2.5
KEEP_SHARE, KEEP_SIGMAS = 0.22, 6.0
# The boundary lies at this part of the depth beside it: half depth, less what the
# rounding of a rim takes (chosen on drawn faces and real outlines together).
CUT = 0.45
_STEP = 4
_CELL_PX = 12
_FINE_CELL_PX = 4
_MOST_PX = 60.0
# Spots with a softer edge than this are left to the stains.
_SOFTEST_EDGE_PX, _SOFTEST_EDGE_SHARE = 4.0, 0.3
_TAKEN_SHARE = 0.3
# Depth just inside the boundary, as a part of the floor beside it.
_RIM_LEVEL = 0.6
_NO_MARGIN = np.float32(-0.05)
_CROSS = ((0, 1), (0, -1), (1, 0), (-1, 0))


@dataclass(frozen=True, slots=True, kw_only=True)
class Sweep:
    """One search on the photo reduced by `step`.

    Attributes
    ----------
    step : int
        Reduction.
    cell_px : int
        Ground cell, reduced px.
    least_px, most_px : float
        Longest side of the spots it takes, reduced px.
    """

    step: int
    cell_px: int
    least_px: float
    most_px: float


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spots:
    """Dark spots.

    Attributes
    ----------
    labels : ndarray of int32, (rows, cols)
        0 is ground, spots are 1 to n.
    area_px : ndarray of float64, (n,)
        Sub-pixel area inside the boundary, px².
    depth : ndarray of float64, (n,)
        Depth of the darkest part: 1 - light / ground.
    noise : ndarray of float64, (n,)
        Flicker of the ground there, in units of depth.
    edge_px : ndarray of float64, (n,)
        Width of the edge: depth over its slope on the boundary, px.
    ground : ndarray of float64, (n,)
        Light of the ground there, linear.
    """

    labels: NDArray[np.int32]
    area_px: NDArray[np.float64]
    depth: NDArray[np.float64]
    noise: NDArray[np.float64]
    edge_px: NDArray[np.float64]
    ground: NDArray[np.float64]
    step: NDArray[np.float64]


def sweeps(longest_px: float) -> tuple[Sweep, ...]:
    """Plan the searches, coarse to fine, for a face of a given longest side.

    Examples
    --------
    >>> [sweep.step for sweep in sweeps(1000)]
    [4, 1, 1]
    """
    plan = [
        Sweep(step=1, cell_px=_FINE_CELL_PX, least_px=1, most_px=18),
        Sweep(step=1, cell_px=_CELL_PX, least_px=9, most_px=_MOST_PX),
    ]
    step = _STEP
    while longest_px / step >= _CELL_PX**2:
        plan.append(Sweep(step=step, cell_px=_CELL_PX, least_px=10, most_px=_MOST_PX))
        step *= _STEP
    return tuple(reversed(plan))


def find_spots(light: NDArray[np.float32], face: NDArray[np.bool_] | None) -> Spots:
    """Find dark spots from large to small; what a larger one took is taken.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light, lightly smoothed.
    face : ndarray of bool, (rows, cols), or None
        Measured pixels; None takes all.

    Returns
    -------
    Spots

    Examples
    --------
    >>> flat = np.full((90, 120), 0.5, np.float32)
    >>> flat[40:50, 60:70] = 0.1
    >>> find_spots(flat, None).area_px.round(1)
    array([100.])
    """
    labels = np.zeros(light.shape, dtype=np.int32)
    columns: list[NDArray[np.float64]] = []
    count = 0
    for sweep in sweeps(max(light.shape)):
        small, inside = _reduced(light, face, sweep.step)
        margin, found, figures = _sweep(small, inside, sweep)
        if figures.size == 0:
            continue
        kept = _claim(labels, count, margin, found, len(figures))
        columns.append(np.column_stack([figures[kept] * [sweep.step**2, 1, 1, 1, 1], np.full(np.count_nonzero(kept), sweep.step)]))
        count += int(np.count_nonzero(kept))
    figures = np.concatenate([np.empty((0, 6)), *columns])
    area, depth, noise, edge, base, step = figures.T
    return Spots(
        labels=labels,
        area_px=area,
        depth=depth,
        noise=noise,
        edge_px=edge,
        ground=base,
        step=step,
    )


def _reduced(
    light: NDArray[np.float32], face: NDArray[np.bool_] | None, step: int
) -> tuple[NDArray[np.float32], NDArray[np.bool_] | None]:
    if step == 1:
        return light, face
    rows, cols = light.shape
    size = (max(1, round(cols / step)), max(1, round(rows / step)))
    small = np.asarray(cv2.resize(light, size, interpolation=cv2.INTER_AREA))
    if face is None:
        return small, None
    part = cv2.resize(face.astype(np.uint8), size, interpolation=cv2.INTER_NEAREST)
    return small, np.asarray(part > 0)


def _sweep(
    light: NDArray[np.float32], inside: NDArray[np.bool_] | None, sweep: Sweep
) -> tuple[NDArray[np.float32], NDArray[np.int32], NDArray[np.float64]]:
    """Search once.

    Returns how far each pixel is inside a boundary, labels of the spots that pass
    (1 to n), and (n, 4) figures: area, depth, noise, edge width in reduced px.
    """
    ground = ground_light(light, inside, sweep.cell_px)
    depth = 1.0 - light / ground.spread(ground.cells)
    noise = noise_cells(depth, inside)
    margin = _margins(depth, noise, inside, sweep)
    dark = margin > 0
    number, found, stats, _ = cv2.connectedComponentsWithStats(
        dark.astype(np.uint8), connectivity=8
    )
    flat = np.flatnonzero(found)
    label = found.ravel()[flat]
    peak = np.zeros(number, dtype=np.float32)
    np.maximum.at(peak, label, depth.ravel()[flat])
    flicker = _looked_up(noise, stats, light.shape)
    side = stats[:, [cv2.CC_STAT_WIDTH, cv2.CC_STAT_HEIGHT]].max(axis=1)
    passes = (
        (peak > np.maximum(KEEP_SHARE, KEEP_SIGMAS * flicker))
        & (side >= sweep.least_px)
        & (side <= sweep.most_px)
    )
    passes[0] = False
    area, edge = _rims(margin, depth, found, passes)
    if sweep.cell_px > _FINE_CELL_PX:
        softest = np.maximum(_SOFTEST_EDGE_PX, _SOFTEST_EDGE_SHARE * np.sqrt(area))
        passes &= edge < softest
    renumber = np.zeros(number, dtype=np.int32)
    renumber[passes] = 1 + np.arange(np.count_nonzero(passes))
    found.ravel()[flat] = renumber[label]
    base = _looked_up(ground.cells, stats, light.shape)
    figures = np.stack([area, peak, flicker, edge, base], axis=1)[passes]
    return margin, found, figures


Q = dict(flat=.12, fs=8.0, k=4.0, r=7, rel=.3, grow=4.0, soft=7.0, near=.8)


def _margins(depth, noise, inside, sweep):
    """How far the depth of each pixel is beyond its cut.

    The cut is a part of the shallowest floor near it; a floor is where the depth
    hardly changes: shadow, lit floor, or the deepest point of a pit too small for
    either. Where that grows a spot softly into stains, a part of the depth of its
    deepest point is the cut instead.
    """
    look = spread(np.maximum(LOOK_SHARE, LOOK_SIGMAS * noise), depth.shape)
    window = int(sweep.most_px) // 2 * 2 + 1
    deepest = cv2.dilate(depth, np.ones((window, window), np.uint8))
    gx = cv2.Sobel(depth, cv2.CV_32F, 1, 0, scale=0.125)
    gy = cv2.Sobel(depth, cv2.CV_32F, 0, 1, scale=0.125)
    slope = cv2.magnitude(gx, gy)
    least = np.maximum(spread(np.maximum(Q['flat'], Q['fs'] * noise), depth.shape), Q['rel'] * deepest)
    nearby = cv2.dilate(depth, np.ones((13, 13), np.uint8))
    floor = ((depth > least) | (depth > Q['near'] * nearby) & (depth > look)) & (depth > Q['k'] * slope)
    nearest = cv2.erode(np.where(floor, depth, np.float32(9.0)), np.ones((Q['r'], Q['r']), np.uint8))
    wide = depth - np.maximum(CUT * nearest, look)
    core = depth - np.maximum(CUT * deepest, look)
    big = wide > 0
    if inside is not None:
        big &= inside
    number, found = cv2.connectedComponents(big.astype(np.uint8), connectivity=8)
    flat = np.flatnonzero(big)
    label = found.ravel()[flat]
    area = np.bincount(label, minlength=number)
    inner = np.bincount(label, core.ravel()[flat] > 0, number)
    rim = np.abs(wide.ravel()[flat]) < slope.ravel()[flat]
    met = label[rim]
    steep = np.bincount(met, slope.ravel()[flat[rim]], number)
    level = np.bincount(met, np.minimum(nearest.ravel()[flat[rim]], 1.0), number)
    grows = (area > Q['grow'] * np.maximum(inner, 1)) | (level > Q['soft'] * steep)
    keep = wide
    bad = flat[grows[label]]
    out = wide
    out.ravel()[bad] = core.ravel()[bad]
    return out


def _looked_up(cells, stats, shape):
    """Value of the cell under the middle of each box."""
    row = stats[:, cv2.CC_STAT_TOP] + stats[:, cv2.CC_STAT_HEIGHT] / 2
    col = stats[:, cv2.CC_STAT_LEFT] + stats[:, cv2.CC_STAT_WIDTH] / 2
    at_row = (row * cells.shape[0] / shape[0]).astype(np.intp)
    at_col = (col * cells.shape[1] / shape[1]).astype(np.intp)
    return cells[
        np.minimum(at_row, cells.shape[0] - 1), np.minimum(at_col, cells.shape[1] - 1)
    ]


def _rims(margin, depth, found, passes):
    """Sub-pixel area of each spot and the slope of the depth across its boundary.

    A pixel the boundary crosses counts by how far its centre is inside, in px
    along the slope.
    """
    number = len(passes)
    kept = passes[found]
    ring = cv2.dilate(kept.astype(np.uint8), np.ones((3, 3), np.uint8))
    owner = cv2.dilate(
        np.where(kept, found, 0).astype(np.float32), np.ones((3, 3), np.uint8)
    )
    rows, cols = found.shape
    flat = np.flatnonzero(ring)
    label = np.where(
        found.ravel()[flat] > 0,
        found.ravel()[flat],
        owner.ravel()[flat].astype(np.int32),
    )
    label[~passes[label]] = 0
    row, col = np.divmod(flat, cols)
    beside = (
        (row, np.minimum(col + 1, cols - 1)),
        (row, np.maximum(col - 1, 0)),
        (np.minimum(row + 1, rows - 1), col),
        (np.maximum(row - 1, 0), col),
    )
    right, left, down, up = (depth[at] for at in beside)
    slope = np.maximum(np.hypot(right - left, down - up) / 2, 1e-4)
    within = margin.ravel()[flat]
    cover = np.clip(0.5 + within / slope, 0.0, 1.0)
    area = np.bincount(label, cover, number)
    outside = np.minimum.reduce([margin[at] for at in beside]) <= 0
    rim = np.flatnonzero((within > 0) & outside)
    steep = np.bincount(label[rim], slope[rim], number)
    level = np.bincount(label[rim], depth.ravel()[flat[rim]], number)
    return area, level / _RIM_LEVEL / np.maximum(steep, 1e-6)


def _claim(labels, count, margin, found, number):
    """Enter new spots in the full labels, unless larger ones hold their place."""
    if found.shape != labels.shape:
        found = _enlarged(margin, found, labels.shape)
    flat = np.flatnonzero(found)
    label = found.ravel()[flat]
    taken = labels.ravel()[flat] > 0
    lost = np.bincount(label, taken, number + 1)
    kept = lost <= _TAKEN_SHARE * np.bincount(label, minlength=number + 1)
    kept[0] = False
    renumber = np.zeros(number + 1, dtype=np.int32)
    renumber[kept] = count + 1 + np.arange(np.count_nonzero(kept))
    enter = ~taken
    labels.ravel()[flat[enter]] = renumber[label[enter]]
    return kept[1:]


def _enlarged(margin, found, shape):
    near = cv2.dilate(found.astype(np.float32), np.ones((3, 3), np.uint8))
    size = (shape[1], shape[0])
    soft = cv2.resize(
        np.where(near > 0, margin, _NO_MARGIN), size, interpolation=cv2.INTER_LINEAR
    )
    owner = cv2.resize(near, size, interpolation=cv2.INTER_NEAREST)
    return np.where(soft > 0, owner, 0).astype(np.int32)
