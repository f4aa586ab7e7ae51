"""The opening of a pit, from the shadows of both lamps and what lies between."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy import ndimage

from analysis.pairs.spots import redrawn

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.pairs.planes import Planes
    from analysis.pairs.relief import Signals
    from analysis.pairs.spots import PairCandidates

# The rim lies where the light is half way to the deepest shade this near.
_CUT, _NEAR = 0.54, np.ones((7, 7), np.uint8)
# A lobe: nearly all of it dark under one lamp only. Two make a pit where they lie
# behind each other along the lamps, closer than this many times their width.
_ONE_SIDED, _GAP, _BESIDE = 0.6, 1.4, 0.5
_STEP_PX = 1.6
# A part beyond all that changes with the lamp, this still, is a flush grain against
# the pit: on drawn pairs grains change by 0.022 (log) at most, parts of pits by 0.027.
_STILL_LOG, _CHANGING_LOG, _CHANGING_SIGMAS = 0.023, 0.15, 3.0
_LEAST_OPENING_PX, _LEAST_GRAIN_PX, _LEAST_GRAIN_PART = 40, 8, 0.08


def openings_of(
    found: PairCandidates,
    planes: Planes,
    signals: Signals,
    chosen: NDArray[np.bool_],
    towards_rad: float | None,
) -> PairCandidates:
    """Draw the openings of the pits among the spots; the others stay as they are.

    Parameters
    ----------
    found : PairCandidates
    planes : Planes
    signals : Signals
    chosen : ndarray of bool, (n,)
        Spots with relief.
    towards_rad : float or None
        Direction from the first lamp's shadows to the second's.
    """
    labels = _trimmed(found.spots.labels, planes.darker, chosen)
    origin = np.arange(len(found))
    if towards_rad is not None:
        for first, second in _two_lobes(found, signals, chosen, towards_rad):
            _join(labels, found, origin[first], origin[second])
            origin[origin == origin[second]] = origin[first]
        _fill_between(labels, planes.relief, chosen, towards_rad)
    _cut_grains(labels, planes, chosen)
    return redrawn(found, labels, np.arange(len(found)))


def _trimmed(
    labels: NDArray[np.int32], darker: NDArray[np.float32], chosen: NDArray[np.bool_]
) -> NDArray[np.int32]:
    """Cut the rims of the chosen at half of the shade just inside them; fill holes."""
    # Labels count from 1, `chosen` from 0: one more in front stands for label 0.
    pit = np.r_[False, chosen][labels]
    depth = np.where(pit, 1.0 - darker, 0.0).astype(np.float32)
    shade = cv2.dilate(depth, _NEAR)
    kept = pit & (depth > _CUT * shade)
    # What was cut away and does not reach the outside is a lit floor: a hole.
    lit = (pit & ~kept).astype(np.uint8)
    number, parts = cv2.connectedComponents(lit, connectivity=4)
    outside = cv2.dilate((~pit).astype(np.uint8), np.ones((3, 3), np.uint8)) > 0
    open_part = np.zeros(number, dtype=bool)
    open_part[np.unique(parts[outside & (lit > 0)])] = True
    hole = (lit > 0) & ~open_part[parts]
    return np.where(pit & ~kept & ~hole, 0, labels).astype(np.int32)


def _fill_between(
    labels: NDArray[np.int32],
    relief: NDArray[np.float32],
    chosen: NDArray[np.bool_],
    towards_rad: float,
) -> None:
    """Fill gaps inside each pit, along the lamps: from first shade to second shade.

    A gap that begins in the second lamp's shade and ends in the first's lies between
    two pits and stays.
    """
    row, col = np.nonzero(np.r_[False, chosen][labels])
    if len(row) == 0:
        return
    owner = labels[row, col]
    # Turned coordinates: `along` runs with the lamps, `line` numbers rows a px wide
    # beside each other. Sorted by pit, row and place, px that follow each other in
    # the list do so in the picture, and all gaps come from one difference.
    along = col * np.cos(towards_rad) + row * np.sin(towards_rad)
    line = np.rint(row * np.cos(towards_rad) - col * np.sin(towards_rad)).astype(int)
    order = np.lexsort((along, line, owner))
    row, col, owner, line = row[order], col[order], owner[order], line[order]
    gap = np.diff(along[order])
    side = cv2.blur(relief, (3, 3))[row, col]
    open_gap = (np.diff(owner) == 0) & (np.diff(line) == 0) & (gap > _STEP_PX)
    open_gap &= (side[:-1] < 0) & (side[1:] > 0)
    filled = np.zeros_like(labels)
    for at in np.flatnonzero(open_gap).tolist():
        ends = (int(col[at]), int(row[at])), (int(col[at + 1]), int(row[at + 1]))
        # Two px wide, so that rows at a slant leave no seams between them.
        cv2.line(filled, *ends, int(owner[at]), 2)
    np.copyto(labels, filled, where=(labels == 0) & (filled > 0))


def _cut_grains(
    labels: NDArray[np.int32], planes: Planes, chosen: NDArray[np.bool_]
) -> None:
    """Cut flush grains off the pits they touch.

    Inside a pit each px changes with the lamp or lies between px that do; a grain is
    dark alike in both lights and lies beside them.
    """
    least = max(_CHANGING_LOG, _CHANGING_SIGMAS * planes.noise)
    for at, window in enumerate(ndimage.find_objects(labels, len(chosen))):
        if window is None or not chosen[at]:
            continue
        own = labels[window] == at + 1
        if np.count_nonzero(own) < _LEAST_OPENING_PX:
            continue
        relief = planes.relief[window]
        row, col = np.nonzero(own & (np.abs(cv2.blur(relief, (3, 3))) > least))
        if len(row) < _LEAST_GRAIN_PX:
            continue
        hull = np.zeros(own.shape, np.uint8)
        points = np.column_stack([col, row]).astype(np.int32)
        cv2.fillConvexPoly(hull, cv2.convexHull(points), 1)
        beyond = own & (cv2.dilate(hull, np.ones((3, 3), np.uint8)) == 0)
        number, parts = cv2.connectedComponents(beyond.astype(np.uint8))
        size = np.bincount(parts.ravel(), minlength=number)
        still = np.bincount(parts.ravel(), np.abs(relief).ravel(), minlength=number)
        least_px = max(_LEAST_GRAIN_PX, _LEAST_GRAIN_PART * np.count_nonzero(own))
        # Sums, not means: size on the right saves a division by parts of 0 px.
        grain = (size >= least_px) & (still < _STILL_LOG * size)
        grain[0] = False
        labels[window][grain[parts]] = 0


def _two_lobes(
    found: PairCandidates,
    signals: Signals,
    chosen: NDArray[np.bool_],
    towards_rad: float,
) -> list[tuple[int, int]]:
    """Pairs of spots that are the two shadowed sides of one pit, nearest first."""
    shapes = found.shapes
    first = np.flatnonzero(chosen & (signals.side < -_ONE_SIDED))
    second = np.flatnonzero(chosen & (signals.side > _ONE_SIDED))
    if len(first) == 0 or len(second) == 0:
        return []
    turns = len(shapes.support_px)

    def reach(angle: float, at: NDArray[np.intp]) -> NDArray[np.float64]:
        return np.asarray(
            shapes.support_px[round(angle / (2 * np.pi) * turns) % turns, at]
        )

    # From here (f, s): a row for each lobe of the first lamp, a column for each of
    # the second. `gap` is from rim to rim, below 0 where they overlap.
    right = towards_rad + np.pi / 2
    wide_first = reach(right, first) + reach(right + np.pi, first)
    wide_second = reach(right, second) + reach(right + np.pi, second)
    across = shapes.col_px[second] - shapes.col_px[first, None]
    down = shapes.row_px[second] - shapes.row_px[first, None]
    along = across * np.cos(towards_rad) + down * np.sin(towards_rad)
    beside = np.abs(down * np.cos(towards_rad) - across * np.sin(towards_rad))
    gap = along - reach(towards_rad, first)[:, None]
    gap = gap - reach(towards_rad + np.pi, second)
    wide = np.minimum(wide_first[:, None], wide_second)
    broad = np.maximum(wide_first[:, None], wide_second)
    fits = (along > 0) & (gap < _GAP * broad) & (beside < _BESIDE * wide)
    fits &= wide > _BESIDE * broad
    pairs: list[tuple[int, int]] = []
    taken: set[int] = set()
    # Greedy, the closest first; `argwhere` and `gap[fits]` list pairs in one order.
    for one, other in np.argwhere(fits)[np.argsort(gap[fits], kind="stable")].tolist():
        if {int(first[one]), int(second[other])} & taken:
            continue
        pairs.append((int(first[one]), int(second[other])))
        taken |= set(pairs[-1])
    return pairs


def _join(
    labels: NDArray[np.int32], found: PairCandidates, first: int, second: int
) -> None:
    """Make one opening of two lobes: their hull, but nothing of other spots."""
    pixels = found.pixels
    mine = (pixels.label == first) | (pixels.label == second)
    points = np.column_stack([pixels.col[mine], pixels.row[mine]]).astype(np.int32)
    low, high = points.min(axis=0), points.max(axis=0) + 1
    # A view of the labels: what is written into it stays.
    window = labels[low[1] : high[1], low[0] : high[0]]
    hull = np.zeros(window.shape, np.uint8)
    cv2.fillConvexPoly(hull, cv2.convexHull(points - low), 1)
    own = (window == 0) | (window == second + 1)
    window[(hull > 0) & own] = first + 1
