"""The ghost of one photo on another, as taken, to see whether both are framed alike."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.checks import number

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Photo

# Of the longest side: fine texture would cover the photo, edges and pits are enough.
_SOFT = 1 / 400
# Of the edges, from the weakest that is drawn to the first that is drawn in full.
_WEAK_PERCENT, _FULL_PERCENT = 90.0, 99.0
_INK = np.array([0, 78, 130], np.float32)
_BESIDE = 40
# Grey levels between the two; less is a face without any edge.
_LEAST_EDGE = 1e-3


def ghost_on(first: Photo, second: Photo, *, longest_px: int) -> NDArray[np.uint8]:
    """Draw the first photo's edges on the second, frame on frame, nothing lined up.

    Parameters
    ----------
    first, second : Photo
        Of one face; where their frames are not alike, the second is fitted into the
        first one's.
    longest_px : int
        Longest side of the picture, from 16.

    Returns
    -------
    ndarray of uint8, (rows, cols, 3)
        sRGB, in the frame of the first photo.

    Raises
    ------
    InputError
        The size cannot be used.

    Examples
    --------
    >>> from analysis.model.photo import Photo
    >>> from analysis.imaging.photo import read_photo
    >>> import io
    >>> from PIL import Image
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (80, 60), (150, 150, 150)).save(file, "PNG")
    >>> photo = read_photo(file.getvalue())
    >>> ghost_on(photo, photo, longest_px=40).shape
    (30, 40, 3)
    """
    here = _reduced(first, longest_px)
    there = _fitted(second.pixels, *here.shape[:2])
    strength = _edges_of(here)[..., None]
    mixed = there * (1 - strength) + _INK * strength
    return np.clip(mixed + 0.5, 0, 255).astype(np.uint8)


def ghost_of(first: Photo, *, longest_px: int) -> NDArray[np.uint8]:
    """Draw a photo's edges alone, to be laid over what a camera sees.

    Parameters
    ----------
    first : Photo
    longest_px : int
        Longest side of the picture, from 16.

    Returns
    -------
    ndarray of uint8, (rows, cols, 4)
        sRGB and how much of it covers what lies below.

    Raises
    ------
    InputError
        The size cannot be used.

    Examples
    --------
    >>> from analysis.imaging.photo import read_photo
    >>> import io
    >>> from PIL import Image
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (80, 60), (150, 150, 150)).save(file, "PNG")
    >>> ghost = ghost_of(read_photo(file.getvalue()), longest_px=40)
    >>> ghost.shape, int(ghost[..., 3].max())
    ((30, 40, 4), 0)
    """
    strength = _edges_of(_reduced(first, longest_px))
    inked = np.broadcast_to(_INK, (*strength.shape, 3))
    drawn = np.dstack([inked, 255 * strength])
    return np.asarray(np.clip(drawn + 0.5, 0, 255), np.uint8)


def _reduced(photo: Photo, longest_px: int) -> NDArray[np.uint8]:
    longest_px = int(number(longest_px, "The longest side", low=16, unit="px"))
    zoom = min(1.0, longest_px / max(photo.height_px, photo.width_px))
    rows, cols = (max(1, round(one * zoom)) for one in photo.pixels.shape[:2])
    small = cv2.resize(photo.pixels, (cols, rows), interpolation=cv2.INTER_AREA)
    return np.asarray(small, np.uint8)


def _fitted(pixels: NDArray[np.uint8], rows: int, cols: int) -> NDArray[np.uint8]:
    """Show all of a photo in the middle of a frame."""
    high, wide = pixels.shape[:2]
    zoom = min(rows / high, cols / wide)
    size = (max(1, round(wide * zoom)), max(1, round(high * zoom)))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    frame = np.full((rows, cols, 3), _BESIDE, np.uint8)
    top, left = (rows - size[1]) // 2, (cols - size[0]) // 2
    frame[top : top + size[1], left : left + size[0]] = small
    return frame


def _edges_of(pixels: NDArray[np.uint8]) -> NDArray[np.float32]:
    """Return how strongly each pixel is part of an edge, 0..1."""
    sigma = max(0.8, max(pixels.shape[:2]) * _SOFT)
    grey = cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY).astype(np.float32)
    soft = cv2.GaussianBlur(grey, (0, 0), sigma)
    steep = np.hypot(cv2.Sobel(soft, -1, 1, 0), cv2.Sobel(soft, -1, 0, 1))
    weak, full = np.percentile(steep, (_WEAK_PERCENT, _FULL_PERCENT))
    if not full - weak > _LEAST_EDGE:
        return np.zeros_like(steep)
    return np.asarray(np.clip((steep - weak) / (full - weak), 0, 1), np.float32)
