"""Tie holes and drain holes: round, dark, too regular to be voids."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Line = NDArray[np.float64]

# Of what is around it.
_DARK = 0.5
# An ellipse filled to this share of its area and no longer than that is a hole's mouth.
_LEAST_FILLED, _MOST_LONG = 0.94, 1.15
# One that a void opens into is hardly round: the fourth of a rectangle may be so.
_FILLED_FOURTH, _LONG_FOURTH = 0.88, 1.3
# Smaller ones are left in: round voids of one size exist, and a hole counted as a void
# is seen on the picture, a void left out is not missed by anyone.
# Diameters as shares of the side of a square as large as the face: three or more of one
# size, two of one size, one alone.
_OF_MANY, _OF_TWO, _ALONE = 0.032, 0.042, 0.055
_MANY, _TWO = 3, 2
_ALIKE = 0.12
# And a px more: a small hole's rim falls between px.
_ALIKE_PX = 1.0
# Four at the corners of a rectangle are a form's ties; by chance voids hardly lie so.
# Shares of the same side, and of one length to the other; their mouths may be seen in
# unlike light.
_OF_RECTANGLE, _APART, _ASTRAY = 0.024, 0.12, 0.03
_DIAGONALS, _ALIKE_THERE = 1.1, 1.5
_MOST_TRIED = 12
# Larger than the voids about it by this factor.
_BEYOND_VOIDS = 3.2
# One alone, far larger than its voids and rounder than they are, may be smaller: of
# voids whose sizes scatter by a factor of 1.8, one in a thousand is so large.
_ALONE_BEYOND, _FAR_BEYOND, _ROUNDER = 0.038, 6.0, 1.06
# The mouth's rim and chamfer are left out with it.
_RIM = 1.3
_CORNERS = 24


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Mouth:
    middle: NDArray[np.float64]  # (row, col) px
    size_px: float  # diameter
    long: float  # longest axis over shortest
    is_round: bool


def round_holes(
    pixels: NDArray[np.uint8],
    piece: NDArray[np.bool_],
) -> list[Line]:
    """Find holes that were formed, not left by air.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        A reduced photo.
    piece : ndarray of bool, (rows, cols)
        The face in it.

    Returns
    -------
    list of ndarray of float64, (24, 2)
        (row, col) around each, its rim taken along.

    Examples
    --------
    >>> photo = np.full((300, 400, 3), 160, np.uint8)
    >>> _ = cv2.circle(photo, (200, 150), 20, (20, 20, 20), -1)
    >>> holes = round_holes(photo, np.ones((300, 400), bool))
    >>> [hole.mean(axis=0).round().tolist() for hole in holes]
    [[150.0, 200.0]]
    """
    side = float(np.sqrt(max(int(piece.sum()), 1)))
    grey = cv2.cvtColor(np.ascontiguousarray(pixels), cv2.COLOR_RGB2GRAY)
    dark = _darker(np.asarray(grey), side) & piece
    found, sizes = _mouths(dark, _OF_RECTANGLE * side)
    usual = float(np.median(sizes)) if len(sizes) else 0.0
    found = [one for one in found if one.size_px > _BEYOND_VOIDS * usual]
    ties = _in_rectangles(found, side)
    holes = []
    for number, one in enumerate(found):
        size = one.size_px
        near = _ALIKE * size + _ALIKE_PX
        alike = sum(
            other.is_round and abs(other.size_px - size) < near for other in found
        )
        least = _OF_MANY if alike >= _MANY else _OF_TWO if alike >= _TWO else _ALONE
        if one.long < _ROUNDER and size > _FAR_BEYOND * usual:
            least = min(least, _ALONE_BEYOND)
        if (size > least * side and one.is_round) or number in ties:
            holes.append(_circle(one.middle, size / 2 * _RIM))
    return holes


def _in_rectangles(found: list[_Mouth], side: float) -> set[int]:
    """Return which spots lie at the corners of a rectangle, with three like them."""
    largest = np.argsort([-one.size_px for one in found])[:_MOST_TRIED].tolist()
    ties: set[int] = set()
    for four in combinations(largest, 4):
        sizes = [found[k].size_px for k in four]
        unround = sum(not found[k].is_round for k in four)
        if max(sizes) > _ALIKE_THERE * min(sizes) or unround > 1:
            continue
        places = np.array([found[k].middle for k in four])
        # Two diagonals that halve each other and are of one length make a rectangle;
        # four points pair up in three ways. Its edges must be long enough too.
        for a, b, c, d in ((0, 1, 2, 3), (0, 2, 1, 3), (0, 3, 1, 2)):
            one, other = places[b] - places[a], places[d] - places[c]
            off = np.hypot(*(places[a] + places[b] - places[c] - places[d])) / 2
            long, short = sorted((np.hypot(*one), np.hypot(*other)), reverse=True)
            edge = min(np.hypot(*(places[a] - places[k])) for k in (c, d))
            if (
                off < _ASTRAY * side
                and long < _DIAGONALS * short
                and edge > _APART * side
            ):
                ties |= set(four)
    return ties


def _darker(grey: NDArray[np.uint8], side: float) -> NDArray[np.bool_]:
    """Mark what is dark in linear light against what is around it."""
    # The ground is a median: a hole does not pull it while it fills less than half of
    # the window. A wide window is quick only at a quarter of the width and height.
    quarter = cv2.resize(grey, None, fx=0.25, fy=0.25, interpolation=cv2.INTER_AREA)
    window = int(np.clip(side * 0.3 / 4, 3, 127)) | 1
    ground = cv2.resize(cv2.medianBlur(quarter, window), grey.shape[::-1])
    # sRGB is about a power of 2.2.
    limit = _DARK ** (1 / 2.2) * np.asarray(ground, np.float32)
    return np.asarray(grey < limit)


def _mouths(
    dark: NDArray[np.bool_], least_px: float
) -> tuple[list[_Mouth], NDArray[np.float64]]:
    """Return spots that are round or nearly so, and the sizes of all not round."""
    _, labels, stats, middles = cv2.connectedComponentsWithStats(
        dark.astype(np.uint8), connectivity=8
    )
    areas = stats[1:, cv2.CC_STAT_AREA].astype(float)
    sizes = np.sqrt(4 * areas / np.pi)
    found = []
    for number in np.flatnonzero(sizes > max(least_px, 5.0)) + 1:
        left, top, wide, high = stats[number, :4].tolist()
        spot = (labels[top : top + high, left : left + wide] == number).astype(np.uint8)
        contours, _ = cv2.findContours(spot, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
        line: Any = max(contours, key=len)
        if len(line) < 8:  # noqa: PLR2004  an ellipse needs some
            continue
        # Pixels' outer sides lie half a px beyond the contour.
        axes = np.array(cv2.fitEllipse(line)[1]) + 1
        hull = float(cv2.contourArea(cv2.convexHull(line))) + len(line) / 2
        filled = float(areas[number - 1]) / max(np.pi / 4 * axes.prod(), hull, 1.0)
        long = float(axes.max() / axes.min())
        if filled > _FILLED_FOURTH and long < _LONG_FOURTH:
            mouth = _Mouth(
                middle=np.array(middles[number][::-1], np.float64),
                size_px=float(sizes[number - 1]),
                long=long,
                is_round=filled > _LEAST_FILLED and long < _MOST_LONG,
            )
            found.append(mouth)
    round_ones = [one.size_px for one in found if one.is_round]
    others = sizes[(sizes > 2) & ~np.isin(sizes, round_ones)]  # noqa: PLR2004  no noise
    return found, others


def _circle(middle: NDArray[np.float64], radius_px: float) -> Line:
    turns = np.linspace(0, 2 * np.pi, _CORNERS, endpoint=False)
    return middle + radius_px * np.stack([np.sin(turns), np.cos(turns)], 1)
