"""Part candidates that are several touching voids."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from skimage.segmentation import watershed

from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import edged, plump

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.shapes import Shapes

_SET = SETTINGS.splitting
_PEAK_WINDOW = np.ones((_SET.peak_window_px, _SET.peak_window_px), np.uint8)


def split_touching(
    labels: NDArray[np.int32],
    shapes: Shapes,
    in_patch: NDArray[np.bool_],
    left_whole: NDArray[np.bool_] | None = None,
) -> tuple[NDArray[np.int32], NDArray[np.intp]]:
    """Part dented regions at their necks by watershed on the distance inside.

    Parameters
    ----------
    labels : ndarray of int32, (rows, cols)
        Regions 1 to n.
    shapes : Shapes
        Of the regions.
    in_patch : ndarray of bool, (n,)
        Regions in honeycomb, which are lobed however long they are.
    left_whole : ndarray of bool, (n,), optional
        Regions that are not parted.

    Returns
    -------
    labels : ndarray of int32, (rows, cols)
        Regions 1 to m; a first part keeps its region's number.
    origin : ndarray of intp, (m,)
        0-based region each came from.

    Examples
    --------
    >>> from analysis.voids.shapes import region_pixels
    >>> from analysis.voids.shapes import region_shapes
    >>> two = np.zeros((20, 40), np.int32)
    >>> rows, cols = np.mgrid[:20, :40]
    >>> two[(rows - 10) ** 2 + (cols - 12) ** 2 < 49] = 1
    >>> two[(rows - 10) ** 2 + (cols - 25) ** 2 < 49] = 1
    >>> shapes = region_shapes(region_pixels(two, 1))
    >>> split_touching(two, shapes, np.zeros(1, bool))[1]
    array([0, 0])
    """
    count = len(shapes.solidity)
    origin = list(range(count))
    thin = shapes.thinness(shapes.pixel_count)
    dented = (shapes.solidity < _SET.dented_solidity) & (
        shapes.pixel_count >= _SET.least_area_px2
    )
    if left_whole is not None:
        dented &= ~left_whole
    long = np.flatnonzero(dented & (thin >= _SET.thinnest_ratio) & ~in_patch)
    dented[long] = plump(labels, long, shapes)
    suspects = np.flatnonzero(dented)
    if len(suspects) == 0:
        return labels, np.arange(count)
    labels = labels.copy()
    for number, where in zip(suspects, shapes.windows(suspects), strict=True):
        window = labels[where]
        parts, found = _parts(window == number + 1)
        for part in range(2, found + 1):
            origin.append(int(number))
            window[parts == part] = len(origin)
    return labels, np.array(origin, dtype=np.intp)


def _parts(region: NDArray[np.bool_]) -> tuple[NDArray[np.int32], int]:
    """Return the lobes of one region, numbered from 1."""
    inside = edged(region)
    away = np.asarray(cv2.distanceTransform(inside, cv2.DIST_L2, cv2.DIST_MASK_PRECISE))
    # A level ridge is a peak at each of its px; the merging below joins their basins.
    peak = away >= cv2.dilate(away, _PEAK_WINDOW)
    peak &= away > _SET.least_radius_px
    if np.count_nonzero(peak) < 2:  # noqa: PLR2004  most dented regions
        return region.astype(np.int32), 1
    peaks, distance = np.argwhere(peak), away.astype(np.float64)
    if _is_one_lobe(distance, peaks):
        return region.astype(np.int32), 1
    markers = np.zeros(distance.shape, dtype=np.int32)
    markers[tuple(peaks.T)] = np.arange(1, len(peaks) + 1)
    basins = watershed(-distance, markers, mask=inside > 0)
    merged, found = _merged(basins, distance, distance[tuple(peaks.T)])
    return merged[basins][1:-1, 1:-1], found


def _is_one_lobe(distance: NDArray[np.float64], peaks: NDArray[np.intp]) -> bool:
    """Tell without a watershed whether merging would leave one lobe for sure.

    From each peak a way leads to a higher one, nowhere narrower than the neck that
    joins two basins. The basins it goes through before it meets a higher peak than the
    one it began at are lower, so each that it leaves and enters are joined, wherever
    their border runs. Most dented regions are so; False is no answer.
    """
    at = tuple(peaks.T)
    heights = distance[at].tolist()
    for level in sorted(set(heights), reverse=True):
        wide = distance > _SET.neck_share * level
        # Borders are crossed between neighbours in a row or a column, as above.
        _, found = cv2.connectedComponents(wide.view(np.uint8), connectivity=4)
        parts = list(zip(heights, found[at].tolist(), strict=True))
        here = {part for height, part in parts if height == level}
        higher = {part for height, part in parts if height > level}
        if not here <= higher and (higher or len(here) > 1):
            return False
    return True


def _merged(
    basins: NDArray[np.int32],
    distance: NDArray[np.float64],
    peak: NDArray[np.float64],
) -> tuple[NDArray[np.int32], int]:
    """Join basins whose neck is hardly narrower than the smaller of the two."""
    firsts, seconds, necks = [], [], []
    # Each px beside its left and its upper neighbour: where basins differ, they meet.
    for one, other in (
        ((slice(None), slice(1, None)), (slice(None), slice(None, -1))),
        ((slice(1, None), slice(None)), (slice(None, -1), slice(None))),
    ):
        a, b = basins[one], basins[other]
        meet = (a != b) & (a > 0) & (b > 0)
        firsts.append(a[meet] - 1)
        seconds.append(b[meet] - 1)
        necks.append(np.minimum(distance[one][meet], distance[other][meet]))
    first, second = np.concatenate(firsts), np.concatenate(seconds)
    # A pair in one number. Its neck is the widest place of all the border it shares.
    pair = np.minimum(first, second) * len(peak) + np.maximum(first, second)
    pairs, where = np.unique(pair, return_inverse=True)
    neck = np.zeros(len(pairs))
    np.maximum.at(neck, where, np.concatenate(necks))
    a, b = np.divmod(pairs, len(peak))
    join = neck > _SET.neck_share * np.minimum(peak[a], peak[b])
    # Basins are few: a list is faster than a graph. Each group goes by its first basin.
    group = list(range(len(peak)))
    for one, other in zip(a[join].tolist(), b[join].tolist(), strict=True):
        first_of, last_of = sorted((group[one], group[other]))
        group = [first_of if of == last_of else of for of in group]
    groups, number = np.unique(group, return_inverse=True)
    return np.concatenate([[0], number + 1]).astype(np.int32), len(groups)
