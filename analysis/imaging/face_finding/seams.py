"""Where an outline runs through one and the same surface: there is no edge there.

A close photo of a speckled or stained face gives the network little to go by. What it
holds to be beside the face is face too, if along the whole seam between the two neither
colour nor texture changes, and no line shows.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.imaging.face_finding.regions import Regions

# Of the photo: smaller bays of the outline are left as they are.
_SMALLEST_BAY = 0.004
_LONGEST_SEAM_PX = 10
_LINE_PX = 2
# Steps of CIE Lab in 8 bits, and the ratio of noise, that are no edge.
_SAME_COLOUR, _NO_LINE, _SAME_TEXTURE = 3.0, 2.5, 1.3
_WHOLE = 0.985


def without_seams(regions: Regions, pixels: NDArray[np.uint8]) -> Regions:
    """Take bays of the outline into the piece where nothing parts them from it.

    Parameters
    ----------
    regions : Regions
    pixels : ndarray of uint8, (rows, cols, 3)
        The photo, of any size.

    Examples
    --------
    >>> from analysis.imaging.face_finding.regions import Regions
    >>> half = np.zeros((60, 80), bool)
    >>> half[:, :40] = True
    >>> found = Regions(piece=half, left_out=np.zeros_like(half), whole=False)
    >>> without_seams(found, np.full((60, 80, 3), 90, np.uint8)).whole
    True
    """
    shape = regions.piece.shape
    small: Any = cv2.resize(pixels, shape[::-1], interpolation=cv2.INTER_AREA)
    colours = cv2.cvtColor(small, cv2.COLOR_RGB2LAB).astype(np.float32)
    noise = np.abs(colours[..., 0] - cv2.GaussianBlur(colours[..., 0], (0, 0), 2))
    piece = regions.piece.copy()
    count, labels, stats, _ = cv2.connectedComponentsWithStats(
        (~piece).astype(np.uint8), connectivity=4
    )
    for number in range(1, count):
        share = stats[number, cv2.CC_STAT_AREA] / piece.size
        bay = labels == number
        # Held against the piece as it was found: the order of bays does not matter.
        if share > _SMALLEST_BAY and _is_one(regions.piece, bay, colours, noise):
            piece |= bay
    whole = float(piece.mean()) > _WHOLE
    return replace(regions, piece=piece | whole, whole=whole)


def _is_one(
    piece: NDArray[np.bool_],
    bay: NDArray[np.bool_],
    colours: NDArray[np.float32],
    noise: NDArray[np.float32],
) -> bool:
    """Tell whether piece and bay are one surface along their seam."""
    inner, outer = (
        _near(bay, _LONGEST_SEAM_PX) & piece,
        _near(piece, _LONGEST_SEAM_PX) & bay,
    )
    line = _near(piece, _LINE_PX) & _near(bay, _LINE_PX)
    inner, outer = inner & ~line, outer & ~line
    if not (inner.any() and outer.any()):
        return False
    # Medians, so that voids and grains at the seam do not count.
    here, there = (np.median(colours[side], axis=0) for side in (inner, outer))
    between = np.median(colours[line], axis=0)
    step = float(np.linalg.norm(here - there))
    stroke = float(np.linalg.norm(between - (here + there) / 2))
    # The same little on both: two surfaces without any noise are alike.
    ratio = (float(noise[inner].mean()) + 0.3) / (float(noise[outer].mean()) + 0.3)
    return (
        step < _SAME_COLOUR
        and stroke < _NO_LINE
        and 1 / _SAME_TEXTURE < ratio < _SAME_TEXTURE
    )


def _near(mask: NDArray[np.bool_], reach_px: int) -> NDArray[np.bool_]:
    kernel = np.ones((2 * reach_px + 1, 2 * reach_px + 1), np.uint8)
    return np.asarray(cv2.dilate(mask.astype(np.uint8), kernel) > 0)
