"""Which outline a finger means, and whether two outlines are of one candidate."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray


def outline_at(
    lines_px: Sequence[NDArray[np.float64]],
    at_px: tuple[float, float],
    reach_px: float,
) -> int | None:
    """Return the outline that holds a point, else the nearest within reach.

    Of two that hold it, or are equally near, the smaller one is meant.

    Parameters
    ----------
    lines_px : sequence of ndarray of float64, (n, 2)
        Boundaries, (row, col).
    at_px : tuple of float
        (row, col).
    reach_px : float
        How far beside an outline still means it.

    Returns
    -------
    int or None
        Its place in the sequence.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [0.0, 4.0], [4.0, 4.0], [4.0, 0.0]])
    >>> outline_at([square, square + 20], (2, 7), 3.5)
    0
    >>> outline_at([square], (2, 9), 3.5) is None
    True
    """
    point = (float(at_px[1]), float(at_px[0]))
    best: tuple[float, float, int] | None = None
    for place, line in enumerate(lines_px):
        if len(line) == 0:
            continue
        # The box rules out nearly all; the exact test walks along all of an outline.
        low, high = line.min(axis=0) - reach_px, line.max(axis=0) + reach_px
        if not (low[0] <= at_px[0] <= high[0] and low[1] <= at_px[1] <= high[1]):
            continue
        contour = line[:, None, ::-1].astype(np.float32)
        away = max(0.0, -cv2.pointPolygonTest(contour, point, measureDist=True))
        rank = (away, float(np.prod(high - low)), place)
        if away <= reach_px and (best is None or rank < best):
            best = rank
    return None if best is None else best[2]


def covered_share(
    line_px: NDArray[np.float64],
    others_px: Sequence[NDArray[np.float64]],
    shape: tuple[int, ...],
) -> float:
    """Return which part of an outline's inside others cover, 0..1.

    Parameters
    ----------
    line_px : ndarray of float64, (n, 2)
        Boundary, (row, col).
    others_px : sequence of ndarray
        Boundaries alike.
    shape : tuple of int
        Rows and columns they lie in.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [0.0, 4.0], [4.0, 4.0], [4.0, 0.0]])
    >>> covered_share(square, [square + [0, 3]], (9, 9))
    0.4
    """
    inner = _filled([line_px], shape)
    taken = _filled(others_px, shape)[inner]
    return float(taken.mean()) if taken.size else 0.0


def _filled(
    lines_px: Sequence[NDArray[np.float64]], shape: tuple[int, ...]
) -> NDArray[np.bool_]:
    image = np.zeros(shape[:2], np.uint8)
    for line in lines_px:
        if len(line):
            cv2.fillPoly(image, [np.rint(line[:, ::-1]).astype(np.int32)], 1)
    return image > 0
