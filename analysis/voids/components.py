"""Connected regions of a mask, as a list of their px, and the boxes around them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components

if TYPE_CHECKING:
    from numpy.typing import NDArray

# OpenCV goes through every px of a picture, the runs below only through those that
# hold: on smaller pictures, and from one run in so many px on, OpenCV is faster.
_SMALL_PX = 3_000_000
_PX_A_RUN = 100


def components(
    mask: NDArray[np.bool_],
) -> tuple[int, NDArray[np.intp], NDArray[np.int32]]:
    """List the px of the 8-connected regions of a mask, numbered from 1.

    Parameters
    ----------
    mask : ndarray of bool, (rows, cols)

    Returns
    -------
    count : int
        Regions and one for the background, as OpenCV counts.
    flat : ndarray of intp, (m,)
        Index of each px of a region into the flattened mask, ascending.
    label : ndarray of int32, (m,)
        Number of its region, 1 to `count` - 1, in no order to rely on.

    Examples
    --------
    >>> components(np.eye(3, dtype=bool))[1:]
    (array([0, 4, 8]), array([1, 1, 1], dtype=int32))
    """
    flat = np.flatnonzero(mask)
    if mask.size >= _SMALL_PX:
        row = flat // mask.shape[1]
        # A run ends where the next px is not beside it, or in another row.
        ends = np.flatnonzero((np.diff(flat) != 1) | (np.diff(row) != 0))
        if len(ends) * _PX_A_RUN < mask.size and len(flat):
            start = np.concatenate([[0], ends + 1])
            end = np.concatenate([ends, [len(flat) - 1]])
            count, group = _joined_runs(flat, row, start, end, mask.shape[1])
            label = np.repeat(group + 1, end - start + 1)
            return count + 1, flat, label.astype(np.int32)
    count, found = cv2.connectedComponents(mask.view(np.uint8), connectivity=8)
    return count, flat, np.asarray(found, dtype=np.int32).ravel()[flat]


def _joined_runs(
    flat: NDArray[np.intp],
    row: NDArray[np.intp],
    start: NDArray[np.intp],
    end: NDArray[np.intp],
    cols: int,
) -> tuple[int, NDArray[np.int32]]:
    """Join runs that touch those of the next row, by their first and last px."""
    # With one empty column on each side no run touches the other end of a row.
    first = flat[start] + 2 * row[start] + 1
    last = flat[end] + 2 * row[end] + 1
    below = cols + 2
    # Runs and what touches them lie in order: those from the first that ends no sooner
    # than one px before this run, to the last that begins no later than one px behind.
    low = np.searchsorted(last, first + below - 1)
    high = np.searchsorted(first, last + below + 1, side="right")
    met = high - low
    # All pairs as two lists: each run `met` times, beside it `low`, `low` + 1 and so
    # on, which is the place in the list less that of the run's first pair, plus `low`.
    upper = np.repeat(np.arange(len(first)), met)
    lower = np.arange(len(upper)) + np.repeat(low - np.cumsum(met) + met, met)
    graph = coo_matrix(
        (np.ones(len(upper), dtype=np.int8), (upper, lower)),
        shape=(len(first), len(first)),
    )
    count, group = connected_components(graph, directed=False)
    return int(count), np.asarray(group, dtype=np.int32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Boxes:
    """Upright boxes around regions, one entry a region; whole px.

    Attributes
    ----------
    top, left, height, width : ndarray of int64, (n,)
        0 for a region without px.
    """

    top: NDArray[np.int64]
    left: NDArray[np.int64]
    height: NDArray[np.int64]
    width: NDArray[np.int64]


def boxes(
    flat: NDArray[np.intp], label: NDArray[np.int32], count: int, cols: int
) -> Boxes:
    """Return the box of each of `count` labels, from the list of their px.

    Where few px are labelled this costs a fraction of OpenCV's statistics, which go
    through the whole picture.

    Parameters
    ----------
    flat : ndarray of intp, (m,)
        Index of each px into the flattened picture, ascending.
    label : ndarray of int32, (m,)
        0 to `count` - 1.
    count, cols : int
        Labels; columns of the picture.

    Returns
    -------
    Boxes

    Examples
    --------
    >>> of = boxes(np.array([1, 5, 6]), np.array([1, 1, 1], np.int32), 2, 4)
    >>> int(of.top[1]), int(of.left[1]), int(of.height[1]), int(of.width[1])
    (0, 1, 2, 2)
    """
    row, col = np.divmod(flat, cols)
    top, bottom = np.zeros(count, np.int64), np.full(count, -1, np.int64)
    top[label[::-1]] = row[::-1]  # of all rows written, the last one stays
    bottom[label] = row
    # Rows come in order, columns do not.
    left, right = np.full(count, cols, np.int64), np.full(count, -1, np.int64)
    np.minimum.at(left, label, col)
    np.maximum.at(right, label, col)
    left[right < 0] = 0
    return Boxes(top=top, left=left, height=bottom - top + 1, width=right - left + 1)
