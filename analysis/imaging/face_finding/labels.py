"""Small printed labels on a face: too small for the network, without readable marks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Line = NDArray[np.float64]

# Of the picture's longest side: what is paler than the median of so wide a square is
# looked at, if its own sides lie between two lengths.
_AROUND, _SHORTEST, _LONGEST = 0.08, 0.014, 0.2
_MOST_LONG = 4.0
# Steps of L in CIE Lab, 8 bits: paper over the face about it, print under the paper.
_PALER, _PRINT = 8.0, 55.0
# Filled to this share of a rectangle, and printed on so much of it at least: neither
# lime nor a reflection is both.
_FILLED, _LEAST_PRINT, _MOST_PRINT = 0.9, 0.05, 0.6
# Paper has hardly a hue; distance from grey in a and b.
_MOST_HUE = 14.0
_RIM_PX = 0.3


def labels_in(pixels: NDArray[np.uint8], piece: NDArray[np.bool_]) -> list[Line]:
    """Find printed labels that lie within a piece.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB, about 768 px long.
    piece : ndarray of bool, (rows, cols)

    Returns
    -------
    list of ndarray of float64, (4, 2)
        (row, col) around each label, a little beyond its edge.

    Examples
    --------
    >>> face = np.full((300, 400, 3), 150, np.uint8)
    >>> labels_in(face, np.ones((300, 400), bool))
    []
    >>> face[100:124, 200:240] = 235
    >>> face[106:118, 206:214] = 20
    >>> len(labels_in(face, np.ones((300, 400), bool)))
    1
    """
    longest = max(piece.shape)
    lab: Any = cv2.cvtColor(pixels, cv2.COLOR_RGB2LAB)
    light = np.asarray(lab[..., 0])
    wide = 2 * round(_AROUND * longest / 2) + 1
    usual: Any = cv2.medianBlur(light, wide)
    pale = (light > usual.astype(np.float32) + _PALER) & piece
    outlines, _ = cv2.findContours(
        pale.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    found = []
    for line in outlines:
        middle, size, turn = cv2.minAreaRect(line)
        # Points are middles of px: the rectangle is one px wider than they are apart.
        short, long = sorted(side + 1 for side in size)
        if not _SHORTEST * longest < short <= long < _LONGEST * longest:
            continue
        area = cv2.contourArea(line) + 0.5 * cv2.arcLength(line, True) + 1
        if area < _FILLED * short * long or long > _MOST_LONG * short:
            continue
        grown = (size[0] + 1 + 2 * _RIM_PX, size[1] + 1 + 2 * _RIM_PX)
        corners: Any = cv2.boxPoints((middle, grown, turn))
        if _is_printed(np.asarray(lab), line, float(usual[piece].mean())):
            found.append(np.asarray(corners, np.float64)[:, ::-1])
    return found


def _is_printed(lab: NDArray[np.uint8], line: Any, face: float) -> bool:  # noqa: ANN401
    """Tell whether a pale patch is grey paper with dark print on it."""
    inside = np.zeros(lab.shape[:2], np.uint8)
    cv2.drawContours(inside, [line], -1, 1, -1)
    # The paper's soft edge is no print.
    inside = np.asarray(cv2.erode(inside, np.ones((5, 5), np.uint8)), np.uint8)
    if not inside.any():
        return False
    light, *hue = lab[inside > 0].astype(np.float32).T
    paper = light >= np.percentile(light, 60)
    over = float(np.median(light[paper])) - face
    printed = float((light < np.median(light[paper]) - _PRINT).mean())
    grey = max(abs(float(np.median(part[paper])) - 128) for part in hue)
    return over > _PALER and _LEAST_PRINT < printed < _MOST_PRINT and grey < _MOST_HUE
