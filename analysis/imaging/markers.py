"""Printed markers in a photo: found, with their corners refined."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.model.card import LAYOUT_OF
from analysis.model.sheet import DICTIONARY, SHEET_MARKERS

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Searched no larger than this; corners are then refined at full size.
_SEARCHED_PX = 4000
_REFINE_PX = 5


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Marker:
    """A marker found in a photo.

    Attributes
    ----------
    number : int
        Its identity in the dictionary.
    corners_px : ndarray of float64, (4, 2)
        (row, col) from its own top left corner clockwise.
    """

    number: int
    corners_px: NDArray[np.float64]


def marker_cells(marker: int) -> NDArray[np.bool_]:
    """Return a marker's cells, True where it is black.

    Examples
    --------
    >>> marker_cells(0).shape
    (7, 7)
    """
    size = _dictionary().markerSize + 2
    drawn = cv2.aruco.generateImageMarker(_dictionary(), marker, size)
    return np.asarray(np.asarray(drawn) == 0, dtype=bool)


def find_markers(pixels: NDArray[np.uint8]) -> tuple[Marker, ...]:
    """Find the markers of sheets and cards.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB, upright.

    Returns
    -------
    tuple of Marker
        Any number of each, by number.

    Examples
    --------
    >>> find_markers(np.full((90, 120, 3), 150, np.uint8))
    ()
    """
    grey = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8)
    step = max(1.0, max(grey.shape) / _SEARCHED_PX)
    small: NDArray[Any] = grey
    if step > 1:
        size = (round(grey.shape[1] / step), round(grey.shape[0] / step))
        small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    settings = cv2.aruco.DetectorParameters()
    settings.cornerRefinementMethod = cv2.aruco.CORNER_REFINE_SUBPIX
    found, numbers, _ = cv2.aruco.ArucoDetector(_dictionary(), settings).detectMarkers(
        small
    )
    if not found:
        return ()
    ratio = np.array(small.shape[::-1]) / grey.shape[::-1]
    known = {*SHEET_MARKERS, *LAYOUT_OF}
    markers = [
        Marker(number=int(number), corners_px=_refined(grey, corners, ratio))
        for corners, number in zip(
            np.asarray(found, np.float32).reshape(-1, 4, 2),
            np.ravel(numbers),
            strict=True,
        )
        if int(number) in known
    ]
    return tuple(sorted(markers, key=lambda marker: marker.number))


def _dictionary() -> cv2.aruco.Dictionary:
    return cv2.aruco.getPredefinedDictionary(getattr(cv2.aruco, DICTIONARY))


def _refined(
    grey: NDArray[np.uint8], corners: NDArray[np.float32], ratio: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Bring corners found on a smaller picture to full size, sub-pixel."""
    if np.allclose(ratio, 1):
        return np.asarray(corners, np.float64)[:, ::-1]
    full = ((corners + 0.5) / ratio - 0.5).astype(np.float32).reshape(-1, 1, 2)
    stop = (cv2.TERM_CRITERIA_EPS + cv2.TERM_CRITERIA_MAX_ITER, 40, 0.01)
    # The window reaches over what a corner may be off on the smaller picture.
    half = max(_REFINE_PX, round(1.5 / float(ratio.min())))
    cv2.cornerSubPix(grey, full, (half, half), (-1, -1), stop)
    return full.reshape(-1, 2)[:, ::-1].astype(np.float64)
