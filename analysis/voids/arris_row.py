"""Chips along an arris that nobody marked: many marks in one row where two faces meet.

Bugholes lie anywhere on a face. What broke off an edge lies on it, mark by mark, and
the light differs from one side of the edge to the other.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.shapes import Shapes

    _Floats = NDArray[np.float64]
    _Mask = NDArray[np.bool_]

_SET = SETTINGS.arris


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Line:
    """A straight line: a point of it and its direction, each (col, row)."""

    point: _Floats
    along: _Floats

    @property
    def across(self) -> _Floats:
        """Unit vector from the line to its one side."""
        return np.array([-self.along[1], self.along[0]])

    def within(self, shape: tuple[int, int]) -> _Floats:
        """Places along the line that lie in the photo, px from its point."""
        at = np.arange(-sum(shape), sum(shape), _SET.step_px, dtype=np.float64)
        col, row = self.point[:, None] + self.along[:, None] * at
        inside = (col >= 0) & (col <= shape[1] - 1) & (row >= 0) & (row <= shape[0] - 1)
        return np.asarray(at[inside])


def chipped_off(
    light: NDArray[np.float32],
    shapes: Shapes,
    marks: _Mask,
    pieces: _Mask,
    face_px: int,
) -> _Mask:
    """Tell which marks broke off arrises that cross the photo.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light, lightly smoothed.
    shapes : Shapes
    marks : ndarray of bool, (n,)
        Regions that may be such chips: likely to be holes.
    pieces : ndarray of bool, (n,)
        Pieces of long thin marks, which lie in rows of their own: they tell no row.
    face_px : int
        Measured px.

    Returns
    -------
    ndarray of bool, (n,)

    Examples
    --------
    >>> from analysis.voids.shapes import region_pixels, region_shapes
    >>> labels = np.zeros((200, 400), np.int32)
    >>> for number in range(12):
    ...     labels[98:103, 30 * number + 20 : 30 * number + 26] = number + 1
    >>> light = np.full((200, 400), 0.2, np.float32)
    >>> light[100:] = 0.4
    >>> shapes = region_shapes(region_pixels(labels, 12))
    >>> every = np.ones(12, bool)
    >>> int(chipped_off(light, shapes, every, ~every, light.size).sum())
    12
    """
    chips = np.zeros(len(marks), dtype=bool)
    every = np.arange(len(marks))
    for _ in range(_SET.most_rows):
        left = _of_one_size(shapes, np.flatnonzero(marks & ~pieces & ~chips))
        row = _row_of(shapes, left, _SET.fewest_alone)
        if row is None or not _is_arris(light, shapes, left, *row, face_px):
            break
        line, touching = row
        away = np.abs(line.across @ (_centres(shapes, every) - line.point[:, None]))
        chips |= marks & (away <= _reach(shapes, every, left[touching]))
    return chips


def off_one_row(shapes: Shapes, marks: _Mask) -> int:
    """Count the marks that do not touch the line that most of them touch.

    Parameters
    ----------
    shapes : Shapes
    marks : ndarray of bool, (n,)

    Returns
    -------
    int
        0 where there are less than three: they always lie in a row.
    """
    row = _row_of(shapes, np.flatnonzero(marks), fewest=3)
    return 0 if row is None else int(np.count_nonzero(~row[1]))


def _of_one_size(shapes: Shapes, left: NDArray[np.intp]) -> NDArray[np.intp]:
    """Leave out the few far larger than the others, which would touch any line."""
    if len(left) == 0:
        return left
    most = _SET.largest_ratio * float(np.median(shapes.feret_max_px[left]))
    return left[shapes.feret_max_px[left] <= most]


def _row_of(
    shapes: Shapes, left: NDArray[np.intp], fewest: int
) -> tuple[_Line, _Mask] | None:
    """Find the line that most marks touch; None for fewer marks than asked for."""
    if len(left) < fewest:
        return None
    at = _centres(shapes, left)
    reach = _reach(shapes, left, left)
    wide = float(np.median(reach))
    # Count centroids in strips of all directions, two neighbouring strips at a time.
    angle = np.arange(_SET.directions) * (np.pi / _SET.directions)
    strip = np.floor(
        np.outer(np.cos(angle), at[0] / wide) + np.outer(np.sin(angle), at[1] / wide)
    ).astype(np.intp)
    strip -= strip.min()
    strips = int(strip.max()) + 2
    count = np.bincount(
        (strip + np.arange(len(angle))[:, None] * strips).ravel(),
        minlength=len(angle) * strips,
    ).reshape(len(angle), strips)
    best, first = np.unravel_index(
        np.argmax(count[:, :-1] + count[:, 1:]), (len(angle), strips - 1)
    )
    touching = (strip[best] == first) | (strip[best] == first + 1)
    line = None
    for _ in range(_SET.fit_rounds):
        if np.count_nonzero(touching) < 2:  # noqa: PLR2004  no line through one point
            break
        point = at[:, touching].mean(axis=1)
        spread = np.cov(at[:, touching])
        line = _Line(point=point, along=np.linalg.eigh(spread)[1][:, 1])
        nearer = np.abs(line.across @ (at - point[:, None])) <= reach
        if np.array_equal(nearer, touching):
            break
        touching = nearer
    return None if line is None else (line, touching)


def _is_arris(
    light: NDArray[np.float32],
    shapes: Shapes,
    left: NDArray[np.intp],
    line: _Line,
    touching: _Mask,
    face_px: int,
) -> bool:
    """Tell a row of chips from pits that happen to lie so.

    There are many more on the line than chance would put there, they go along much of
    it, and the light differs plainly from one of its sides to the other, all along. A
    little is enough where nearly all marks of the face lie on that one line; then few
    are enough at a plain edge.
    """
    row_px = line.within((light.shape[0], light.shape[1]))
    half = float(np.median(shapes.feret_max_px[left[touching]])) / 2
    lane_px = 2 * (2 * half + _SET.touches_px) * len(row_px) * _SET.step_px
    beside = np.count_nonzero(~touching)
    by_chance = beside * lane_px / max(face_px - lane_px, lane_px)
    here = _centres(shapes, left[touching])
    along = line.along @ (here - line.point[:, None])
    length = float(np.ptp(along))
    if np.count_nonzero(touching) < max(
        _SET.fewest_alone, _SET.over_chance_ratio * by_chance
    ) or length < _SET.covered_share * (len(row_px) * _SET.step_px):
        return False
    row_px = row_px[(row_px >= along.min()) & (row_px <= along.max())]
    sides = [_beside(light, line, row_px, side * (half + 1)) for side in (-1, 1)]
    step = np.log(sides[1] / sides[0])
    usual = float(np.median(step))
    same = float(np.mean(step * np.sign(usual) > 0))
    count = np.count_nonzero(touching)
    alone = beside <= _SET.beside_alone_share * count
    many = count >= _SET.fewest_chips
    if not alone and not many:
        return False
    least, along_it = _SET.alone_step if alone and many else _SET.plain_step
    return abs(usual) >= least and same >= along_it


def _reach(shapes: Shapes, at: NDArray[np.intp], usual: NDArray[np.intp]) -> _Floats:
    """How far from the line a chip's middle lies at most, px.

    The edge is as round as its usual chips are wide: smaller ones lie beside it.
    """
    round_px = float(np.median(shapes.feret_max_px[usual])) / 2
    return np.asarray(shapes.feret_max_px[at] / 2 + round_px + _SET.touches_px)


def _centres(shapes: Shapes, at: NDArray[np.intp]) -> _Floats:
    """Columns and rows of centroids, (2, n)."""
    return np.stack([shapes.col_px[at], shapes.row_px[at]])


def _beside(
    light: NDArray[np.float32], line: _Line, at: _Floats, from_px: float
) -> _Floats:
    """Median light on one side of a line, place by place along it."""
    out = np.arange(_SET.beside_from_px, _SET.beside_to_px, _SET.beside_step_px)
    away = from_px + np.sign(from_px) * out
    col = line.point[0] + line.along[0] * at[:, None] + line.across[0] * away
    row = line.point[1] + line.along[1] * at[:, None] + line.across[1] * away
    rows, cols = light.shape
    value = light[
        np.clip(np.rint(row), 0, rows - 1).astype(np.intp),
        np.clip(np.rint(col), 0, cols - 1).astype(np.intp),
    ]
    middle: _Floats = np.median(value, axis=1).astype(np.float64)
    return np.maximum(middle, 1e-4)
