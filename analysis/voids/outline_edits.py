"""Outlines changed by hand: cut in two, joined, painted on and taken off.

Each works on a canvas four times finer than the photo, so that a straight cut leaves
the area it cuts to about a hundredth of a px along its length.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.checks import number, points
from analysis.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

_FINER = 4
_MARGIN_PX = 4
_LEAST_CORNERS = 3
_SIMPLER = 0.5  # of a px of the canvas
# Outlines that lie apart by no more than this are joined by filling the gap.
_WIDEST_GAP_PX = 12
_ENDS = 2
_HALF_PX = 0.5


def split(
    line_px: NDArray[np.float64], cut_px: NDArray[np.float64]
) -> tuple[NDArray[np.float64], ...]:
    """Cut an outline in two along the straight line through two points.

    Parameters
    ----------
    line_px : ndarray of float64, (n, 2)
        (row, col).
    cut_px : ndarray of float64, (2, 2)
        Two points of the cut, (row, col).

    Returns
    -------
    tuple of ndarray
        Two or more outlines.

    Raises
    ------
    InputError
        The cut misses the outline.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [0.0, 8.0], [8.0, 8.0], [8.0, 0.0]])
    >>> len(split(square, np.array([[4.0, -1.0], [4.0, 9.0]])))
    2
    """
    cut = points(cut_px, "The cut", least=_ENDS)
    inside, corner = _canvas([line_px])
    row, col = np.indices(inside.shape)
    (from_row, from_col), (to_row, to_col) = _on_canvas(cut[[0, -1]], corner)
    down, across = to_row - from_row, to_col - from_col
    # A cross product, which over the line's length is the signed distance from it.
    side = across * (row - from_row) - down * (col - from_col)
    side = side / max(np.hypot(down, across), 1e-9)
    # An outline runs through the middles of its outermost px: both halves reach half a
    # px of the canvas beyond the cut, so that neither loses area there.
    parts = [
        one
        for half in (side < _HALF_PX, side > -_HALF_PX)
        for one in _outlines(inside & half, corner)
    ]
    if len(parts) < _ENDS:
        msg = "The cut misses the void: tap a point on either side of it."
        raise InputError(msg)
    return tuple(parts)


def joined(lines_px: Sequence[NDArray[np.float64]]) -> NDArray[np.float64]:
    """Join outlines that touch, overlap or nearly touch.

    Parameters
    ----------
    lines_px : sequence of ndarray of float64, (n, 2)

    Returns
    -------
    ndarray of float64, (m, 2)

    Raises
    ------
    InputError
        They lie too far apart.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [0.0, 8.0], [8.0, 8.0], [8.0, 0.0]])
    >>> bool(joined([square, square + [0, 9]])[:, 1].max() > 16)
    True
    """
    inside, corner = _canvas(lines_px)
    for gap in range(1, _WIDEST_GAP_PX + 1):
        found = _outlines(inside, corner)
        if len(found) == 1:
            return found[0]
        # A closing fills gaps as wide as its brush, here a little more than `gap`.
        reach = _FINER * gap // 2 + 1
        brush = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1,) * 2)
        closed = cv2.morphologyEx(
            inside.astype(np.uint8), cv2.MORPH_CLOSE, brush, borderValue=0
        )
        inside = inside | (closed > 0)
    msg = (
        f"These two lie more than {_WIDEST_GAP_PX} px apart: they are two voids, or "
        "draw one outline around both."
    )
    raise InputError(msg)


def brushed(
    line_px: NDArray[np.float64] | None,
    stroke_px: NDArray[np.float64],
    radius_px: float,
    *,
    on: bool,
) -> NDArray[np.float64]:
    """Paint a stroke onto an outline, or take it off.

    Parameters
    ----------
    line_px : ndarray of float64, (n, 2), or None
        None paints a new one.
    stroke_px : ndarray of float64, (m, 2)
        Middle of the stroke, (row, col).
    radius_px : float
        Half of the brush's width, above 0.
    on : bool
        False takes off.

    Returns
    -------
    ndarray of float64, (k, 2)
        The largest piece that is left.

    Raises
    ------
    InputError
        Nothing is left.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [0.0, 8.0], [8.0, 8.0], [8.0, 0.0]])
    >>> stroke = np.array([[4.0, 0.0], [4.0, 20.0]])
    >>> bool(brushed(square, stroke, 2.0, on=True)[:, 1].max() > 20)
    True
    """
    stroke = points(stroke_px, "The stroke", least=1)
    radius = number(radius_px, "Half of the brush", above=0, high=500, unit="px")
    around = np.concatenate([stroke - radius, stroke + radius])
    inside, corner = _canvas([] if line_px is None else [line_px], around)
    painted = np.zeros(inside.shape, np.uint8)
    at = np.rint(_on_canvas(stroke, corner)[:, ::-1]).astype(np.int32)
    width = max(1, round(2 * radius * _FINER))
    cv2.polylines(painted, [at], isClosed=False, color=1, thickness=width)
    for x, y in at:
        cv2.circle(painted, (int(x), int(y)), max(1, width // 2), 1, -1)
    inside = inside | (painted > 0) if on else inside & (painted == 0)
    found = _outlines(inside, corner)
    if not found:
        msg = "Nothing is left of this void: turn it down instead."
        raise InputError(msg)
    return max(found, key=area_px)


def few_corners(line_px: NDArray[np.float64], most: int = 16) -> NDArray[np.float64]:
    """Return an outline by few corners, to be pulled by them.

    Parameters
    ----------
    line_px : ndarray of float64, (n, 2)
    most : int
        Corners at most.

    Returns
    -------
    ndarray of float64, (m, 2)

    Examples
    --------
    >>> turn = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    >>> circle = 20 * np.column_stack([np.sin(turn), np.cos(turn)])
    >>> 6 <= len(few_corners(circle)) <= 16
    True
    """
    line = line_px.astype(np.float32)[:, None]
    # Douglas and Peucker's simplification, ever coarser until few corners are left.
    for off in np.geomspace(0.3, 100.0, 24):
        few = cv2.approxPolyDP(line, float(off), closed=True)[:, 0]
        if len(few) <= most:
            break
    return (few if len(few) >= _LEAST_CORNERS else line_px).astype(np.float64)


def area_px(line_px: NDArray[np.float64]) -> float:
    """Area inside an outline, px².

    Examples
    --------
    >>> area_px(np.array([[0.0, 0.0], [0.0, 4.0], [4.0, 4.0], [4.0, 0.0]]))
    16.0
    """
    # The shoelace formula.
    row, col = line_px.T
    return abs(float(row @ np.roll(col, -1) - col @ np.roll(row, -1))) / 2


def _canvas(
    lines_px: Sequence[NDArray[np.float64]],
    around_px: NDArray[np.float64] | None = None,
) -> tuple[NDArray[np.bool_], NDArray[np.float64]]:
    """Fill outlines on a finer canvas; return it and (row, col) of its first px."""
    given = [*lines_px] + ([] if around_px is None else [around_px])
    everything = np.concatenate(given)
    corner = np.floor(everything.min(axis=0)) - _MARGIN_PX
    size = np.ceil(everything.max(axis=0)) + _MARGIN_PX - corner + 1
    canvas = np.zeros(tuple((size * _FINER).astype(int)), np.uint8)
    for line in lines_px:
        at = np.rint(_on_canvas(line, corner)[:, ::-1]).astype(np.int32)
        cv2.fillPoly(canvas, [at], 1)
    return canvas > 0, corner


def _on_canvas(
    line_px: NDArray[np.float64], corner: NDArray[np.float64]
) -> NDArray[np.float64]:
    return (line_px - corner) * _FINER


def _outlines(
    inside: NDArray[np.bool_], corner: NDArray[np.float64]
) -> list[NDArray[np.float64]]:
    """Outline the pieces of a canvas, specks under a px left out."""
    found, _ = cv2.findContours(
        inside.astype(np.uint8), cv2.RETR_EXTERNAL, cv2.CHAIN_APPROX_NONE
    )
    lines = []
    for contour in found:
        few = cv2.approxPolyDP(contour, _SIMPLER, closed=True)[:, 0, ::-1]
        line = few.astype(np.float64) / _FINER + corner
        if len(line) >= _LEAST_CORNERS and area_px(line) >= 1:
            lines.append(line)
    return lines
