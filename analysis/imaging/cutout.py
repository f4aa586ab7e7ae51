"""A piece of a face cut out at a scale of choice, to hold beside another."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.checks import number

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Face


def face_extent_mm(
    face: Face, mm_per_px: float, shape: tuple[int, int]
) -> tuple[float, float]:
    """Return height and width of the face's upright box, mm.

    Examples
    --------
    >>> from analysis.model.photo import Face
    >>> face_extent_mm(Face(), 0.5, (100, 200))
    (50.0, 100.0)
    """
    low, high = _box(face, shape)
    rows, cols = ((high - low) * mm_per_px).tolist()
    return rows, cols


def cutout(
    pixels: NDArray[np.uint8],
    face: Face,
    mm_per_px: float,
    side_mm: float,
    px_per_mm: float,
) -> NDArray[np.uint8]:
    """Cut a square out of the middle of the face, drawn at `px_per_mm`.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        Upright photo.
    face : Face
        Its outline; the whole photo without one.
    mm_per_px : float
        Scale of the photo.
    side_mm : float
        Side of the square on the piece, mm.
    px_per_mm : float
        Scale of the answer.

    Returns
    -------
    ndarray of uint8, (n, n, 3)
        Grey where the square leaves the photo.

    Raises
    ------
    InputError
        A size is not above 0.

    Examples
    --------
    >>> from analysis.model.photo import Face
    >>> photo = np.zeros((100, 200, 3), np.uint8)
    >>> cutout(photo, Face(), 0.5, 40.0, 3.0).shape
    (120, 120, 3)
    """
    number(side_mm, "Side of the square", above=0, high=1e5, unit="mm")
    number(px_per_mm, "Scale", above=0, high=1e3)
    low, high = _box(face, (pixels.shape[0], pixels.shape[1]))
    row, col = ((low + high) / 2).tolist()
    size = max(1, round(side_mm * px_per_mm))
    zoom = px_per_mm * mm_per_px
    if zoom < 1:  # reduce first, so that no pit is skipped
        pixels = np.asarray(
            cv2.resize(pixels, None, fx=zoom, fy=zoom, interpolation=cv2.INTER_AREA),
            dtype=np.uint8,
        )
        row, col, zoom = row * zoom, col * zoom, 1.0
    move = np.array(
        [
            [zoom, 0.0, size / 2 - col * zoom],
            [0.0, zoom, size / 2 - row * zoom],
        ]
    )
    return np.asarray(
        cv2.warpAffine(
            pixels,
            move,
            (size, size),
            flags=cv2.INTER_LINEAR,
            borderMode=cv2.BORDER_CONSTANT,
            borderValue=(128, 128, 128),
        ),
        dtype=np.uint8,
    )


def _box(
    face: Face, shape: tuple[int, int]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the upright box of the face on the photo, px."""
    whole = np.array(shape, dtype=np.float64)
    if face.outline_px is None:
        return np.zeros(2), whole
    line = np.clip(face.outline_px, 0, whole)
    return line.min(axis=0), line.max(axis=0)
