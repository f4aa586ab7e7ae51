"""Honeycomb: a connected rough patch, stones and all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.background import Background

    _Cells = NDArray[np.float32]

_WINDOW_MM, _WINDOW_PX = 10.0, 48.0
_LEAST_WINDOW_PX, _MOST_WINDOW_PX = 20.0, 400.0
_CELLS_PER_WINDOW = 6
# Share of dark px, and roughness over that of the face, inside a patch.
_DARK_SHARE, _ROUGHER = 0.16, 2.0
_LEAST_WINDOWS, _FEWEST_HOLES = 2.0, 4
# A patch covering more than this of the face is the finish, not a fault in it.
_MOST_OF_FACE = 0.6
_FULL = np.uint8(255)


def honeycomb_patches(
    light: NDArray[np.float32],
    background: Background,
    dark: NDArray[np.bool_],
    face: NDArray[np.bool_],
    mm_per_px: float | None,
    centres: NDArray[np.intp],
) -> NDArray[np.bool_]:
    """Mark patches that are rough and full of holes.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    background : Background
        The light the face would show without voids.
    dark : ndarray of bool, (rows, cols)
        Pixels clearly darker than the background.
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    mm_per_px : float or None
        Scale; without one a window of 48 px stands for 10 mm.
    centres : ndarray of intp, (n, 2)
        Rows and columns of the dark candidates: one hole alone is no honeycomb.

    Returns
    -------
    ndarray of bool, (rows, cols)
        Extent of the patches.
    """
    window = _WINDOW_PX if mm_per_px is None else _WINDOW_MM / mm_per_px
    window = float(np.clip(window, _LEAST_WINDOW_PX, _MOST_WINDOW_PX))
    cell = max(1, int(window // _CELLS_PER_WINDOW))
    rows, cols = light.shape
    size = (max(1, cols // cell), max(1, rows // cell))

    def averaged(array: NDArray[np.uint8] | NDArray[np.float32]) -> _Cells:
        small = cv2.resize(array, size, interpolation=cv2.INTER_AREA)
        width = _CELLS_PER_WINDOW | 1
        return np.asarray(cv2.blur(small.astype(np.float32), (width, width)))

    nothing = np.zeros(light.shape, dtype=bool)
    inside = np.maximum(averaged(face.astype(np.uint8) * _FULL), 1.0)
    holes = averaged((dark & face).astype(np.uint8) * _FULL) / inside
    if not (holes > _DARK_SHARE).any():
        return nothing
    rough = averaged(_roughness(light, background, window)) / inside * _FULL
    usual = float(np.median(rough[inside > _FULL / 2]))
    hit = (holes > _DARK_SHARE) & (rough > _ROUGHER * usual)
    number, found, stats, _ = cv2.connectedComponentsWithStats(
        hit.astype(np.uint8), connectivity=8
    )
    large = stats[:, cv2.CC_STAT_AREA] >= _LEAST_WINDOWS * _CELLS_PER_WINDOW**2
    large[0] = False
    at = centres * [size[1], size[0]] // [rows, cols]
    large &= np.bincount(found[at[:, 0], at[:, 1]], minlength=number) >= _FEWEST_HOLES
    patch = large[found]
    if number == 1 or patch.mean() > _MOST_OF_FACE * float(np.mean(face)):
        return nothing
    soft = cv2.resize(
        patch.astype(np.float32), (cols, rows), interpolation=cv2.INTER_LINEAR
    )
    return np.asarray((soft > 0.5) & face)  # noqa: PLR2004  half way


def _roughness(
    light: NDArray[np.float32], background: Background, window_px: float
) -> NDArray[np.float32]:
    """Local change of the light over the background, on a photo of a usual scale."""
    step = max(1.0, window_px / _WINDOW_PX)
    size = (round(light.shape[1] / step), round(light.shape[0] / step))
    small = cv2.resize(light, size, interpolation=cv2.INTER_AREA)
    base = cv2.resize(background.cells, size, interpolation=cv2.INTER_LINEAR)
    even = np.asarray(cv2.divide(small, base), dtype=np.float32)
    change = np.abs(cv2.Laplacian(even, cv2.CV_32F, ksize=3))
    return np.minimum(change, 1.0).astype(np.float32)
