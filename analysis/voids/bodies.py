"""Pits that hang on a crack, a joint or a scratch: bodies of long dark marks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import disc_px, edged

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.components import Boxes
    from analysis.voids.shapes import Shapes

_SET = SETTINGS.bodies


def bodies_apart(
    labels: NDArray[np.int32], shapes: Shapes, left_whole: NDArray[np.bool_]
) -> tuple[NDArray[np.int32], NDArray[np.intp], NDArray[np.bool_]]:
    """Part long thin regions where they are far wider than they usually are.

    A crack runs from pit to pit, and is as dark: all of it is one candidate, which
    would be turned down as a crack, pits and all.

    Parameters
    ----------
    labels : ndarray of int32, (rows, cols)
        Regions 1 to n.
    shapes : Shapes
        Of the regions.
    left_whole : ndarray of bool, (n,)
        Regions that are not parted.

    Returns
    -------
    labels : ndarray of int32, (rows, cols)
        Regions 1 to m; what is left of a line keeps its number.
    origin : ndarray of intp, (m,)
        0-based region each came from.
    is_line : ndarray of bool, (m,)
        What is left of regions that bodies were taken from.

    Examples
    --------
    >>> from analysis.voids.shapes import region_pixels, region_shapes
    >>> crack = np.zeros((40, 120), np.int32)
    >>> crack[19:21, 5:115] = 1
    >>> crack[12:28, 50:66] = 1
    >>> shapes = region_shapes(region_pixels(crack, 1))
    >>> labels, origin, is_line = bodies_apart(crack, shapes, np.zeros(1, bool))
    >>> origin.tolist(), is_line.tolist()
    ([0, 0], [True, False])
    """
    count = len(shapes.solidity)
    thin = is_thin(shapes.feret_max_px, shapes.pixel_count)
    long = np.flatnonzero(thin & ~left_whole)
    origin = list(range(count))
    lines = []
    parted = labels
    for number, where in zip(long, shapes.windows(long), strict=True):
        bodies, found = bodies_of(labels[where] == number + 1)
        if found == 0:
            continue
        if parted is labels:
            parted = labels.copy()
        lines.append(number)
        for body in range(1, found + 1):
            origin.append(int(number))
            parted[where][bodies == body] = len(origin)
    is_line = np.zeros(len(origin), dtype=bool)
    is_line[lines] = True
    return parted, np.array(origin, dtype=np.intp), is_line


def is_thin(length_px: NDArray[np.float64], area_px: NDArray[Any]) -> NDArray[np.bool_]:
    """Tell marks that are far longer than wide, by their length squared over area.

    Examples
    --------
    >>> is_thin(np.array([20.0, 120.0]), np.array([300, 360])).tolist()
    [False, True]
    """
    return np.asarray(disc_px(length_px) >= _SET.thinnest_ratio * area_px)


def bodies_of(region: NDArray[np.bool_]) -> tuple[NDArray[np.int32], int]:
    """Return where a long mark is far wider than usual.

    Parameters
    ----------
    region : ndarray of bool, (rows, cols)
        One mark.

    Returns
    -------
    bodies : ndarray of int32, (rows, cols)
        Numbered from 1.
    count : int

    Examples
    --------
    >>> mark = np.zeros((40, 120), bool)
    >>> mark[19:21, 5:115] = True
    >>> bodies_of(mark)[1]
    0
    >>> mark[12:28, 50:66] = True
    >>> bodies_of(mark)[1]
    1
    """
    inside = edged(region)
    depth = np.asarray(cv2.distanceTransform(inside, cv2.DIST_L2, cv2.DIST_MASK_5))
    ridge = (depth > 0) & (depth >= cv2.dilate(depth, np.ones((3, 3), np.uint8)))
    # A line is far longer than its bodies, so half of its ridge tells its width.
    usual = float(np.median(depth[ridge]))
    radius = max(_SET.wider_ratio * usual, _SET.least_radius_px)
    core = (depth > radius).view(np.uint8)
    if not core.any():
        return np.zeros(region.shape, dtype=np.int32), 0
    # Discs laid about the core give the body back its size and leave the line outside.
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * int(radius) + 3,) * 2)
    body = np.asarray(cv2.dilate(core, disc), dtype=np.uint8) & inside
    found, labelled = cv2.connectedComponents(body, connectivity=8)
    return np.asarray(labelled[1:-1, 1:-1], dtype=np.int32), found - 1


def bodies_of_long(
    flat: NDArray[np.intp],
    label: NDArray[np.int32],
    box: Boxes,
    most_px: float,
    cols: int,
) -> tuple[NDArray[np.int32], int]:
    """Give bodies of thin marks that are too long for the search labels of their own.

    The mark is no candidate of this search, and its pits would go with it.

    Parameters
    ----------
    flat : ndarray of intp, (n,)
        Places of all px of the marks.
    label : ndarray of int32, (n,)
        Which mark each is of.
    box : Boxes
        Of the marks.
    most_px : float
        Longest that is looked for.
    cols : int
        Of the picture.

    Returns
    -------
    label : ndarray of int32, (n,)
        With the bodies' labels after those of the marks.
    count : int
        How many bodies.
    """
    long = np.maximum(box.width, box.height) > most_px
    longest = np.hypot(box.width.astype(np.float64), box.height.astype(np.float64))
    long &= is_thin(longest, np.bincount(label, minlength=len(long)))
    long[0] = False
    count = 0
    if not long.any():
        return label, count
    label = label.copy()
    mine = np.flatnonzero(long[label])
    mine = mine[np.argsort(label[mine], kind="stable")]
    ends = np.flatnonzero(np.diff(label[mine], append=-1)) + 1
    for number, at in zip(np.flatnonzero(long), np.split(mine, ends[:-1]), strict=True):
        row, col = np.divmod(flat[at], cols)
        row, col = row - box.top[number], col - box.left[number]
        region = np.zeros((box.height[number], box.width[number]), dtype=bool)
        region[row, col] = True
        bodies, found = bodies_of(region)
        body = bodies[row, col]
        label[at[body > 0]] = len(long) + count - 1 + body[body > 0]
        count += found
    return label, count
