"""Honeycomb: a connected patch of stones and holes, told from bare sand and pits.

Stones without paste between them show three things at once: much of the patch lies in
shadow, much is lit more than the patch on average, and little of it is even. Sand of a
joint that leaked is rough too, but finer, and even at the scale of stones; pits leave
even face between them. How much of each a window of 10 mm shows is weighed by a
logistic regression on windows of drawn faces of three renderers and of drawn joints
(seed base 777), none of them a report's and none a real one.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.background import Background

    _Floats = NDArray[np.float32]

_SET = SETTINGS.honeycomb
_ROUND = np.asarray(
    cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (7, 7)), dtype=np.uint8
)
_HALF = 0.5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Patches:
    """Honeycomb on a face.

    Attributes
    ----------
    extent : ndarray of bool, (rows, cols)
        Patches, stones and all.
    low_px, high_px : float
        95 % interval of their area, px².
    """

    extent: NDArray[np.bool_]
    low_px: float
    high_px: float


def no_patches(shape: tuple[int, ...]) -> Patches:
    """Return none.

    Examples
    --------
    >>> no_patches((2, 3)).extent.any(), no_patches((2, 3)).high_px
    (np.False_, 0.0)
    """
    return Patches(extent=np.zeros(shape[:2], dtype=bool), low_px=0.0, high_px=0.0)


def honeycomb_patches(
    light: _Floats,
    background: Background,
    face: NDArray[np.bool_],
    mm_per_px: float | None,
    centres: NDArray[np.intp],
) -> Patches:
    """Find patches of stones and holes.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    background : Background
        The light the face would show without voids.
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    mm_per_px : float or None
        Scale; without one a window of 48 px stands for 10 mm.
    centres : ndarray of intp, (n, 2)
        Rows and columns of the dark candidates: one hole alone is no honeycomb.

    Returns
    -------
    Patches
    """
    window = _SET.window_px if mm_per_px is None else _SET.window_mm / mm_per_px
    window = float(np.clip(window, _SET.least_window_px, _SET.most_window_px))
    cell = max(1, int(window // _SET.cells_per_window))
    rows, cols = light.shape
    size = (max(1, cols // cell), max(1, rows // cell))
    figures, inside, even = window_figures(light, background, face, window, size)
    weights = np.array(_SET.weights, dtype=np.float32)
    odds = figures @ weights[1:] + weights[0]
    odds[inside < _HALF] = -np.inf
    patch = _kept(odds, _SET.patch_logit)
    # Px of the photo to windows.
    at = centres * [size[1], size[0]] // [rows, cols]
    _, found = cv2.connectedComponents(patch.astype(np.uint8), connectivity=8)
    holes = np.bincount(found[at[:, 0], at[:, 1]], minlength=int(found.max()) + 1)
    keep = holes >= _SET.fewest_holes
    keep[0] = False
    patch = keep[found]
    if not patch.any() or patch.mean() > _SET.most_of_face_share * float(
        np.mean(inside > _HALF)
    ):
        return no_patches(light.shape)
    likely = _drawn(patch, even)
    soft = cv2.resize(
        likely.astype(np.float32), (cols, rows), interpolation=cv2.INTER_LINEAR
    )
    extent = np.asarray((soft > _HALF) & face)
    near = cv2.dilate(patch.astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    # Px of the face to one window.
    px = float(np.count_nonzero(extent)) / max(float(np.count_nonzero(likely)), 1.0)
    return Patches(
        extent=extent,
        low_px=px * float(np.count_nonzero(likely & (odds > _SET.smaller_logit))),
        high_px=px
        * float(np.count_nonzero(likely | (near & (odds > _SET.larger_logit)))),
    )


def _drawn(patch: NDArray[np.bool_], even: _Floats) -> NDArray[np.bool_]:
    """Draw a patch's rim, which windows blur: where the face becomes even."""
    at_first = ((even < _SET.even_at_rim_share) & patch).astype(np.uint8)
    # Even faces of stones are closed over, specks opened away; what the outer rims then
    # enclose is filled, for a patch is measured with its stones.
    closed = cv2.morphologyEx(at_first, cv2.MORPH_CLOSE, _ROUND)
    rough = cv2.morphologyEx(closed, cv2.MORPH_OPEN, np.ones((3, 3), np.uint8))
    lines, _ = cv2.findContours(rough, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    return np.asarray(cv2.drawContours(rough, lines, -1, 1, cv2.FILLED) > 0)


def with_holes(
    patches: Patches,
    in_patch: NDArray[np.bool_],
    probability: NDArray[np.float64],
    area_px: NDArray[np.float64],
) -> Patches:
    """Keep patches only where enough of the spots in them are open.

    Parameters
    ----------
    patches : Patches
    in_patch : ndarray of bool, (n,)
        Which spots of the face lie in a patch.
    probability, area_px : ndarray of float64, (n,)
        That each is open, and its area: holes that ran together are few, and large.

    Examples
    --------
    >>> stony = Patches(extent=np.ones((9, 9), bool), low_px=70.0, high_px=81.0)
    >>> grains = with_holes(stony, np.ones(5, bool), np.full(5, 0.2), np.ones(5))
    >>> bool(grains.extent.any()), grains.high_px
    (False, 0.0)
    """
    holes = in_patch & (probability >= _HALF)
    part = area_px[holes].sum() / max(np.count_nonzero(patches.extent), 1)
    if np.count_nonzero(holes) >= _SET.fewest_holes or part >= _SET.open_share:
        return patches
    return no_patches(patches.extent.shape)


def part_of(patches: Patches, own: tuple[slice, slice]) -> Patches:
    """Return what lies in some rows and columns, its interval by its share.

    Examples
    --------
    >>> whole = Patches(extent=np.ones((4, 4), bool), low_px=8.0, high_px=20.0)
    >>> half = part_of(whole, (slice(0, 2), slice(0, 4)))
    >>> half.low_px, half.high_px
    (4.0, 10.0)
    """
    extent = np.zeros_like(patches.extent)
    extent[own] = patches.extent[own]
    whole = max(int(np.count_nonzero(patches.extent)), 1)
    share = float(np.count_nonzero(extent)) / whole
    return Patches(
        extent=extent, low_px=patches.low_px * share, high_px=patches.high_px * share
    )


def _kept(odds: _Floats, from_: float) -> NDArray[np.bool_]:
    """Windows of patches that hold enough windows which are honeycomb for sure."""
    # Two thresholds (hysteresis, as in Canny's edge detector, from memory): the lower
    # one draws a patch, the higher one decides whether it is one.
    number, found = cv2.connectedComponents((odds > from_).astype(np.uint8))
    sure = np.bincount(found[odds > _SET.sure_logit], minlength=number)
    large = sure >= _SET.least_sure_windows * _SET.cells_per_window**2
    large[0] = False
    return np.asarray(large[found])


def window_figures(
    light: _Floats,
    background: Background,
    face: NDArray[np.bool_],
    window_px: float,
    size: tuple[int, int],
) -> tuple[_Floats, _Floats, _Floats]:
    """Return what is weighed of each window.

    Parameters
    ----------
    light, background, face
        As for `honeycomb_patches`.
    window_px : float
        Side of a window.
    size : tuple of int
        (columns, rows) of the windows, six to a window's side.

    Returns
    -------
    figures : ndarray of float32, (rows, cols, 6)
        Log roughness at three scales, fine to coarse; log share in shadow and lit;
        share that is even.
    inside : ndarray of float32, (rows, cols)
        Share of each window that is face.
    even : ndarray of float32, (rows, cols)
        Share of the middle third of each window that is even.
    """
    step = max(1.0, window_px / _SET.window_px)
    reduced = (round(light.shape[1] / step), round(light.shape[0] / step))
    small = cv2.resize(light, reduced, interpolation=cv2.INTER_AREA)
    base = cv2.resize(background.cells, reduced, interpolation=cv2.INTER_LINEAR)
    # Log of light over background, in one array from end to end: the face may be large.
    even = np.maximum(base, 1e-6)
    np.divide(small, even, out=even)
    np.clip(even, _SET.darkest_ratio, _SET.brightest_ratio, out=even)
    np.log(even, out=even)
    del small, base
    width = (_SET.cells_per_window | 1,) * 2
    within = None
    part = np.ones(size[::-1], dtype=np.float32)
    if not face.all():
        measured = face.astype(np.float32)
        within = cv2.resize(measured, reduced, interpolation=cv2.INTER_AREA)
        within = (within > _HALF).astype(np.float32)
        # The step to what lies beside the face would be blurred into it as roughness.
        even *= within
        part = cv2.resize(measured, size, interpolation=cv2.INTER_AREA)
        del measured
    inside = cv2.blur(part, width)

    def averaged(
        array: NDArray[np.floating] | NDArray[np.bool_], side: tuple[int, int] = width
    ) -> _Floats:
        # A mean over the face alone: box means of masked values over that of the mask.
        masked = array.astype(np.float32, copy=False)
        if within is not None:
            masked = masked * within
        cells = cv2.resize(masked, size, interpolation=cv2.INTER_AREA)
        # Running sums leave a trace below 0 where nothing is.
        total = np.maximum(cv2.blur(cells, side), 0)
        held = inside if side == width else cv2.blur(part, side)
        return np.asarray(total / np.maximum(held, 1e-6))

    calm = [cv2.GaussianBlur(even, (0, 0), scale) for scale in _SET.scales_px]
    rough = []
    # The difference of two Gaussian blurs holds the texture of sizes between them; its
    # root mean square over a window tells how rough it is at these sizes.
    for fine, coarse in pairwise(calm):
        off = fine - coarse
        rough.append(np.sqrt(averaged(np.square(off, out=off))))
    over = even - calm[-1]
    shares = [averaged(over < _SET.shadow_log), averaged(over > _SET.lit_log)]
    logs = [
        np.log(np.maximum(one, 1e-3) + np.float32(_SET.floor_share))
        for one in (*rough, *shares)
    ]
    level = np.abs(calm[0] - calm[2]) < _SET.even_log
    figures = np.stack([*logs, averaged(level)], axis=-1).astype(np.float32)
    return figures, np.asarray(inside), averaged(level, (3, 3))
