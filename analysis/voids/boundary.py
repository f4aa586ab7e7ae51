"""Where each dark candidate ends: cut at a part of its own depth.

Most of a face is no deeper than its look level, and can be neither floor nor candidate.
So only what OpenCV does to whole pictures is done to the whole; all else is done for
the deeper px alone, one entry a px.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.components import components
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    _Floats = NDArray[np.float32]
    _Places = NDArray[np.intp]

_SET = SETTINGS.boundary
_LOOK = SETTINGS.passes
# Deeper than any px, which is 1 at most.
_NO_FLOOR = np.float32(9.0)
_OUTSIDE = np.float32(-1.0)
_KERNEL = np.ones((3, 3), np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DeepPixels:
    """The px that are deeper than the look level.

    Attributes
    ----------
    flat : ndarray of intp, (m,)
        Index into the flattened picture, ascending.
    depth : ndarray of float32, (m,)
        1 - light / background.
    noise : ndarray of float32, (m,)
        Noise of the background there, in units of depth.
    look : ndarray of float32, (m,)
        Least depth of a candidate there.
    """

    flat: _Places
    depth: _Floats
    noise: _Floats
    look: _Floats


def deep_pixels(
    depth: _Floats, noise_at: Callable[[_Places], _Floats], least_noise: float
) -> DeepPixels:
    """List the px that may belong to a candidate or to the floor of one.

    A floor is asked for more than a candidate, so no px less deep is one.

    Parameters
    ----------
    depth : ndarray of float32, (rows, cols)
        1 - light / background.
    noise_at : callable
        Noise of the background at px, by their index into the flattened picture.
    least_noise : float
        The noise is nowhere less.

    Returns
    -------
    DeepPixels

    Examples
    --------
    >>> depth = np.array([[0.0, 0.5], [0.02, 0.05]], np.float32)
    >>> deep_pixels(depth, lambda at: np.full(len(at), 0.01, np.float32), 0.01).flat
    array([1])
    """
    # Noise is looked up for what passes the least level of the face, a little less for
    # what interpolating rounds off.
    least = max(_LOOK.look_sigmas * least_noise * (1 - 1e-5), _LOOK.look_depth)
    flat = np.flatnonzero(depth > least)
    noise = noise_at(flat)
    here, look = depth.ravel()[flat], _look(noise)
    over = np.flatnonzero(here > look)
    return DeepPixels(
        flat=flat[over], depth=here[over], noise=noise[over], look=look[over]
    )


def _look(noise: _Floats) -> _Floats:
    look: _Floats = np.maximum(_LOOK.look_sigmas * noise, _LOOK.look_depth)
    return look


def boundary_margin(
    depth: _Floats,
    deep: DeepPixels,
    noise_at: Callable[[_Places], _Floats],
    face: NDArray[np.bool_] | None,
    most_px: float,
) -> _Floats:
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
    deep : DeepPixels
        Of `depth`.
    noise_at : callable
        As for `deep_pixels`.
    face : ndarray of bool, (rows, cols), or None
        Measured pixels.
    most_px : float
        Longest side of the candidates sought.

    Returns
    -------
    ndarray of float32, (rows, cols)
        Positive inside a boundary. Px that touch one have a margin of their own; -1
        elsewhere.

    Examples
    --------
    >>> depth = np.zeros((40, 40), np.float32)
    >>> depth[10:20, 10:20] = 0.8
    >>> calm = lambda at: np.full(len(at), 0.007, np.float32)
    >>> deep = deep_pixels(depth, calm, 0.007)
    >>> int((boundary_margin(depth, deep, calm, None, 30.0) > 0).sum())
    100
    """
    slope = _slope(depth)[deep.flat]
    deepest = _deepest(depth, deep.flat, min(most_px, _SET.widest_px))
    level = np.full(depth.shape, _NO_FLOOR)
    floor = deep.flat[_floors(depth, deep, slope, deepest)]
    level.ravel()[floor] = depth.ravel()[floor]
    # An erosion is the least within its window: with all but floors set above any depth
    # it gives the shallowest floor near each px.
    reach = np.ones((_SET.floor_window_px, _SET.floor_window_px), np.uint8)
    shallowest = np.asarray(cv2.erode(level, reach), dtype=np.float32).ravel()

    def beyond(here: _Floats, at: _Places, look: _Floats) -> _Floats:
        """How far px are beyond their cut."""
        found: _Floats = here - np.maximum(_SET.cut_share * shallowest[at], look)
        if face is not None:
            found[~face.ravel()[at]] = _OUTSIDE
        return found

    margin = np.full(depth.shape, _OUTSIDE)
    own = beyond(deep.depth, deep.flat, deep.look)
    within = own > 0
    inside = np.zeros(depth.shape, dtype=bool)
    inside.ravel()[deep.flat[within]] = True
    margin.ravel()[deep.flat[within]] = own[within]
    # Px that touch a boundary get a margin too: the boundary is placed between two px
    # by the margins of both.
    touched = np.asarray(cv2.dilate(inside.view(np.uint8), _KERNEL)).view(np.bool_)
    beside = np.flatnonzero(touched)
    beside = beside[~inside.ravel()[beside]]
    margin.ravel()[beside] = beyond(
        depth.ravel()[beside], beside, _look(noise_at(beside))
    )
    core = deep.depth - np.maximum(_SET.cut_share * deepest, deep.look)
    _hold_back(margin, inside, deep.flat, core, slope, shallowest)
    return margin


def _slope(depth: _Floats) -> _Floats:
    """Depth per px, of all px in a row: Sobel's kernel measures eight times as much."""
    across = cv2.Sobel(depth, cv2.CV_32F, 1, 0, scale=0.125)
    down = cv2.Sobel(depth, cv2.CV_32F, 0, 1, scale=0.125)
    return np.asarray(cv2.magnitude(across, down), dtype=np.float32).ravel()


def _floors(
    depth: _Floats, deep: DeepPixels, slope: _Floats, deepest: _Floats
) -> NDArray[np.bool_]:
    """Tell which deep px are floors; px that are less deep are none."""
    window = np.ones((_SET.tip_window_px, _SET.tip_window_px), np.uint8)
    near = np.asarray(cv2.dilate(depth, window), dtype=np.float32).ravel()[deep.flat]
    least = np.maximum(
        _SET.floor_sigmas * deep.noise, _SET.floor_of_deepest_share * deepest
    )
    np.maximum(least, _SET.floor_depth, out=least)
    tip = (deep.depth > _SET.tip_share * near) & (deep.depth > deep.look)
    # Depth over slope is a length: after so many px the slope would have used up all of
    # the depth. On a floor it is long, on a flank short.
    return np.asarray(
        ((deep.depth > least) | tip) & (deep.depth > _SET.flat_px * slope)
    )


def _deepest(depth: _Floats, at: _Places, window_px: float) -> _Floats:
    """Largest depth within about half the window around px, on blocks."""
    block = _SET.block_px
    # The largest of each block first, of the px from its corner on, then that of the
    # blocks around.
    whole = cv2.dilate(depth, np.ones((block, block), np.uint8), anchor=(0, 0))
    pooled = np.ascontiguousarray(np.asarray(whole)[::block, ::block])
    side = int(window_px / block) | 1
    around = np.asarray(cv2.dilate(pooled, np.ones((side, side), np.uint8)))
    row, col = np.divmod(at, depth.shape[1])
    return np.asarray(around[row // block, col // block], dtype=np.float32)


def _hold_back(
    margin: _Floats,
    inside: NDArray[np.bool_],
    deep: _Places,
    core: _Floats,
    slope: _Floats,
    floor: _Floats,
) -> None:
    """Give candidates that have grown softly the margin of their core, in place.

    Core and slope are those of the deep px, the shallowest floor that of all px.
    """
    number, flat, label = components(inside)
    # From here on one entry a dark px, and sums by label: what is true of a candidate
    # costs one pass over its px, however many candidates there are.
    dark = inside.ravel()[deep]
    core, steepness = core[dark], slope[dark]
    area = np.bincount(label, minlength=number)
    inner = np.bincount(label, core > 0, number)
    # The boundary passes within a px of those whose margin is less than their slope.
    rim = margin.ravel()[flat] < steepness
    met = label[rim]
    steep = np.bincount(met, steepness[rim], number)
    level = np.bincount(met, np.minimum(floor[flat[rim]], 1.0), number)
    # Level over slope is the width of the rim, px. Sums are compared, not the ratios of
    # single px: those of flat px have no bound.
    grown = (area > _SET.most_growth_ratio * np.maximum(inner, 1)) | (
        level > _SET.softest_rim_px * steep
    )
    held = grown[label]
    margin.ravel()[flat[held]] = core[held]
