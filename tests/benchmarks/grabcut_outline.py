"""An outline by GrabCut, which finding a face is held against."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

_LONGEST_PX = 240
_EDGE = 0.03  # of each side: what lies there is taken as background
_ROUNDS = 3
_LEAST, _MOST = 0.05, 0.96  # of the photo; else the whole of it is proposed
_STRAIGHT = 0.012  # of the outline's length: smaller bends are not followed
_SEED = 7


def propose_outline(
    pixels: NDArray[np.uint8], papers: Sequence[NDArray[np.float64]] = ()
) -> NDArray[np.float64]:
    """Propose the outline of the piece in the middle of a photo.

    GrabCut (Rother, Kolmogorov and Blake 2004) on a reduced photo, begun with a frame
    just inside its edges.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB.
    papers : sequence of ndarray of float64, (n, 2)
        (row, col) around sheets and cards that lie on the face: they are part of it
        here, however much they stand out.

    Returns
    -------
    ndarray of float64, (n, 2)
        (row, col); the photo's own frame where no piece stands out.

    Examples
    --------
    >>> photo = np.full((200, 300, 3), (40, 90, 40), np.uint8)
    >>> photo[50:150, 60:240] = 170
    >>> float(np.abs(propose_outline(photo).min(axis=0) - (50, 60)).max()) < 4
    True
    """
    rows, cols = pixels.shape[:2]
    ratio = min(1.0, _LONGEST_PX / max(rows, cols))
    size = (max(round(cols * ratio), 8), max(round(rows * ratio), 8))
    small = cv2.resize(pixels, size, interpolation=cv2.INTER_AREA)
    wide, tall = size
    for paper in papers:
        small = _painted_over(small, (paper + 0.5) * (tall / rows, wide / cols) - 0.5)
    edge = (max(round(wide * _EDGE), 1), max(round(tall * _EDGE), 1))
    mask = np.zeros((tall, wide), np.uint8)
    frame = (edge[0], edge[1], wide - 2 * edge[0], tall - 2 * edge[1])
    whole = np.array([[0, 0], [0, cols - 1], [rows - 1, cols - 1], [rows - 1, 0]])
    cv2.setRNGSeed(_SEED)
    if float(np.std(small)) < 1.0:  # nothing to tell apart
        return whole.astype(np.float64)
    cv2.grabCut(
        small,
        mask,
        frame,
        np.zeros((1, 65)),
        np.zeros((1, 65)),
        _ROUNDS,
        cv2.GC_INIT_WITH_RECT,
    )
    found = ((mask == cv2.GC_FGD) | (mask == cv2.GC_PR_FGD)).astype(np.uint8)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (5, 5))
    closed = cv2.morphologyEx(found, cv2.MORPH_CLOSE, kernel)
    contours, _ = cv2.findContours(closed, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_SIMPLE)
    if not contours:
        return whole.astype(np.float64)
    largest: Any = max(contours, key=cv2.contourArea)
    least = _LEAST + 2 * sum(_area(paper) for paper in papers) / (rows * cols)
    if not least <= cv2.contourArea(largest) / (wide * tall) <= _MOST:
        return whole.astype(np.float64)
    bends = _STRAIGHT * cv2.arcLength(largest, closed=True)
    line = np.asarray(cv2.approxPolyDP(largest, bends, closed=True))[:, 0, ::-1]
    if len(line) < 3:
        return whole.astype(np.float64)
    back = np.array([rows / tall, cols / wide])
    return np.asarray((line + 0.5) * back - 0.5, dtype=np.float64)


def _painted_over(small: Any, paper: NDArray[np.float64]) -> Any:
    """Give a paper the colour that the face has around it."""
    inside = np.zeros(small.shape[:2], np.uint8)
    corners = np.clip(np.round(paper[:, ::-1]), -(10**6), 10**6).astype(np.int32)
    cv2.fillPoly(inside, [corners], 1)
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (3, 3))
    near = cv2.dilate(inside, kernel, iterations=2)
    ring = cv2.dilate(near, kernel, iterations=4) > near
    if not ring.any():
        return small
    painted = small.copy()
    painted[near > 0] = np.median(small[ring], axis=0)
    return painted


def _area(paper: NDArray[np.float64]) -> float:
    return float(cv2.contourArea(paper[:, ::-1].astype(np.float32)))
