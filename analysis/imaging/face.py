"""Which pixels are the face, and which lie near a joint."""

from __future__ import annotations

from itertools import pairwise, product
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import FaceError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Face, JointLine, Photo

SMALLEST_FACE_PX = 100
_MOST_CORNERS = 2000
_SMALLEST_POLYGON_PX2 = 1.0
# As far as the smoothing before the search for voids looks.
_REACH_PX = 3
# A line that falls less runs along a row.
_LEVEL_PX = 1e-9


def face_mask(photo: Photo, face: Face) -> NDArray[np.bool_]:
    """Mark the measured pixels.

    Parameters
    ----------
    photo : Photo
        Its transparent pixels are never face.
    face : Face
        Outline and left-out areas; parts outside the photo are cut off.

    Returns
    -------
    ndarray of bool, (rows, cols)
        True where the pixel's centre lies in the face outline and in no left-out
        area.

    Raises
    ------
    FaceError
        The outline crosses itself, has no area or lies outside the photo, or
        nothing is left to measure.

    Examples
    --------
    >>> import io
    >>> from PIL import Image
    >>> from analysis.imaging.photo import read_photo
    >>> from analysis.model.photo import Face
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (40, 30)).save(file, "PNG")
    >>> outline = np.array([[4.5, 4.5], [4.5, 24.5], [24.5, 24.5], [24.5, 4.5]])
    >>> photo = read_photo(file.getvalue())
    >>> int(face_mask(photo, Face(outline_px=outline)).sum())
    400
    """
    shape = (photo.height_px, photo.width_px)
    if face.outline_px is None:
        mask = np.ones(shape, dtype=bool)
    else:
        _check_outline(face.outline_px)
        mask = polygon_mask(face.outline_px, shape)
        if not mask.any():
            msg = (
                f"The face outline lies outside the photo of {shape[1]} x {shape[0]} "
                "px: draw it inside."
            )
            raise FaceError(msg)
    for area in face.left_out_px:
        mask &= ~polygon_mask(area, shape)
    if photo.opaque is not None:
        mask &= photo.opaque
    left = int(np.count_nonzero(mask))
    if left < SMALLEST_FACE_PX:
        msg = (
            f"Only {left} px of the face are left to measure, at least "
            f"{SMALLEST_FACE_PX} are needed: outline a larger face."
        )
        raise FaceError(msg)
    return mask


def polygon_mask(
    polygon_px: NDArray[np.float64], shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """Mark the pixels whose centre lies inside a polygon (even-odd rule).

    Parameters
    ----------
    polygon_px : ndarray of float64, (n, 2)
        Corners, (row, col).
    shape : tuple of int
        Rows and columns of the mask.

    Returns
    -------
    ndarray of bool, (rows, cols)
        Half-open: a pixel on a shared edge belongs to one of two neighbours.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [0.0, 3.0], [2.0, 3.0], [2.0, 0.0]])
    >>> int(polygon_mask(square, (5, 5)).sum())
    6
    """
    rows, cols = shape
    # Scan lines: each side flips, in each row whose centre it spans, the first px at or
    # right of where it crosses; summed modulo 2 from the left, px between two crossings
    # are 1. The spare column takes crossings right of the mask.
    toggles = np.zeros((rows, cols + 1), dtype=np.uint8)
    corners = [(float(row), float(col)) for row, col in polygon_px]
    for side in zip(corners, [*corners[1:], *corners[:1]], strict=True):
        # Always downwards, so that neighbours round a shared side alike.
        (top, col_top), (bottom, col_bottom) = sorted(side)
        first = int(np.clip(np.ceil(top), 0, rows))
        last = int(np.clip(np.ceil(bottom), 0, rows))
        if first == last:
            continue
        at = np.arange(first, last)
        crossing = col_top + (at - top) / (bottom - top) * (col_bottom - col_top)
        toggles[at, np.clip(np.ceil(crossing), 0, cols).astype(np.intp)] ^= 1
    inside = np.bitwise_xor.accumulate(toggles, axis=1)[:, :cols]
    return inside.astype(bool)


def continue_outside(light: NDArray[np.float32], face: NDArray[np.bool_]) -> None:
    """Carry the face's light on over its edge, in place.

    Smoothing then takes in nothing of the bench, the tie hole or the cut-out's
    black beside the face, which would draw a dark or bright rim along the edge and
    swallow the voids that touch it.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Changed where `face` is False within 3 px of the face: mean of the face's
        pixels within 3 px.
    face : ndarray of bool, (rows, cols)
        Measured pixels.

    Examples
    --------
    >>> light = np.array([[0.5, 0.5, 0.0, 0.0]], dtype=np.float32)
    >>> continue_outside(light, np.array([[True, True, False, False]]))
    >>> light
    array([[0.5, 0.5, 0.5, 0.5]], dtype=float32)
    """
    if face.all():
        return
    box = np.ones((2 * _REACH_PX + 1, 2 * _REACH_PX + 1), np.uint8)
    near = cv2.dilate(face.view(np.uint8), box).astype(bool)
    row, col = np.nonzero(near & ~face)
    # Gathered for the px of the rim only, in 49 steps: no further picture is needed.
    total = np.zeros(len(row), dtype=np.float32)
    count = np.zeros(len(row), dtype=np.float32)
    steps = range(-_REACH_PX, _REACH_PX + 1)
    for down, across in product(steps, steps):
        # Beyond the picture the edge's own pixel is taken.
        at = (
            np.clip(row + down, 0, face.shape[0] - 1),
            np.clip(col + across, 0, face.shape[1] - 1),
        )
        total += light[at] * face[at]
        count += face[at]
    light[row, col] = total / count


def joint_band_mask(
    joints: tuple[JointLine, ...], band_px: float, shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """Mark the pixels within `band_px` of a joint line.

    Parameters
    ----------
    joints : tuple of JointLine
        Joint lines; none gives an empty band.
    band_px : float
        Half-width of the band, px.
    shape : tuple of int
        Rows and columns of the mask.

    Returns
    -------
    ndarray of bool, (rows, cols)

    Examples
    --------
    >>> from analysis.model.photo import JointLine
    >>> line = JointLine(line_px=np.array([[5.0, 0.0], [5.0, 9.0]]))
    >>> int(joint_band_mask((line,), 2.0, (11, 10)).sum())
    50
    """
    band = np.zeros(shape, dtype=bool)
    for joint in joints:
        for begin, end in pairwise(joint.line_px):
            _fill_near(band, begin, end, band_px)
    return band


def _fill_near(
    band: NDArray[np.bool_],
    begin: NDArray[np.float64],
    end: NDArray[np.float64],
    away_px: float,
) -> None:
    """Mark what lies within `away_px` of a straight line, ends rounded.

    That shape is convex, so each row holds one run of it. The run's ends belong to
    discs whose centres slide along the line: the farthest lies where the disc's rim
    runs along the line, or at an end of it.
    """
    rows, cols = band.shape
    (row_a, col_a), (down, across) = begin, end - begin
    first = max(0, int(np.ceil(min(row_a, end[0]) - away_px)))
    last = min(rows - 1, int(np.floor(max(row_a, end[0]) + away_px)))
    if first > last:
        return
    at = np.arange(first, last + 1)
    stops = []
    for side in (-1.0, 1.0):
        if abs(down) < _LEVEL_PX:
            along = np.full(at.shape, float(side * across > 0))
        else:
            rim = -side * away_px * across / np.hypot(down, across) * np.sign(down)
            along = np.clip((at - rim - row_a) / down, 0.0, 1.0)
        rise = at - (row_a + along * down)
        reach = np.sqrt(np.maximum(away_px**2 - rise**2, 0.0))
        stops.append(col_a + along * across + side * reach)
    left = np.clip(np.ceil(stops[0]), 0, cols).astype(np.intp)
    right = np.clip(np.floor(stops[1]) + 1, 0, cols).astype(np.intp)
    for row, start, stop in zip(at, left, right, strict=True):
        band[row, start:stop] = True


def _check_outline(outline: NDArray[np.float64]) -> None:
    if len(outline) > _MOST_CORNERS:
        msg = (
            f"The face outline has {len(outline)} corners, at most {_MOST_CORNERS} "
            "are taken: draw it with fewer."
        )
        raise FaceError(msg)
    following = np.roll(outline, -1, axis=0)
    if crosses_itself(outline):
        msg = "The face outline crosses itself: mark the corners in order around it."
        raise FaceError(msg)
    # Shoelace formula: twice the area, with its sign.
    doubled = outline[:, 0] * following[:, 1] - outline[:, 1] * following[:, 0]
    if not abs(float(doubled.sum())) / 2.0 > _SMALLEST_POLYGON_PX2:
        msg = "The face outline has no area: its corners lie on one line; draw it anew."
        raise FaceError(msg)


def crosses_itself(outline: NDArray[np.float64]) -> bool:
    """Tell whether two sides of a closed polygon properly cross.

    Parameters
    ----------
    outline : ndarray of float64, (n, 2)
        Its corners in order.

    Examples
    --------
    >>> square = np.array([[0.0, 0], [0, 4], [4, 4], [4, 0]])
    >>> crosses_itself(square), crosses_itself(square[[0, 2, 1, 3]])
    (False, True)
    """
    begin, end = outline, np.roll(outline, -1, axis=0)

    def side(
        a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Sign of the turn a, b, c for all pairs of sides."""
        ab, ac = b - a, c - a
        return np.sign(ab[..., 0] * ac[..., 1] - ab[..., 1] * ac[..., 0])

    # All sides against all, (n, n). Sides that meet in a corner give sign 0 there, so
    # neighbours never count as crossing.
    p, q = begin[:, None], end[:, None]
    r, s = begin[None], end[None]
    crossing = (side(p, q, r) * side(p, q, s) < 0) & (side(r, s, p) * side(r, s, q) < 0)
    return bool(crossing.any())
