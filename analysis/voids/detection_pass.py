"""One search for dark candidates of one range of sizes, band by band."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.background import (
    Background,
    background_light,
    background_noise,
    spread_at,
    spread_strips,
)
from analysis.voids.bodies import bodies_of_long
from analysis.voids.boundary import boundary_margin, deep_pixels
from analysis.voids.components import boxes, components
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from analysis.voids.components import Boxes

_SET = SETTINGS.passes
# Px looked at together, for the memory; no result depends on it.
_BAND_PX = 4_000_000
_KERNEL = np.ones((3, 3), np.uint8)


@dataclass(frozen=True, slots=True, kw_only=True)
class DetectionPass:
    """One search on the photo reduced by `step`.

    Attributes
    ----------
    step : int
        Reduction.
    cell_px : int
        Background cell, reduced px.
    least_px, most_px : float
        Longest side of the candidates it takes, reduced px.
    keep_share, keep_sigmas : float
        A candidate is kept when its darkest part is darker than its background by
        this share and by this many times the noise.
    keep_faint_sigmas : float
        The same of a faint one.
    softest_px : float
        Candidates of a usual cell with a wider edge than this, or than a part of their
        size, are left to the stains.
    """

    step: int
    cell_px: int
    least_px: float
    most_px: float
    keep_share: float = _SET.keep_depth
    keep_sigmas: float = _SET.keep_sigmas
    keep_faint_sigmas: float = _SET.keep_faint_sigmas
    softest_px: float = _SET.softest_edge_px


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PassResult:
    """What a scan found, on its reduced photo.

    Attributes
    ----------
    flat : ndarray of int64, (m,)
        Px of candidates, as indices into the flattened photo, in no order. A picture of
        them would cost more than finding them on a face with few.
    label : ndarray of int32, (m,)
        Their candidates, 1 to n.
    margin : ndarray of float32, (rows, cols), or None
        How far inside a boundary, for candidates and the px that touch them; kept on
        reduced photos only.
    figures : ndarray of float64, (n, 5)
        Area px², depth, noise, edge width px, background light of each candidate.
    dim : ndarray of bool, (rows, cols)
        Everything darker than the look level.
    background : Background
    noise : float
        Median noise of the background.
    """

    flat: NDArray[np.int64]
    label: NDArray[np.int32]
    margin: NDArray[np.float32] | None
    figures: NDArray[np.float64]
    dim: NDArray[np.bool_]
    background: Background
    noise: float

    @property
    def labels(self) -> NDArray[np.int32]:
        """Picture of the candidates, 0 where there is none."""
        picture = np.zeros(self.dim.shape, dtype=np.int32)
        picture.ravel()[self.flat] = self.label
        return picture


def run_pass(
    light: NDArray[np.float32], face: NDArray[np.bool_] | None, scan: DetectionPass
) -> PassResult:
    """Search a photo, already reduced, for candidates of the scan's sizes.

    Bands overlap by more than the largest candidate, and each candidate belongs to the
    band in which it begins, so that bands leave no seam.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    face : ndarray of bool, (rows, cols), or None
        Measured pixels; None takes all.
    scan : DetectionPass

    Returns
    -------
    PassResult
    """
    background = background_light(light, face, scan.cell_px)
    noise = _noise(light, face, background)
    least_noise = float(noise.min())
    entered = [_Entered.none()]
    dim = np.zeros(light.shape, dtype=bool)
    margin = np.zeros(light.shape, np.float32) if scan.step > 1 else None
    for band in _bands(light.shape, scan.most_px):
        part = _Band.cut(light, face, background, noise, band)
        deep = deep_pixels(part.depth, part.noise_at, least_noise)
        looked = np.zeros(part.depth.shape, dtype=bool)
        looked.ravel()[deep.flat] = True
        dim[band.inner] = looked[band.core]
        edge = boundary_margin(part.depth, deep, part.noise_at, part.face, scan.most_px)
        if margin is not None:
            margin[band.inner] = edge[band.core]
        count = sum(len(some.figures) for some in entered)
        entered.append(_enter(count, part, edge, scan))
    if face is not None:
        dim &= face
    return PassResult(
        flat=np.concatenate([some.flat for some in entered]),
        label=np.concatenate([some.label for some in entered]),
        margin=margin,
        figures=np.concatenate([some.figures for some in entered]),
        dim=dim,
        background=background,
        noise=float(np.median(noise)),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Band:
    """Some rows of the photo with what surrounds them.

    Attributes
    ----------
    top : int
        First row of the band with its overlap.
    core : slice
        Rows of the band itself, within the overlap.
    """

    top: int
    core: slice
    depth: NDArray[np.float32]
    face: NDArray[np.bool_] | None
    background: Background
    noise: NDArray[np.float32]

    @classmethod
    def cut(
        cls,
        light: NDArray[np.float32],
        face: NDArray[np.bool_] | None,
        background: Background,
        noise: NDArray[np.float32],
        band: _Rows,
    ) -> _Band:
        """Level one band."""
        part = light[band.outer]
        depth = np.empty(part.shape, np.float32)
        blackest = SETTINGS.background.blackest_light
        # Between cells the light is nowhere less than the least of them, but for
        # rounding, for which twice is ample.
        has_black = bool(background.cells.min() < 2 * blackest)
        for where, base in spread_strips(
            background.cells, background.shape, band.outer
        ):
            strip = depth[where]
            np.divide(part[where], base, out=strip)
            np.subtract(1.0, strip, out=strip)
            if has_black:
                strip[base <= blackest] = 0.0
        return cls(
            top=band.outer.start,
            core=band.core,
            depth=depth,
            face=None if face is None else face[band.outer],
            background=background,
            noise=noise,
        )

    def noise_at(self, flat: NDArray[np.intp]) -> NDArray[np.float32]:
        """Noise of the background at px of the band, by their index."""
        row, col = np.divmod(flat, self.depth.shape[1])
        return spread_at(self.noise, self.background.shape, row + self.top, col)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Rows:
    """Rows of a band: its own in the photo, with overlap, and own within that."""

    inner: slice
    outer: slice
    core: slice


def _bands(shape: tuple[int, ...], most_px: float) -> Iterator[_Rows]:
    rows, cols = shape[0], shape[1]
    # Whole blocks, so that every band sees the grid one band over all would see.
    block = SETTINGS.boundary.block_px
    # Room for the longest candidate and for all that is looked at around it.
    overlap = -(-(2 * int(most_px) + 8) // block) * block
    tall = max(2 * overlap, _BAND_PX // cols // block * block)
    for start in range(0, rows, tall):
        stop = min(rows, start + tall)
        above, below = max(0, start - overlap), min(rows, stop + overlap)
        yield _Rows(
            inner=slice(start, stop),
            outer=slice(above, below),
            core=slice(start - above, stop - above),
        )


def _noise(
    light: NDArray[np.float32], face: NDArray[np.bool_] | None, background: Background
) -> NDArray[np.float32]:
    """Noise of every second pixel each way, which is plenty."""
    thin = light[::2, ::2]
    shape = (thin.shape[0], thin.shape[1])
    depth = np.empty(shape, np.float32)
    for where, base in spread_strips(background.cells, shape):
        np.divide(thin[where], base, out=depth[where])
        np.subtract(1.0, depth[where], out=depth[where])
    if face is not None:
        depth[~face[::2, ::2]] = np.nan
    cells = background_noise(depth, SETTINGS.background.noise_cell_px // 2)
    most = SETTINGS.background.roughest_ratio * np.median(cells)
    return np.minimum(cells, most).astype(np.float32)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Entered:
    """Candidates of a band: their px in the photo, their labels, their figures."""

    flat: NDArray[np.int64]
    label: NDArray[np.int32]
    figures: NDArray[np.float64]

    @classmethod
    def none(cls) -> _Entered:
        """Return an empty list."""
        return cls(
            flat=np.empty(0, np.int64),
            label=np.empty(0, np.int32),
            figures=np.empty((0, 5)),
        )


def _enter(
    count: int, band: _Band, margin: NDArray[np.float32], scan: DetectionPass
) -> _Entered:
    """Take the candidates that begin in this band, numbered from `count` + 1."""
    shape = band.background.shape
    number, flat, label = components(margin > 0)
    box = boxes(flat, label, number, shape[1])
    label, bodies = bodies_of_long(flat, label, box, scan.most_px, shape[1])
    if bodies:
        number += bodies
        box = boxes(flat, label, number, shape[1])
    peak = np.zeros(number, dtype=np.float32)
    np.maximum.at(peak, label, band.depth.ravel()[flat])
    noise = _looked_up(band.noise, box, band.top, shape)
    side = np.maximum(box.width, box.height)
    first = box.top
    faint = peak < _SET.faint_depth
    sigmas = np.where(faint, scan.keep_faint_sigmas, scan.keep_sigmas)
    passes = (
        (peak > np.maximum(scan.keep_share, sigmas * noise))
        & (side >= scan.least_px)
        & (side <= scan.most_px)
        & (first >= band.core.start)
        & (first < band.core.stop)
    )
    passes[0] = False
    # Rims are worked out for what passes so far; softness is told by them.
    candidates = passes[label]
    area, edge = _rims(margin, band, flat[candidates], label[candidates], number)
    if scan.cell_px > _SET.fine_cell_px:
        softest = np.maximum(scan.softest_px, _SET.softest_edge_share * np.sqrt(area))
        passes &= edge < softest
    renumber = np.zeros(number, dtype=np.int32)
    renumber[passes] = count + 1 + np.arange(np.count_nonzero(passes))
    new = renumber[label]
    taken = new > 0
    base = _looked_up(band.background.cells, box, band.top, shape)
    figures: NDArray[np.float64] = np.stack([area, peak, noise, edge, base], axis=1)
    return _Entered(
        flat=flat[taken] + band.top * shape[1],
        label=new[taken],
        figures=np.asarray(figures[passes], dtype=np.float64),
    )


def _looked_up(
    cells: NDArray[np.float32],
    box: Boxes,
    top: int,
    shape: tuple[int, ...],
) -> NDArray[np.float32]:
    """Value of the cell under the middle of each component's box."""
    row = top + box.top + box.height / 2
    col = box.left + box.width / 2
    at_row = (row * cells.shape[0] / shape[0]).astype(np.intp)
    at_col = (col * cells.shape[1] / shape[1]).astype(np.intp)
    value: NDArray[np.float32] = cells[
        np.minimum(at_row, cells.shape[0] - 1), np.minimum(at_col, cells.shape[1] - 1)
    ]
    return value


def _rims(
    margin: NDArray[np.float32],
    band: _Band,
    core: NDArray[np.intp],
    core_label: NDArray[np.int32],
    number: int,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sub-pixel area of each candidate and the width of its edge.

    A pixel the boundary crosses counts by how far its centre is inside, measured
    along the slope. The edge width is the depth of the floor beside the boundary
    over the slope there; where the face ends, no edge shows.
    """
    depth = band.depth
    # OpenCV dilates no int32. Dilated labels give px that touch a candidate its label,
    # the larger one where two meet; the candidates' own px keep theirs.
    image = np.zeros(margin.shape, dtype=np.float32)
    image.ravel()[core] = core_label
    owner = cv2.dilate(image, _KERNEL)
    flat = np.flatnonzero(owner > 0)
    own = image.ravel()[flat]
    label = np.where(own > 0, own, owner.ravel()[flat]).astype(np.intp)
    rows, cols = margin.shape
    row, col = np.divmod(flat, cols)
    # The four neighbours of each px; at the photo's edge a px is its own.
    beside = (
        (row, np.minimum(col + 1, cols - 1)),
        (row, np.maximum(col - 1, 0)),
        (np.minimum(row + 1, rows - 1), col),
        (np.maximum(row - 1, 0), col),
    )
    right, left, down, up = (depth[at] for at in beside)
    slope = np.maximum(np.hypot(right - left, down - up) / 2, 1e-4)
    within = margin.ravel()[flat]
    # Margin over slope is how many px the boundary is away from the px's middle: half a
    # px outside covers nothing of it, half a px inside all.
    cover = np.clip(0.5 + within / slope, 0.0, 1.0)
    area = np.bincount(label, cover, number).astype(np.float64)
    outside = np.zeros(len(flat), dtype=bool)
    for at in beside:
        ends = margin[at] <= 0
        outside |= ends if band.face is None else ends & band.face[at]
    rim = np.flatnonzero((within > 0) & outside)
    # A ratio of sums: the ratios of single px have no bound where the rim is flat.
    steep = np.bincount(label[rim], slope[rim], number)
    level = np.bincount(label[rim], depth.ravel()[flat[rim]], number)
    return area, level / _SET.rim_level_share / np.maximum(steep, 1e-6)
