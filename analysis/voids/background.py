"""The light a face would show without voids, and how much it varies."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.robust import MAD_TO_SD, robust_sd
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

# Most rows of a strip: a few rows of a photo stay in the processor's own memory.
_STRIP_ROWS = 16
_SET = SETTINGS.background


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Background:
    """Background light on cells of the photo.

    Attributes
    ----------
    cells : ndarray of float32, (cell rows, cell cols)
        Background light, linear, more than 0.
    cell_px : int
        Side of a cell.
    shape : tuple of int
        Rows and columns of the photo.
    """

    cells: NDArray[np.float32]
    cell_px: int
    shape: tuple[int, int]

    def spread(self) -> NDArray[np.float32]:
        """Interpolate the background to every pixel of the photo."""
        return spread(self.cells, self.shape)


def spread(
    values: NDArray[np.float32],
    shape: tuple[int, int],
    rows: slice | None = None,
) -> NDArray[np.float32]:
    """Interpolate cell values linearly to `shape`, or to some of its rows.

    Examples
    --------
    >>> spread(np.ones((2, 2), np.float32), (4, 6), slice(1, 3)).shape
    (2, 6)
    """
    mixed = np.empty((len(range(shape[0])[rows or slice(None)]), shape[1]), np.float32)
    for where, strip in spread_strips(values, shape, rows):
        mixed[where] = strip
    return mixed


def spread_strips(
    values: NDArray[np.float32],
    shape: tuple[int, int],
    rows: slice | None = None,
) -> Iterator[tuple[slice, NDArray[np.float32]]]:
    """Interpolate as `spread`, a few rows at a time.

    What is made of a strip at once costs a fraction of what going through pictures of
    the photo's size again and again does.

    Yields
    ------
    where : slice
        Rows of the strip, among those asked for.
    strip : ndarray of float32, (rows of the strip, columns)
        Valid until the next one is asked for.

    Examples
    --------
    >>> [at.stop for at, _ in spread_strips(np.ones((2, 2), np.float32), (40, 6))]
    [16, 30, 32, 40]
    """
    across, above, below, part = _between(values, shape)
    chosen = rows or slice(None)
    above, below, part = above[chosen], below[chosen], part[chosen, None]
    # All rows of a strip lie between the same two rows of cells.
    starts = np.union1d(
        np.flatnonzero(np.diff(above)) + 1, np.arange(0, len(above), _STRIP_ROWS)
    )
    # One buffer for all strips stays in the processor's memory; the next strip is
    # written over the last.
    buffer = np.empty((_STRIP_ROWS, shape[1]), np.float32)
    for first, last in pairwise([*starts.tolist(), len(above)]):
        upper, strip = across[above[first]], buffer[: last - first]
        np.multiply(part[first:last], across[below[first]] - upper, out=strip)
        np.add(upper, strip, out=strip)
        yield slice(first, last), strip


def spread_at(
    values: NDArray[np.float32],
    shape: tuple[int, int],
    row: NDArray[np.intp],
    col: NDArray[np.intp],
) -> NDArray[np.float32]:
    """Interpolate as `spread`, at some px only.

    Examples
    --------
    >>> cells = np.array([[0.0, 1.0]], np.float32)
    >>> float(spread_at(cells, (4, 4), np.array([2]), np.array([3]))[0])
    1.0
    """
    across, above, below, part = _between(values, shape)
    upper = across[above[row], col]
    mixed: NDArray[np.float32] = upper + part[row] * (across[below[row], col] - upper)
    return mixed


def _between(
    values: NDArray[np.float32], shape: tuple[int, int]
) -> tuple[
    NDArray[np.float32], NDArray[np.intp], NDArray[np.intp], NDArray[np.float32]
]:
    """Cell values on all columns; of each row the cells about it, and its part."""
    tall, wide = shape
    # Linear interpolation goes axis by axis: OpenCV stretches the few rows of cells
    # over all columns, and of two of these rows each row of the photo is mixed.
    across = cv2.resize(values, (wide, values.shape[0]), interpolation=cv2.INTER_LINEAR)
    at = np.arange(tall, dtype=np.float32)
    # Values stand for the middles of cells, as in OpenCV, hence the halves; beyond the
    # outermost middles they stay the same.
    cell = np.clip((at + 0.5) * (values.shape[0] / tall) - 0.5, 0, values.shape[0] - 1)
    above = cell.astype(np.intp)
    below = np.minimum(above + 1, values.shape[0] - 1)
    return (
        np.asarray(across, dtype=np.float32),
        above,
        below,
        (cell - above).astype(np.float32),
    )


def background_light(
    light: NDArray[np.float32], face: NDArray[np.bool_] | None, cell_px: int
) -> Background:
    """Level the light: median over 5 x 5 cells of the mean light of each cell.

    A void or stain that fills less than half of the window (about four cells
    across) does not pull the background.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    face : ndarray of bool, (rows, cols), or None
        Measured pixels; None takes all. Others never enter.
    cell_px : int
        Side of a cell, px.

    Returns
    -------
    Background

    Examples
    --------
    >>> flat = np.full((60, 80), 0.5, np.float32)
    >>> flat[30:33, 40:43] = 0.0
    >>> float(background_light(flat, None, 4).cells.min())
    0.5
    """
    rows, cols = light.shape
    size = (max(1, -(-cols // cell_px)), max(1, -(-rows // cell_px)))
    # Reducing by area is the mean of each cell; with left-out px, the mean of light
    # times face over that of face, so that what lies outside never enters.
    if face is None:
        cells = np.asarray(
            cv2.resize(light, size, interpolation=cv2.INTER_AREA), dtype=np.float32
        )
    else:
        weight = cv2.resize(face.astype(np.float32), size, interpolation=cv2.INTER_AREA)
        inside = cv2.resize(light * face, size, interpolation=cv2.INTER_AREA)
        cells = _fill(
            np.asarray(inside, dtype=np.float32), np.asarray(weight, dtype=np.float32)
        )
    smooth = cv2.GaussianBlur(
        _median(cells, _SET.median_cells),
        (0, 0),
        _SET.smoothing_cells,
        borderType=cv2.BORDER_REPLICATE,
    )
    return Background(
        cells=np.maximum(smooth, _SET.darkest_light),
        cell_px=cell_px,
        shape=light.shape,
    )


def _fill(
    inside: NDArray[np.float32], weight: NDArray[np.float32]
) -> NDArray[np.float32]:
    """Give cells without face the light of the nearest cell that has some."""
    known = weight > _SET.least_cell_face_share
    if not known.any():
        known = weight >= weight.max()
    cells = np.where(known, inside / np.maximum(weight, 1e-6), 0).astype(np.float32)
    if known.all():
        return cells
    # The transform numbers the known cells and gives each other cell the number of its
    # nearest; a table from number to light then fills all of them in one reading.
    _, nearest = cv2.distanceTransformWithLabels(
        (~known).astype(np.uint8),
        cv2.DIST_L2,
        5,
        labelType=cv2.DIST_LABEL_PIXEL,
    )
    value_of = np.zeros(int(nearest.max()) + 1, dtype=np.float32)
    value_of[nearest[known]] = cells[known]
    filled: NDArray[np.float32] = value_of[nearest]
    return filled


def background_noise(depth: NDArray[np.float32], side: int) -> NDArray[np.float32]:
    """Estimate how much a void-free background varies, cell by cell.

    Parameters
    ----------
    depth : ndarray of float32, (rows, cols)
        1 - light / background; NaN outside the face.
    side : int
        Side of a cell, px.

    Returns
    -------
    ndarray of float32, (cell rows, cell cols)
        Standard deviation from the median absolute deviation, which voids of a
        few percent do not move; at least what 8 bits noise.

    Examples
    --------
    >>> noisy = np.random.default_rng(1).normal(0, 0.02, (256, 256))
    >>> bool(abs(background_noise(noisy.astype(np.float32), 32).mean() - 0.02) < 0.002)
    True
    """
    # Seen as (cell row, row in it, cell col, col in it), then with the px of a cell in
    # one axis: one median along it serves all cells.
    rows, cols = depth.shape[0] // side, depth.shape[1] // side
    if min(rows, cols) == 0:
        return _mad(depth.reshape(1, 1, -1))
    blocks = depth[: rows * side, : cols * side].reshape(rows, side, cols, side)
    cells = _mad(blocks.transpose(0, 2, 1, 3).reshape(rows, cols, side * side))
    return _median(cells, _SET.noise_median_cells)


def _median(cells: NDArray[np.float32], side: int) -> NDArray[np.float32]:
    """Median over `side` x `side` cells; the outermost are continued outwards."""
    more = side // 2
    # Of float32, OpenCV's median takes sides of 3 and 5 only.
    edged = cv2.copyMakeBorder(cells, more, more, more, more, cv2.BORDER_REPLICATE)
    return np.asarray(cv2.medianBlur(edged, side)[more:-more, more:-more])


def _spread_of(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Median absolute deviation along the last axis, all finite; sorts them in place.

    NumPy's medians would put the deviations in order anew.
    """
    samples.sort(axis=-1)
    half = samples.shape[-1] // 2
    # An even count has two in the middle.
    ranks = [half] if samples.shape[-1] % 2 else [half - 1, half]
    middle = samples[..., ranks].mean(axis=-1, keepdims=True)
    # The so many values nearest to the middle lie side by side, and the farthest of
    # them is the first or the last: of all such stretches, the one that reaches least.
    off = np.subtract(samples, middle, out=samples)
    reach = [
        np.maximum(-off[..., : off.shape[-1] - rank], off[..., rank:]).min(axis=-1)
        for rank in ranks
    ]
    return np.asarray(np.mean(reach, axis=0))


def _mad(samples: NDArray[np.float32]) -> NDArray[np.float32]:
    """Robust spread along the last axis; cells with few samples take the others'."""
    spread_of = np.zeros(samples.shape[:-1], dtype=np.float64)
    known = np.count_nonzero(np.isfinite(samples), axis=-1)
    full = known == samples.shape[-1]
    part = (known >= _SET.fewest_noise_px) & ~full
    # Cells wholly of face, most of them, take the faster median; in those that the
    # face's edge cuts NaN is passed over.
    if full.any():
        spread_of[full] = MAD_TO_SD * _spread_of(samples[full])
    if part.any():
        some = samples[part]
        some -= np.nanmedian(some, axis=-1, keepdims=True)
        spread_of[part] = MAD_TO_SD * np.nanmedian(np.abs(some), axis=-1)
    measured = full | part
    if not measured.any():
        # No cell has enough px: all px together give one spread.
        values = samples[np.isfinite(samples)]
        if len(values) > 0:
            spread_of[...] = robust_sd(values)
    else:
        spread_of[~measured] = np.median(spread_of[measured])
    return np.maximum(spread_of, _SET.least_noise_share).astype(np.float32)
