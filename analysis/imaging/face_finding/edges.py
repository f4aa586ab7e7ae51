"""Outlines drawn to the edges that a photo shows near a rough one."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Line = NDArray[np.float64]

_STEP_PX = 2.0
_SIDE_PX = 4  # averaged on each side of an edge
_PULL = 0.35  # towards the rough line, at the end of the reach
_BEND = 0.25  # for each px by which neighbours differ
_MOST_BEND = 2


def outline_of(mask: NDArray[np.bool_]) -> Line:
    """Return the outline of the largest part of a mask.

    Returns
    -------
    ndarray of float64, (n, 2)
        (row, col) of the outer sides of its pixels, clockwise or not.

    Examples
    --------
    >>> mask = np.zeros((9, 9), bool)
    >>> mask[2:6, 3:7] = True
    >>> outline_of(mask).min(axis=0).tolist(), outline_of(mask).max(axis=0).tolist()
    ([1.5, 2.5], [5.5, 6.5])
    """
    # Four times as large, the contour's pixels lie an eighth of a px within the sides:
    # half a px of the large mask, which is then given back, away from the middle.
    twice = cv2.copyMakeBorder(mask.astype(np.uint8), 1, 1, 1, 1, cv2.BORDER_CONSTANT)
    twice = cv2.resize(twice, None, fx=4, fy=4, interpolation=cv2.INTER_NEAREST)
    contours, _ = cv2.findContours(twice, cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE)
    largest: Any = max(contours, key=cv2.contourArea)
    line = np.asarray(largest)[:, 0, ::-1].astype(np.float64)
    middle = line.mean(axis=0)
    line = line + 0.5 * np.sign(line - middle)
    return np.asarray((line + 0.5) / 4 - 0.5 - 1)


def snapped(line: Line, picture: NDArray[np.float32], reach_px: int) -> Line:
    """Draw a closed line to the strongest edge within reach.

    The way of least cost round the line, by dynamic programming: strong edges are
    cheap, leaving the rough line and bending are dear.

    Parameters
    ----------
    line : ndarray of float64, (n, 2)
        (row, col) px of the picture.
    picture : ndarray of float32, (rows, cols, k)
        Colours in which distances mean something.
    reach_px : int
        How far to look on each side, 1 or more.

    Returns
    -------
    ndarray of float64, (m, 2)
        About 2 px apart.

    Examples
    --------
    >>> picture = np.zeros((90, 90, 1), np.float32)
    >>> picture[20:70, 20:70] = 50
    >>> rough = np.array([[23.0, 23], [23, 66], [66, 66], [66, 23]])
    >>> float(np.median(snapped(rough, picture, 6).min(axis=0)).round())
    20.0
    """
    points = stepped(line)
    normal = normals(points)
    reach = np.arange(-reach_px - _SIDE_PX, reach_px + _SIDE_PX + 1)
    at = points[:, None] + reach[None, :, None] * normal[:, None]
    rows, cols = picture.shape[:2]
    profile = cv2.remap(
        picture,
        np.clip(at[..., 1], 0, cols - 1).astype(np.float32),
        np.clip(at[..., 0], 0, rows - 1).astype(np.float32),
        cv2.INTER_LINEAR,
    )
    profile = np.asarray(profile, np.float32).reshape(*at.shape[:2], -1)
    # profile: (points, places across, colours). Differences of cumulative sums are the
    # means of the px inside and outside of each place, in one pass for all places.
    total = np.concatenate(
        [np.zeros_like(profile[:, :1]), np.cumsum(profile, axis=1)], axis=1
    )
    here = np.arange(2 * reach_px + 1) + _SIDE_PX
    inner = (total[:, here] - total[:, here - _SIDE_PX]) / _SIDE_PX
    outer = (total[:, here + 1 + _SIDE_PX] - total[:, here + 1]) / _SIDE_PX
    edge = np.sqrt(((outer - inner) ** 2).sum(axis=2))
    # Voids at the edge are short: neighbours are averaged.
    edge = round_blurred(edge, 3.0)
    # A usual strongest edge is then 1: costs hold for pale and for bright photos.
    edge /= max(float(np.median(edge.max(axis=1))), 1e-6)
    offset = np.arange(-reach_px, reach_px + 1)
    cost = -np.minimum(edge, 1.5) + _PULL * (offset / reach_px) ** 2
    at_frame = _at_frame(points, (rows, cols), reach_px * 0.6)
    # At the frame there is no ground beside the piece: the line stays, no matter what.
    cost[at_frame] = 9.0
    cost[at_frame, reach_px] = 0.0
    way = offset[cheapest_way(cost)].astype(np.float64)
    way = round_blurred(way[:, None], 1.5)[:, 0]
    found = points + way[:, None] * normal
    return np.clip(found, -0.5, np.array([rows, cols]) - 0.5)


def inset(line: Line, away_px: float) -> Line:
    """Return a closed line moved inwards.

    Parameters
    ----------
    line : ndarray of float64, (n, 2)
        Points about evenly apart.
    away_px : float
        How far.

    Examples
    --------
    >>> turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    >>> circle = 50 + 40 * np.stack([np.sin(turn), np.cos(turn)], 1)
    >>> float(np.hypot(*(inset(circle, 3.0) - 50).T).mean().round(1))
    37.0
    """
    return line - away_px * normals(line)


def simplified(line: Line, bend_px: float) -> Line:
    """Return a line with fewer corners, nowhere off by more than `bend_px`.

    Examples
    --------
    >>> turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    >>> circle = 50 + 40 * np.stack([np.sin(turn), np.cos(turn)], 1)
    >>> 10 < len(simplified(circle, 0.5)) < 60
    True
    """
    fixed = (line * 16).round().astype(np.int32).reshape(-1, 1, 2)
    kept = cv2.approxPolyDP(fixed, bend_px * 16, closed=True)
    return np.asarray(kept, np.float64)[:, 0] / 16


def stepped(line: Line) -> Line:
    """Return a closed line with its points about 2 px apart.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [0, 40], [40, 40], [40, 0]])
    >>> len(stepped(square))
    80
    """
    closed = np.vstack([line, line[:1]])
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(closed, axis=0).T))])
    count = max(12, round(along[-1] / _STEP_PX))
    stops = np.linspace(0, along[-1], count, endpoint=False)
    even = np.stack([np.interp(stops, along, closed[:, k]) for k in (0, 1)], 1)
    return round_blurred(even, 2.0)


def normals(points: Line) -> Line:
    """Return unit normals that point out of a closed line.

    Examples
    --------
    >>> turn = np.linspace(0, 2 * np.pi, 400, endpoint=False)
    >>> circle = np.stack([np.sin(turn), np.cos(turn)], 1)
    >>> bool(np.abs(normals(circle) - circle).max() < 0.01)
    True
    """
    # Over six points, then blurred: single points are jagged.
    tangent = np.roll(points, -3, axis=0) - np.roll(points, 3, axis=0)
    tangent = round_blurred(tangent, 2.0)
    normal = np.stack([tangent[:, 1], -tangent[:, 0]], 1)
    normal /= np.maximum(np.hypot(*normal.T), 1e-9)[:, None]
    following = np.roll(points, -1, axis=0)
    # The sign of the shoelace sum tells which way round the line runs.
    turn = (points[:, 0] * following[:, 1] - points[:, 1] * following[:, 0]).sum()
    return np.asarray(normal if turn > 0 else -normal)


def round_blurred(values: NDArray[Any], sd: float) -> NDArray[Any]:
    """Blur along a closed line.

    Examples
    --------
    >>> spot = np.zeros((60, 1))
    >>> spot[0] = 1.0
    >>> bool(round_blurred(spot, 2.0)[1] == round_blurred(spot, 2.0)[-1] > 0.1)
    True
    """
    wide = min(len(values), round(4 * sd))
    # The ends are carried on round the line, since OpenCV knows no closed border for a
    # blur. A width of 1 leaves the second axis as it is.
    wrapped = np.concatenate([values[-wide:], values, values[:wide]])
    soft = cv2.GaussianBlur(
        np.ascontiguousarray(wrapped, np.float64), (1, 2 * wide + 1), 0.1, sigmaY=sd
    )
    return np.asarray(soft).reshape(wrapped.shape)[wide:-wide]


def _at_frame(
    points: Line, shape: tuple[int, int], near_px: float
) -> NDArray[np.bool_]:
    rows, cols = points.T
    near = (rows < near_px) | (rows > shape[0] - 1 - near_px)
    return np.asarray(near | (cols < near_px) | (cols > shape[1] - 1 - near_px))


def cheapest_way(
    cost: NDArray[np.float64], bend: float = _BEND, most_bend: int = _MOST_BEND
) -> NDArray[np.intp]:
    """Return the cheapest offset at each point of a closed line.

    Parameters
    ----------
    cost : ndarray of float64, (n, k)
        Of each of k offsets at each point.
    bend : float
        For each step by which the offsets of neighbours differ.
    most_bend : int
        They differ by no more.

    Returns
    -------
    ndarray of int, (n,)

    Examples
    --------
    >>> cost = np.ones((12, 5))
    >>> cost[:, 3] = 0
    >>> cheapest_way(cost).tolist() == [3] * 12
    True
    """
    count = len(cost)
    # Three times round, and the middle one is kept: its ends then have before and
    # behind them what they have on the closed line.
    doubled = np.concatenate([cost, cost, cost])
    best = doubled[0].copy()
    came = np.zeros(doubled.shape, np.int8)
    wide = cost.shape[1]
    # Beyond the ends no way comes. ways: (2 most_bend + 1, k), a view of `padded`: the
    # cost of coming from each offset shifted by -most_bend to most_bend.
    padded = np.full(wide + 2 * most_bend, np.inf)
    ways = np.lib.stride_tricks.sliding_window_view(padded, wide)
    dear = bend * np.abs(np.arange(-most_bend, most_bend + 1.0))[:, None]
    here = np.arange(wide)
    for k in range(1, len(doubled)):
        padded[most_bend : most_bend + wide] = best
        all_ways = ways + dear
        lot = all_ways.argmin(axis=0)
        came[k] = lot - most_bend
        best = doubled[k] + all_ways[lot, here]
    path = np.empty(len(doubled), np.intp)
    path[-1] = int(best.argmin())
    for k in range(len(doubled) - 1, 0, -1):
        path[k - 1] = path[k] + came[k, path[k]]
    return path[count : 2 * count]
