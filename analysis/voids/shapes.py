"""Shape of labelled regions, all regions at once."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from skimage.measure import label, regionprops

from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

_DIRECTIONS = 36
# A pixel is a disc of this radius when it counts for a width.
_HALF_PX = 0.5
# Variance of a pixel's own extent along each axis, px².
_PIXEL_VARIANCE = 1.0 / 12.0
_SET = SETTINGS.splitting


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pixels:
    """The pixels of all regions, sorted by region.

    Attributes
    ----------
    flat : ndarray of int64, (m,)
        Index into the flattened photo.
    label : ndarray of int32, (m,)
        0-based number of the region, ascending.
    count : int
        How many regions, n.
    image : ndarray of int32, (rows, cols)
        The labels they were listed from, 1 to n.
    """

    flat: NDArray[np.int64]
    label: NDArray[np.int32]
    count: int
    image: NDArray[np.int32]

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns of the photo."""
        return self.image.shape[0], self.image.shape[1]

    @property
    def row(self) -> NDArray[np.int64]:
        """Row of each pixel."""
        return self.flat // self.shape[1]

    @property
    def col(self) -> NDArray[np.int64]:
        """Column of each pixel."""
        return self.flat % self.shape[1]

    def total(self, values: NDArray[np.generic] | None = None) -> NDArray[np.float64]:
        """Sum values over the pixels of each region; without values, count."""
        summed = np.bincount(self.label, values, self.count)
        return summed.astype(np.float64)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shapes:
    """Shape figures, one per region.

    Attributes
    ----------
    row_px, col_px : ndarray of float64, (n,)
        Centroid.
    pixel_count : ndarray of float64, (n,)
        Whole pixels.
    elongation : ndarray of float64, (n,)
        Long over short axis of the ellipse of equal moments, 1 or more.
    angle_rad : ndarray of float64, (n,)
        Direction of the long axis from the column axis towards the row axis.
    feret_max_px, feret_min_px : ndarray of float64, (n,)
        Longest and shortest caliper width.
    solidity : ndarray of float64, (n,)
        Pixels over the convex hull, 0..1.
    support_px : ndarray of float64, (72, n)
        How far the region reaches from its centroid in each of 72 directions, from
        the column axis towards the row axis.
    """

    row_px: NDArray[np.float64]
    col_px: NDArray[np.float64]
    pixel_count: NDArray[np.float64]
    elongation: NDArray[np.float64]
    angle_rad: NDArray[np.float64]
    feret_max_px: NDArray[np.float64]
    feret_min_px: NDArray[np.float64]
    solidity: NDArray[np.float64]
    support_px: NDArray[np.float64]

    def thinness(self, area_px: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return how many times the regions go into discs as long as they are.

        Equals the axis ratio of an ellipse.

        Parameters
        ----------
        area_px : ndarray of float64, (n,)
            Of the regions, in whole px or of their boundaries.
        """
        return disc_px(self.feret_max_px) / area_px

    def windows(self, chosen: NDArray[np.intp]) -> list[tuple[slice, slice]]:
        """Rows and columns of some of the regions, by their 0-based numbers."""
        # Supports reach to the outer edges of px, half a px beyond their middles.
        reach = self.support_px[:: _DIRECTIONS // 2, chosen] - _HALF_PX
        middle = np.stack([self.col_px[chosen], self.row_px[chosen]])
        ends = np.rint([*(middle + reach[:2]), *(middle - reach[2:])]).astype(int)
        return [
            (slice(top, bottom + 1), slice(left, right + 1))
            for right, bottom, left, top in ends.T.tolist()
        ]


def disc_px(across_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the area of discs.

    Examples
    --------
    >>> disc_px(np.array([2.0])).round(3)
    array([3.142])
    """
    area: NDArray[np.float64] = np.pi / 4 * across_px**2
    return area


def region_pixels(labels: NDArray[np.int32], count: int) -> Pixels:
    """List the pixels of labels 1 to count, sorted by label.

    Examples
    --------
    >>> region_pixels(np.array([[0, 2], [1, 2]], np.int32), 2).flat
    array([2, 1, 3])
    """
    flat = np.flatnonzero(labels > 0)  # of truths far faster than of numbers
    label = labels.ravel()[flat] - 1
    order = np.argsort(label, kind="stable")
    return Pixels(flat=flat[order], label=label[order], count=count, image=labels)


def region_shapes(pixels: Pixels) -> Shapes:
    """Measure every region; each must have at least one pixel.

    Parameters
    ----------
    pixels : Pixels

    Returns
    -------
    Shapes

    Examples
    --------
    >>> square = np.zeros((9, 9), np.int32)
    >>> square[2:6, 3:7] = 1
    >>> shapes = region_shapes(region_pixels(square, 1))
    >>> float(shapes.row_px[0]), float(shapes.col_px[0])
    (3.5, 4.5)
    """
    size = pixels.total()
    row, col = pixels.row, pixels.col
    row_mean, col_mean = pixels.total(row) / size, pixels.total(col) / size
    off_row, off_col = row - row_mean[pixels.label], col - col_mean[pixels.label]
    row_var = pixels.total(off_row**2) / size + _PIXEL_VARIANCE
    col_var = pixels.total(off_col**2) / size + _PIXEL_VARIANCE
    both = pixels.total(off_row * off_col) / size
    # The covariance's eigenvalues are middle + swing and middle - swing: the squares of
    # the ellipse's half axes, but for one factor.
    middle, swing = (row_var + col_var) / 2, np.hypot((col_var - row_var) / 2, both)
    support = _supports(pixels, off_row, off_col)
    width = support[:_DIRECTIONS] + support[_DIRECTIONS:]
    return Shapes(
        row_px=row_mean,
        col_px=col_mean,
        pixel_count=size,
        elongation=np.sqrt((middle + swing) / (middle - swing)),
        angle_rad=0.5 * np.arctan2(2 * both, col_var - row_var),
        feret_max_px=width.max(axis=0),
        feret_min_px=width.min(axis=0),
        solidity=np.minimum(size / _hull_area(support), 1.0),
        support_px=support,
    )


def labelled(mask: NDArray[np.bool_]) -> tuple[NDArray[np.int32], int]:
    """Return the 8-connected regions of a mask, numbered from 1.

    Examples
    --------
    >>> labelled(np.eye(3, dtype=bool))[1]
    1
    """
    labels, count = label(mask, connectivity=2, return_num=True)
    return labels.astype(np.int32), int(count)


def on_boundary(pixels: Pixels) -> NDArray[np.bool_]:
    """Tell which pixels have a 4-neighbour outside their region."""
    rows, cols = pixels.shape
    row, col = pixels.row, pixels.col
    image = pixels.image.ravel()
    outside = (row == 0) | (row == rows - 1) | (col == 0) | (col == cols - 1)
    # Px at the photo's edge are left out: no step below leaves the picture or its row.
    inner = np.flatnonzero(~outside)
    at, own = pixels.flat[inner], pixels.label[inner] + 1
    for step in (1, -1, cols, -cols):
        outside[inner] |= image[at + step] != own
    return np.asarray(outside, dtype=bool)


def edged(region: NDArray[np.bool_]) -> NDArray[np.uint8]:
    """Return a region as 0 and 1 with an empty px all round.

    Examples
    --------
    >>> edged(np.ones((1, 2), bool)).tolist()
    [[0, 0, 0, 0], [0, 1, 1, 0], [0, 0, 0, 0]]
    """
    # By hand: of small arrays this takes a twentieth of np.pad's time.
    around = np.zeros((region.shape[0] + 2, region.shape[1] + 2), dtype=np.uint8)
    around[1:-1, 1:-1] = region
    return around


def inscribed_px(
    labels: NDArray[np.int32], chosen: NDArray[np.intp], shapes: Shapes
) -> NDArray[np.float64]:
    """Diameter of the largest disc inside some of the regions.

    Parameters
    ----------
    labels : ndarray of int32, (rows, cols)
        Regions 1 to n.
    chosen : ndarray of intp, (m,)
        0-based regions.
    shapes : Shapes
        Of all regions.

    Returns
    -------
    ndarray of float64, (m,)
        px.

    Examples
    --------
    >>> bar = np.zeros((20, 40), np.int32)
    >>> bar[5:12, 3:37] = 1
    >>> shapes = region_shapes(region_pixels(bar, 1))
    >>> float(inscribed_px(bar, np.array([0]), shapes)[0])
    7.0
    """
    widest = np.zeros(len(chosen))
    for at, (number, window) in enumerate(
        zip(chosen, shapes.windows(chosen), strict=True)
    ):
        inside = edged(labels[window] == number + 1)
        away = cv2.distanceTransform(inside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
        # From the centre of a px of the region to that of the nearest one outside.
        widest[at] = 2.0 * float(away.max()) - 1.0
    return widest


def plump(
    labels: NDArray[np.int32], chosen: NDArray[np.intp], shapes: Shapes
) -> NDArray[np.bool_]:
    """Tell which of some long regions have a body, as a crack has nowhere.

    A pit seen at a grazing angle is up to 4.6 times as long as wide on real faces, a
    chain of pits is wide at each of them; a crack is as narrow all along.

    Parameters
    ----------
    labels : ndarray of int32, (rows, cols)
        Regions 1 to n.
    chosen : ndarray of intp, (m,)
        0-based regions.
    shapes : Shapes
        Of all regions.

    Returns
    -------
    ndarray of bool, (m,)
    """
    widest = inscribed_px(labels, chosen, shapes)
    return np.asarray(shapes.feret_max_px[chosen] < _SET.plump_discs * widest)


def outlines(labels: NDArray[np.int32], count: int) -> tuple[NDArray[np.float64], ...]:
    """Outline of each of the labels 1 to count as a polygon, (row, col).

    Examples
    --------
    >>> square = np.zeros((9, 9), np.int32)
    >>> square[2:6, 3:7] = 1
    >>> outlines(square, 1)[0].shape
    (4, 2)
    """
    apart = labels > 0
    # A thin cut between touching regions keeps their outlines apart: no px stays that
    # has another region to its left or above it, over corners too, since contours are
    # followed over these.
    flat, cols = np.flatnonzero(apart), labels.shape[1]
    row, col = np.divmod(flat, cols)
    for down, right in ((0, -1), (-1, 0), (-1, -1), (-1, 1)):
        at = flat[(row + down >= 0) & (col + right >= 0) & (col + right < cols)]
        beside = labels.ravel()[at + down * cols + right]
        cut = (beside != 0) & (beside != labels.ravel()[at])
        apart.ravel()[at[cut]] = False
    best: list[NDArray[np.float64] | None] = [None] * count
    for line in _contours(apart):
        number = int(labels[int(line[0, 0]), int(line[0, 1])]) - 1
        kept = best[number]
        if kept is None or len(line) > len(kept):
            best[number] = line
    if any(line is None for line in best):  # all of a region may lie beside others
        for region in regionprops(labels):
            if best[region.label - 1] is None:
                rims = _contours(np.asarray(region.image, dtype=np.bool_))
                best[region.label - 1] = max(rims, key=len) + region.bbox[:2]
    return tuple(np.empty((0, 2)) if line is None else line for line in best)


def _contours(mask: NDArray[np.bool_]) -> list[NDArray[np.float64]]:
    """Follow the outer rims of all connected regions, also of those inside others."""
    # In two levels, what has a parent is the rim of a hole.
    found, above = cv2.findContours(
        mask.astype(np.uint8), cv2.RETR_CCOMP, cv2.CHAIN_APPROX_SIMPLE
    )
    return [
        line[:, 0, ::-1].astype(np.float64)
        for line, parent in zip(
            found, above[0, :, 3] if len(found) else (), strict=True
        )
        if parent < 0
    ]


def _supports(
    pixels: Pixels, off_row: NDArray[np.float64], off_col: NDArray[np.float64]
) -> NDArray[np.float64]:
    """How far each region reaches from its centroid, direction by direction."""
    edge = on_boundary(pixels)
    label, row, col = pixels.label[edge], off_row[edge], off_col[edge]
    # Only boundary px can reach furthest. They are sorted by region: one reduction from
    # start to start serves all regions at once.
    starts = np.searchsorted(label, np.arange(pixels.count))
    ahead = np.empty((2 * _DIRECTIONS, pixels.count))
    if pixels.count == 0:
        return ahead
    for at in range(_DIRECTIONS):
        angle = at * np.pi / _DIRECTIONS
        along = col * np.cos(angle) + row * np.sin(angle)
        ahead[at] = np.maximum.reduceat(along, starts) + _HALF_PX
        ahead[at + _DIRECTIONS] = _HALF_PX - np.minimum.reduceat(along, starts)
    return ahead


def _hull_area(support: NDArray[np.float64]) -> NDArray[np.float64]:
    """Area of the polygon whose sides lie at the supports."""
    turn = np.pi / _DIRECTIONS
    # A side's length follows from its support and those beside it; half the sum of side
    # times support is the area of a polygon.
    beside = np.roll(support, 1, axis=0) + np.roll(support, -1, axis=0)
    side = beside - 2 * support * np.cos(turn)
    area: NDArray[np.float64] = (support * side).sum(axis=0) / (2 * np.sin(turn))
    return area
