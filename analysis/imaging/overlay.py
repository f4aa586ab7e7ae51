"""Pictures of a reading: voids outlined on the photo, the mask, previews."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import cv2
import numpy as np
from PIL import Image

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

# One colour for every outline: the blue of the Okabe-Ito colour-blind-safe set.
OUTLINE_RGB = (0, 114, 178)
_BRIGHT_RGB = (255, 255, 255)
# OpenCV draws in fixed point with so many binary places: sixteenths of a px.
_SHIFT = 4


def zoom_to(shape: tuple[int, ...], longest_px: int | None) -> float:
    """How much smaller a picture is drawn so that no side is longer, 0..1.

    Examples
    --------
    >>> zoom_to((300, 400, 3), 100), zoom_to((300, 400, 3), None)
    (0.25, 1.0)
    """
    return 1.0 if longest_px is None else min(1.0, longest_px / max(shape[:2]))


def overlay(
    pixels: NDArray[np.uint8],
    outlines_px: Iterable[NDArray[np.float64]],
    *,
    dashed_px: Iterable[NDArray[np.float64]] = (),
    face_px: Iterable[NDArray[np.float64]] = (),
    zoom: float = 1.0,
) -> NDArray[np.uint8]:
    """Draw outlines on a copy of the photo.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB.
    outlines_px : iterable of ndarray, (n, 2)
        Counted voids, (row, col) px of the photo: whole lines.
    dashed_px : iterable of ndarray, (n, 2)
        Honeycomb patches and the like: dashed lines.
    face_px : iterable of ndarray, (n, 2)
        Face outline and left-out areas: thin white lines.
    zoom : float
        Enlargement of the picture, more than 0; lines keep their width.

    Returns
    -------
    ndarray of uint8, (round(rows * zoom), round(cols * zoom), 3)

    Examples
    --------
    >>> square = np.array([[2.0, 2.0], [2.0, 7.0], [7.0, 7.0], [7.0, 2.0]])
    >>> overlay(np.zeros((20, 20, 3), np.uint8), [square], zoom=2.0).shape
    (40, 40, 3)
    """
    rows, cols = pixels.shape[:2]
    size = (max(1, round(cols * zoom)), max(1, round(rows * zoom)))
    way = cv2.INTER_AREA if zoom < 1 else cv2.INTER_CUBIC
    if zoom == 1:
        canvas = pixels.copy()
    else:
        resized = cv2.resize(pixels, size, interpolation=way)
        canvas = np.asarray(resized, dtype=np.uint8)
    thick = max(1, round(max(size) / 900))
    _draw(canvas, face_px, zoom, _BRIGHT_RGB, 1)
    _draw(canvas, outlines_px, zoom, _BRIGHT_RGB, thick + 2)
    _draw(canvas, outlines_px, zoom, OUTLINE_RGB, thick)
    for line in dashed_px:
        _draw_dashed(canvas, line, zoom, thick + 1)
    return canvas


def encoded(
    array: NDArray[np.uint8] | NDArray[np.bool_], file_format: str = "PNG"
) -> bytes:
    r"""Encode a picture (uint8) or a mask (bool: 255 where True).

    Examples
    --------
    >>> encoded(np.ones((4, 4), bool))[:4]
    b'\x89PNG'
    """
    picture = array.astype(np.uint8) * 255 if array.dtype == bool else array
    file = io.BytesIO()
    options = {"quality": 88} if file_format == "JPEG" else {}
    Image.fromarray(picture).save(file, file_format, **options)
    return file.getvalue()


def preview(pixels: NDArray[np.uint8], longest_px: int) -> NDArray[np.uint8]:
    """Reduce a photo for showing; smaller ones come back as they are.

    Examples
    --------
    >>> preview(np.zeros((100, 200, 3), np.uint8), 50).shape
    (25, 50, 3)
    """
    rows, cols = pixels.shape[:2]
    part = longest_px / max(rows, cols)
    if part >= 1:
        return pixels
    size = (max(1, round(cols * part)), max(1, round(rows * part)))
    return np.asarray(
        cv2.resize(pixels, size, interpolation=cv2.INTER_AREA), dtype=np.uint8
    )


def resized(pixels: NDArray[np.uint8], longest_px: int) -> NDArray[np.uint8]:
    """Bring a picture to a size, larger or smaller.

    Examples
    --------
    >>> resized(np.zeros((100, 200, 3), np.uint8), 400).shape
    (200, 400, 3)
    """
    rows, cols = pixels.shape[:2]
    part = longest_px / max(rows, cols)
    if part <= 1:
        return preview(pixels, longest_px)
    size = (round(cols * part), round(rows * part))
    return np.asarray(
        cv2.resize(pixels, size, interpolation=cv2.INTER_CUBIC), dtype=np.uint8
    )


def _draw(
    canvas: NDArray[np.uint8],
    lines_px: Iterable[NDArray[np.float64]],
    zoom: float,
    colour: tuple[int, int, int],
    thick: int,
) -> None:
    scaled = [_fixed_point(line, zoom) for line in lines_px if len(line)]
    cv2.polylines(canvas, scaled, True, colour, thick, cv2.LINE_AA, _SHIFT)


def _fixed_point(line: NDArray[np.float64], zoom: float) -> NDArray[np.int32]:
    """Centre of a pixel (0, 0) lies at (zoom - 1) / 2 of the enlarged picture."""
    at = (line[:, ::-1] + 0.5) * zoom - 0.5
    fixed: NDArray[np.int32] = np.round(at * 2**_SHIFT).astype(np.int32)
    return fixed.reshape(-1, 1, 2)


def _draw_dashed(
    canvas: NDArray[np.uint8], line: NDArray[np.float64], zoom: float, thick: int
) -> None:
    # Arc length along the closed line; a dash is a stretch of it, cut in four so that
    # it follows a bend.
    closed = np.vstack([line, line[:1]])
    step = np.hypot(*np.diff(closed, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(step)])
    dash = 6.0 * thick / zoom
    for start in np.arange(0.0, along[-1], 2 * dash):
        stops = np.linspace(start, min(start + dash, along[-1]), 5)
        part = np.stack([np.interp(stops, along, closed[:, k]) for k in (0, 1)], 1)
        cv2.polylines(
            canvas,
            [_fixed_point(part, zoom)],
            False,
            OUTLINE_RGB,
            thick,
            cv2.LINE_AA,
            _SHIFT,
        )
