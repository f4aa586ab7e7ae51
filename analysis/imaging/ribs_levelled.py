"""The light of a ribbed face, levelled along its flutes.

What all places along a flute have in common is the flute's own shade; what differs from
place to place is a void or a mark. So the light is divided by its median along the
flute, and arrises, which run along it too, level away with the flanks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import cv2
import numpy as np
from scipy.ndimage import median_filter

from analysis.imaging.reduced import DARKEST

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from analysis.imaging.ribs import Ribs

    _Floats = NDArray[np.float32]

# Median along the flute: some voids long, so that none of them is half of it, and
# short beside the falling off of a lamp.
_WINDOW_MM: Final = 50.0
# The same without a scale, of the picture's longer side.
_WINDOW_SHARE: Final = 0.4
# Places of the window that the median is taken of; noise of a median of so many is a
# sixth of one place's.
_WINDOW_PLACES: Final = 61
# Steps across the flute, px: finer than the photo, so that arrises stay sharp.
_ACROSS_PX: Final = 0.5
# Below this part of the usual light nothing is seen of a face.
UNSEEN_SHARE: Final = 0.03
_BAND_PX: Final = 2_000_000


def levelled(
    light: NDArray[np.float32],
    inside: NDArray[np.bool_],
    ribs: Ribs,
    mm_per_px: float | None,
) -> NDArray[np.float32]:
    """Divide the light by its median along the flutes.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    inside : ndarray of bool, (rows, cols)
        Measured pixels; others never enter.
    ribs : Ribs
        In px of this picture.
    mm_per_px : float or None
        Without a scale, the median is over a part of the picture's longer side.

    Returns
    -------
    ndarray of float32, (rows, cols)
        Linear light, as bright in the middle as before.

    Examples
    --------
    >>> from analysis.imaging.ribs import find_ribs
    >>> flutes = 0.5 + 0.2 * np.sin(np.arange(300) / 5)
    >>> face = np.tile(flutes.astype(np.float32), (200, 1))
    >>> face[100:104, 150:154] = 0.1
    >>> whole = np.ones(face.shape, bool)
    >>> even = levelled(face, whole, find_ribs(face, whole), 0.5)
    >>> bool(even[:90].std() < 0.01 * even.mean()), bool(even[102, 152] < 0.3)
    (True, True)
    """
    shade, first, stride = _shade_along(light, inside, ribs, mm_per_px)
    level = float(np.median(light[inside]))
    even = np.empty_like(light)
    for rows in _bands(light.shape):
        row, col = _grid(rows, light.shape[1])
        across, along = ribs.places(row, col)
        here = cv2.remap(
            shade,
            (along - first[1]) / stride,
            (across - first[0]) / _ACROSS_PX,
            cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_REPLICATE,
        )
        # Where next to no light falls there is only noise to be levelled.
        even[rows] = np.where(
            here < UNSEEN_SHARE * level,
            level,
            light[rows] * (level / np.maximum(here, DARKEST)),
        )
    return even


def _shade_along(
    light: _Floats, inside: NDArray[np.bool_], ribs: Ribs, mm_per_px: float | None
) -> tuple[_Floats, tuple[float, float], float]:
    """Median along the flutes on a grid (across, along); where it begins; its step."""
    rows, cols = light.shape
    corner_row = np.array([0, 0, rows - 1, rows - 1], np.float32)
    corner_col = np.array([0, cols - 1, 0, cols - 1], np.float32)
    across, along = ribs.places(corner_row, corner_col)
    window = (
        _WINDOW_SHARE * max(rows, cols) if mm_per_px is None else _WINDOW_MM / mm_per_px
    )
    # Along the flute light changes slowly: a grid of some places per window is enough,
    # and the median costs by places, not by px. An odd number has a middle.
    stride = max(1.0, window / _WINDOW_PLACES)
    places = max(3, round(window / stride) | 1)
    first = (float(across.min()), float(along.min()))
    at_across = np.arange(first[0], float(across.max()) + 1, _ACROSS_PX).astype(
        np.float32
    )
    at_along = np.arange(first[1], float(along.max()) + stride, stride).astype(
        np.float32
    )
    shade = np.empty((len(at_across), len(at_along)), np.float32)
    for band in _bands(shape=(len(at_across), len(at_along))):
        row, col = ribs.of_photo(at_across[band, None], at_along[None])
        seen = np.asarray(
            cv2.remap(light, col, row, cv2.INTER_LINEAR), dtype=np.float32
        )
        valid = cv2.remap(inside.astype(np.uint8), col, row, cv2.INTER_NEAREST) > 0
        valid &= (row >= 0) & (row <= rows - 1) & (col >= 0) & (col <= cols - 1)
        shade[band] = median_filter(
            _mirrored(seen, valid), size=(1, places), mode="mirror"
        )
    return shade, first, stride


def _mirrored(seen: _Floats, valid: NDArray[np.bool_]) -> _Floats:
    """Continue each flute beyond its ends by its own light, mirrored."""
    length = seen.shape[1]
    # Rows are places across, columns along. First and last valid place of each row; a
    # row with none keeps what it holds. What would be mirrored past the other end is
    # held there.
    start = valid.argmax(axis=1)[:, None]
    stop = length - 1 - valid[:, ::-1].argmax(axis=1)[:, None]
    at = np.arange(length)[None]
    at = np.where(at < start, 2 * start - at, at)
    at = np.where(at > stop, 2 * stop - at, at)
    at = np.clip(at, start, stop)
    return np.take_along_axis(seen, at, axis=1)


def _grid(rows: slice, cols: int) -> tuple[_Floats, _Floats]:
    row, col = np.mgrid[rows, 0:cols]
    return row.astype(np.float32), col.astype(np.float32)


def _bands(shape: tuple[int, ...]) -> Iterator[slice]:
    """Rows a few at a time, for the memory; no result depends on it."""
    tall = max(1, _BAND_PX // shape[1])
    for start in range(0, shape[0], tall):
        yield slice(start, min(shape[0], start + tall))
