"""How two photos lie by what no lamp changes: printed markers, edges of the face."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import FaceError
from analysis.imaging.homography import CORNER_SD_PX, fitted, fitted_square, moved
from analysis.imaging.markers import find_markers
from analysis.imaging.straightening import in_order

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.imaging.markers import Marker

    Plane = NDArray[np.float32]
    Points = NDArray[np.float64]

_TRIALS, _GRID = 64, 6
# Corners that leave the far end of the face this unsure give turn and scale alone.
_FAR_PX = 20.0
# Along each side of the outline: places looked at, the part of the side they take, how
# far across it they look, as a part of the photo, and its smoothing, px.
_PLACES, _PART, _ACROSS, _SMOOTH_PX = 80, 0.86, 0.012, 1.0
# An edge is sharp where the light changes by so much (log) within so few px, along most
# of the side and on one line.
_LEAST_STEP_LOG, _WIDEST_PX, _ON_LINE_PX, _LEAST_SHARP = 0.15, 4.0, 1.5, 0.6
_DARKEST, _SIDES = 1e-4, 4


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Known:
    """How the second photo lies on the first by marks whose places are known.

    Attributes
    ----------
    to_second : ndarray of float64, (3, 3)
        From (x, y, 1) px of the first photo to the second.
    off_px : float
        Root mean square by which it may lie off over the face, from how sure the marks
        are; infinite where they give a first guess only.
    """

    to_second: Points
    off_px: float


def by_markers(
    first: NDArray[np.uint8], second: NDArray[np.uint8], face_px: Points
) -> Known | None:
    """Line up by the markers of cards and sheets that both photos show once.

    Parameters
    ----------
    first, second : ndarray of uint8, (rows, cols, 3)
        sRGB.
    face_px : ndarray of float64, (n, 2)
        (x, y) about the face in the first photo.

    Returns
    -------
    Known or None
        None where no marker is in both.

    Examples
    --------
    >>> grey = np.full((90, 120, 3), 150, np.uint8)
    >>> by_markers(grey, grey, np.array([[0.0, 0.0], [119.0, 89.0]])) is None
    True
    """
    here, there = (_once(find_markers(pixels)) for pixels in (first, second))
    both = sorted(here.keys() & there.keys())
    if not both:
        return None
    start, end = (np.concatenate([side[one] for one in both]) for side in (here, there))
    return known_by(start, end, np.sqrt(2.0) * CORNER_SD_PX, face_px)


def by_outline(
    first: Plane, second: Plane, outlines: Sequence[Points], face_px: Points
) -> Known | None:
    """Line up by the four edges of a face, where they are straight and sharp.

    Parameters
    ----------
    first, second : ndarray of float32, (rows, cols)
        Linear light.
    outlines : sequence of two ndarrays of float64, (4, 2)
        (row, col) of the corners, roughly, in each photo.
    face_px : ndarray of float64, (n, 2)
        (x, y) about the face in the first photo.

    Returns
    -------
    Known or None
        None where an edge is soft, crooked or hidden.

    Examples
    --------
    >>> light = np.full((200, 300), 0.1, np.float32)
    >>> light[40:160, 50:250] = 0.5
    >>> rough = np.array([[38.0, 52.0], [41, 248], [161, 252], [158, 49]])
    >>> known = by_outline(light, np.roll(light, 3, 1), (rough, rough), rough[:, ::-1])
    >>> (known.to_second[0] + 0.0).round(1).tolist(), known.off_px < 0.3
    ([1.0, 0.0, 3.0], True)
    """
    here = _sharp_corners(first, outlines[0])
    there = None if here is None else _sharp_corners(second, outlines[1])
    if here is None or there is None:
        return None
    sd_px = float(np.hypot(here[1], there[1]))
    return known_by(here[0], there[0], sd_px, face_px)


def known_by(start: Points, end: Points, sd_px: float, face_px: Points) -> Known:
    """Fit the plane of some points, and tell how far it may lie off over the face.

    Parameters
    ----------
    start, end : ndarray of float64, (n, 2)
        (x, y) in both photos, n of 4 or more.
    sd_px : float
        How sure each is, px of the second photo.
    face_px : ndarray of float64, (n, 2)
        (x, y) about the face in the first.

    Examples
    --------
    >>> small = np.array([[0.0, 0.0], [60.0, 0.0], [60.0, 60.0], [0.0, 60.0]])
    >>> near, far = (known_by(small, small + 5, 0.3, k * small) for k in (1, 40))
    >>> near.off_px < 0.7, far.off_px
    (True, inf)
    """
    low, high = face_px.min(axis=0), face_px.max(axis=0)
    steps = [np.linspace(low[axis], high[axis], _GRID) for axis in (0, 1)]
    # Marks are often small beside the face, so the error grows outside them: shaken
    # fits are held against the first one on a grid all over the face (Monte Carlo,
    # fixed seed).
    grid = np.stack(np.meshgrid(*steps), axis=-1).reshape(-1, 2)
    matrix, _ = fitted(start, end)
    rng = np.random.default_rng(20260101)
    off2 = [
        ((moved(shaken, grid) - moved(matrix, grid)) ** 2).sum(axis=1).mean()
        for shaken in (
            fitted(start, end + rng.normal(0, sd_px, end.shape))[0]
            for _ in range(_TRIALS)
        )
    ]
    off_px = float(np.sqrt(np.mean(off2)))
    if not off_px < _FAR_PX:
        return Known(to_second=fitted_square(start, end), off_px=np.inf)
    return Known(to_second=matrix, off_px=off_px)


def _once(markers: Sequence[Marker]) -> dict[int, Points]:
    """Corners (x, y) of the markers that are there once."""
    numbers = [marker.number for marker in markers]
    return {
        marker.number: marker.corners_px[:, ::-1]
        for marker in markers
        if numbers.count(marker.number) == 1
    }


def _sharp_corners(light: Plane, outline: Points) -> tuple[Points, float] | None:
    """Corners (x, y) where the lines of the four edges cross, and how sure they are."""
    try:
        corners = in_order(outline)[:, ::-1]
    except FaceError:
        return None
    logs = np.log(np.maximum(cv2.GaussianBlur(light, (0, 0), _SMOOTH_PX), _DARKEST))
    reach = max(8.0, _ACROSS * max(light.shape))
    lines, sure = [], []
    for at in range(_SIDES):
        line = _edge(logs, corners[at], corners[(at + 1) % _SIDES], reach)
        if line is None:
            return None
        lines.append(line[0])
        sure.append(line[1])
    # In homogeneous coordinates two lines (a, b, c) cross at their cross product.
    crossed = np.array([np.cross(lines[at - 1], lines[at]) for at in range(_SIDES)])
    return crossed[:, :2] / crossed[:, 2:], float(max(sure))


def _edge(
    logs: Plane, begin: Points, end: Points, reach_px: float
) -> tuple[Points, float] | None:
    """Line (a, b, c of a x + b y + c = 0) of one edge, and how sure it is, px."""
    along = (end - begin) / np.hypot(*(end - begin))
    normal = np.array([-along[1], along[0]])
    part = np.linspace((1 - _PART) / 2, (1 + _PART) / 2, _PLACES)
    # profile: (places along the side, half px across it), the log of light on each.
    across = np.arange(-reach_px, reach_px + 0.25, 0.5)
    at = begin + part[:, None] * (end - begin)
    grid = (at[:, None] + across[:, None] * normal).astype(np.float32)
    profile = cv2.remap(
        logs,
        grid[..., 0],
        grid[..., 1],
        cv2.INTER_LINEAR,
        borderMode=cv2.BORDER_REPLICATE,
    )
    change = np.abs(np.gradient(profile, 0.5, axis=1))
    best = np.clip(change.argmax(axis=1), 1, len(across) - 2)
    row = np.arange(_PLACES)
    before, here, after = (change[row, best + step] for step in (-1, 0, 1))
    # Vertex of the parabola through three values, in steps of half a px.
    bend = np.minimum(before - 2 * here + after, -1e-9)
    place = across[best] + 0.5 * np.clip((before - after) / 2 / bend, -0.5, 0.5)
    side = max(2, round(_WIDEST_PX))
    low, high = np.maximum(best - side, 0), np.minimum(best + side, len(across) - 1)
    step = np.abs(profile[row, high] - profile[row, low])
    # Height of the whole step over its steepest slope is its width in px.
    sharp = (step > _LEAST_STEP_LOG) & (step < _WIDEST_PX * here)
    if sharp.mean() < _LEAST_SHARP:
        return None
    points = (at + place[:, None] * normal)[sharp].astype(np.float32)
    ahead_x, ahead_y, x, y = np.ravel(
        cv2.fitLine(points, cv2.DIST_HUBER, 0, 0.01, 0.01)
    ).astype(np.float64)
    line = np.array([-ahead_y, ahead_x, ahead_y * x - ahead_x * y])
    off = np.abs(points @ line[:2] + line[2])
    on_line = off < _ON_LINE_PX
    if np.count_nonzero(on_line) < _LEAST_SHARP * _PLACES:
        return None
    # Places beside each other are not independent: a quarter of them counts.
    spread = float(np.sqrt((off[on_line] ** 2).mean() / (on_line.sum() / 4)))
    return line, max(2 * spread, 0.1)
