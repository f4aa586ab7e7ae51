"""Two photos laid on each other to a part of a px, block by block.

Colour looks alike in both photos, relief turns its sign with the lamp. Where light
changes little, relief h under lamps a and b shows as the slopes of h along a and b, so
each frequency of the cross spectrum of a block is a real number, positive or negative,
times the phase of the shift. Squared, the sign is gone and the phase is doubled: colour
and relief then pull the same way, at twice the shift. Pits, which show shadow and not
slope, are cut out first.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy import fft, ndimage

from analysis.robust import MAD_TO_SD, median

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.float32]
    Points = NDArray[np.float64]

_FEWEST = 4
# Beyond this (log), or this many times the usual spread, a px belongs to a pit or mark.
_MARK_LOG, _MARK_SPREADS = 0.15, 4.0
_MOST_CUT, _LEAST_SHARED = 0.6, 0.98
# Band of frequencies: cycles per block at the low end, per px at the high end.
_SLOWEST, _FASTEST = 2.5, 0.2
# Peaks lower than this many sigmas of their surface say nothing.
LEAST_PEAK, _MOST_WEIGHT = 3.5, 6.0
# Pull towards 0 of the eight parameters, in the order of `_terms`: shifts are free, the
# four slopes are held a little, the two of perspective most.
_RIDGE = 0.002 * np.array([0, 1, 1, 0, 1, 1, 3, 3], dtype=np.float64)
_FIT_ROUNDS, _FITTED = 8, 8


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surfaces:
    """How well each block fits at each shift.

    Attributes
    ----------
    at : ndarray of float64, (n, 2)
        Centres of the blocks, (x, y) px of the first photo.
    fit : ndarray of float32, (n, side, side)
        In sigmas of the whole surface; the middle is no shift, a step is half a px.
    """

    at: Points
    fit: NDArray[np.float32]

    @property
    def reach_px(self) -> float:
        """Largest shift looked at."""
        return float(self.fit.shape[1] - 1) / 4


def surfaces(
    first: Plane,
    second: Plane,
    matrix: Points,
    inside: NDArray[np.bool_],
    *,
    block_px: int,
    stride_px: int,
    reach_px: int,
) -> Surfaces | None:
    """Lay the second photo on the first and compare block by block.

    Parameters
    ----------
    first, second : ndarray of float32, (rows, cols)
        Log of the light over the local light.
    matrix : ndarray of float64, (3, 3)
        From (x, y, 1) px of the first to the second, so far.
    inside : ndarray of bool, (rows, cols)
        Where `first` shows the face.
    block_px, stride_px : int
        Side and distance of the blocks.
    reach_px : int
        Largest shift looked at.

    Returns
    -------
    Surfaces or None
        None where fewer than four blocks can be compared.
    """
    rows, cols = first.shape
    laid, shared = laid_on(second, matrix, (rows, cols))
    shared &= inside
    cut = cv2.dilate(
        (_marks(first) | _marks(laid) | ~shared).astype(np.uint8), np.ones((7, 7))
    )
    here, there = np.where(cut, 0, first), np.where(cut, 0, laid)
    at, sides = [], []
    usual = _LEAST_SHARED if inside.all() else _MOST_CUT
    for top in range(0, rows - block_px + 1, stride_px):
        for left in range(0, cols - block_px + 1, stride_px):
            box = slice(top, top + block_px), slice(left, left + block_px)
            if shared[box].mean() < usual or cut[box].mean() > _MOST_CUT:
                continue
            at.append((left + (block_px - 1) / 2, top + (block_px - 1) / 2))
            sides.append((here[box], there[box]))
    if len(at) < _FEWEST:
        return None
    # Hann's window (von Hann): without it the jump between opposite sides of a block,
    # which the FFT takes for neighbours, would answer at no shift.
    window = np.outer(np.hanning(block_px), np.hanning(block_px)).astype(np.float32)
    # All in single precision, which halves the time and leaves a hundredth of a px.
    spectra = fft.rfft2(np.array(sides, dtype=np.float32) * window)
    # spectra: (n, 2 photos, block, block // 2 + 1). Over the mean power of both, a
    # frequency that only one photo has weighs little; the unit phase alone, as in phase
    # correlation, would weigh all noise alike.
    cross = spectra[:, 0] * np.conj(spectra[:, 1])
    power = (np.abs(spectra) ** 2).mean(axis=1)
    doubled = cross * cross / np.maximum(np.abs(cross) * power, 1e-12)
    fit = fft.irfft2(doubled * _band(block_px), s=(block_px, block_px))
    fit /= np.maximum(fit.std(axis=(1, 2), keepdims=True), 1e-12)
    # The FFT puts shifts below 0 at the end: rolled, no shift lies in the middle. At
    # twice the shift, half a step of px is told, and +-reach takes 4 reach + 1.
    side = 4 * reach_px + 1
    middle = np.roll(fit, (2 * reach_px, 2 * reach_px), (1, 2))[:, :side, :side]
    return Surfaces(at=np.array(at), fit=middle.astype(np.float32))


def laid_on(
    second: Plane, matrix: Points, shape: tuple[int, int]
) -> tuple[Plane, NDArray[np.bool_]]:
    """Return the second photo in the frame of the first, and where it shows there.

    Examples
    --------
    >>> laid_on(np.ones((4, 6), np.float32), np.eye(3), (4, 6))[1].all()
    np.True_
    """
    size = shape[::-1]
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    laid = cv2.warpPerspective(
        second, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
    )
    whole = np.full(second.shape, 255, np.uint8)
    shown = cv2.warpPerspective(
        whole, matrix, size, flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP
    )
    return np.asarray(laid, dtype=np.float32), np.asarray(shown) > 0


def _marks(plane: Plane) -> NDArray[np.bool_]:
    # The plane is already over its own surroundings, so its median is about 0 and the
    # median of the magnitudes is its MAD; every fourth px each way is enough.
    spread = MAD_TO_SD * float(median(np.abs(plane[::4, ::4])))
    return np.asarray(np.abs(plane) > max(_MARK_LOG, _MARK_SPREADS * spread))


def _band(block_px: int) -> Plane:
    down = np.fft.fftfreq(block_px)[:, None]
    cycles = np.hypot(down, np.fft.rfftfreq(block_px)[None])
    # A soft foot below, a Gaussian above: sharp ends would ring in the surface.
    slow = 1 / (1 + np.exp(-2 * (cycles * block_px - _SLOWEST)))
    band = (slow * np.exp(-((cycles / _FASTEST) ** 2))) ** 2
    return np.asarray(band, dtype=np.float32)


def shift_of_all(found: Surfaces) -> Points:
    """Return the one shift (x, y), px, that fits all blocks together best."""
    mean = ndimage.gaussian_filter(found.fit.mean(axis=0), 2.0)
    row, col = np.unravel_index(int(mean.argmax()), mean.shape)
    return np.array([col, row], dtype=np.float64) / 2 - found.reach_px


def peaks(
    found: Surfaces, near: Points, within_px: float, smooth: float
) -> tuple[Points, NDArray[np.float64]]:
    """Best shift of each block near an expected one, and how high its peak stands.

    Parameters
    ----------
    found : Surfaces
    near : ndarray of float64, (n, 2)
        Expected shifts (x, y), px.
    within_px : float
        How far from them to look.
    smooth : float
        Smoothing of the surfaces, their steps.

    Returns
    -------
    shift : ndarray of float64, (n, 2)
        (x, y), px.
    height : ndarray of float64, (n,)
        In sigmas.
    """
    calm = ndimage.gaussian_filter(found.fit, (0, smooth, smooth))
    row, col = _highest(calm, near, within_px, found.reach_px)
    block = np.arange(len(calm))
    here = calm[block, row, col]
    col_part = _vertex(calm[block, row, col - 1], here, calm[block, row, col + 1])
    row_part = _vertex(calm[block, row - 1, col], here, calm[block, row + 1, col])
    shift = np.column_stack([col + col_part, row + row_part]) / 2 - found.reach_px
    spread = np.maximum(calm.std(axis=(1, 2)), 1e-9)
    return shift, np.asarray(here / spread, dtype=np.float64)


def _highest(
    calm: Plane, near: Points, within_px: float, reach_px: float
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """Row and column of each surface's highest place near an expected shift."""
    side = calm.shape[1]
    # near is (n, 2) as (x, y): column 1 bounds the rows of a surface, column 0 its
    # columns; the mask is the two (n, side) masks spread to (n, side, side).
    step = np.arange(side) / 2 - reach_px
    far_row = np.abs(step - near[:, 1:]) > within_px
    far_col = np.abs(step - near[:, :1]) > within_px
    low = np.where(far_row[:, :, None] | far_col[:, None, :], -np.inf, calm)
    row, col = np.divmod(low.reshape(len(low), -1).argmax(axis=1), side)
    # A step inside the rim, so that each has neighbours.
    return np.clip(row, 1, side - 2), np.clip(col, 1, side - 2)


def _vertex(before: Plane, here: Plane, after: Plane) -> Points:
    """How far the vertex of the parabola through three values lies from the middle one.

    At the rim of what was looked at, the highest need be no peak: bend and part are
    bounded.
    """
    bend = np.minimum(before - 2 * here + after, -1e-9)
    part: Points = np.clip((before - after) / 2 / bend, -0.5, 0.5)
    return part


def _terms(at: Points, shape: tuple[int, int]) -> NDArray[np.float64]:
    """Shift of each point per parameter of a small homography, (n, 2, 8)."""
    # Linearised about no change. Both axes are in widths of the photo from its middle,
    # so that all eight terms are of one size and the system well conditioned.
    wide = shape[1]
    x, y = (at[:, 0] - wide / 2) / wide, (at[:, 1] - shape[0] / 2) / wide
    one, none = np.ones(len(at)), np.zeros(len(at))
    across = np.stack([one, x, y, none, none, none, x * x, x * y], axis=1)
    down = np.stack([none, none, none, one, x, y, x * y, y * y], axis=1)
    return np.stack([across, down], axis=1)


def fitted_shifts(
    at: Points,
    shift: Points,
    height: NDArray[np.float64],
    shape: tuple[int, int],
    tolerance_px: float,
) -> tuple[Points, Points]:
    """Fit a small homography to the shifts of the blocks, robustly.

    Parameters
    ----------
    at, shift : ndarray of float64, (n, 2)
        (x, y), px.
    height : ndarray of float64, (n,)
        Of the peaks, sigmas.
    shape : tuple of int
        Rows and columns of the first photo.
    tolerance_px : float
        Where a block begins to lose its weight.

    Returns
    -------
    parameters : ndarray of float64, (8,)
    fitted : ndarray of float64, (n, 2)
        The shifts it gives.
    """
    # Iteratively reweighted least squares with Cauchy's weights: blocks that lie far
    # off, on a mark or on other ground, lose their pull but are never cut off at once.
    terms = _terms(at, shape)
    trust = np.clip(height - LEAST_PEAK + 0.5, 0.0, _MOST_WEIGHT)
    weight = trust.copy()
    found: Points = np.zeros(8)
    for _ in range(_FIT_ROUNDS):
        root = np.sqrt(weight)[:, None]
        system = (terms * root[..., None]).reshape(-1, 8)
        ridge = np.diag(_RIDGE * weight.mean() + 1e-9)
        solved = np.linalg.solve(
            system.T @ system + ridge, system.T @ (shift * root).ravel()
        )
        found = np.asarray(solved, dtype=np.float64)
        off = np.hypot(*(shift - terms @ found).T)
        weight = trust / (1 + (off / tolerance_px) ** 2)
    return found, terms @ found


def as_matrix(parameters: Points, shape: tuple[int, int]) -> Points:
    """Return the homography of (x, y, 1) px that small parameters stand for.

    Examples
    --------
    >>> as_matrix(np.array([3.0, 0, 0, 0, 0, 0, 0, 0]), (80, 100)).round(6)[0].tolist()
    [1.0, 0.0, 3.0]
    """
    wide = shape[1]
    # Expanded to first order, this is `_terms`: 1 / (1 - p x - q y) is 1 + p x + q y.
    small = parameters / wide
    unit = np.array(
        [[1 / wide, 0, -0.5], [0, 1 / wide, -shape[0] / 2 / wide], [0, 0, 1]]
    )
    bent = np.array(
        [
            [1 + small[1], small[2], small[0]],
            [small[4], 1 + small[5], small[3]],
            [-small[6], -small[7], 1],
        ]
    )
    matrix: Points = np.linalg.inv(unit) @ bent @ unit
    scaled: Points = matrix / matrix[2, 2]
    return scaled


def misfit(at: Points, off: Points, block_px: int, stride_px: int) -> float:
    """Tell how far a fit lies off, from what its blocks miss it by.

    Most of what a block misses the fit by is its own noise, which the fit averages out.
    Two parts are left: what blocks that lie beside each other, so without a px in
    common, miss the fit by together; and the error of the eight fitted numbers, taken
    twice, as blocks that overlap do not count in full.

    Parameters
    ----------
    at, off : ndarray of float64, (n, 2)
        Centres of the blocks, and what they miss the fit by, (x, y), px.
    block_px, stride_px : int
        Side and distance of the blocks.

    Returns
    -------
    float
        Root mean square, px; never more than that of `off`.

    Examples
    --------
    >>> y, x = np.mgrid[0:640:32, 0:640:32]
    >>> at = np.column_stack([x.ravel(), y.ravel()]).astype(float)
    >>> noise = np.random.default_rng(1).normal(0, 0.3, at.shape)
    >>> round(misfit(at, noise, 64, 32), 2)
    0.17
    >>> 0.9 < misfit(at, noise + np.sin(at / 100), 64, 32) < 1.2
    True
    """
    scatter2 = float((off**2).sum(axis=1).mean())
    # All pairs of blocks, (n, n). The mean product of what two blocks beside each other
    # miss the fit by is their covariance: noise of their own drops out of it.
    apart = np.hypot(*(at[:, None] - at).transpose(2, 0, 1))
    beside = (apart >= block_px) & (apart <= block_px + stride_px)
    together = (off @ off.T)[beside]
    common2 = max(0.0, float(together.mean())) if together.size else 0.0
    # Blocks that overlap share px: as many count as would lie side by side on the same
    # area. Each gives two numbers, x and y; twice the error is four times its square.
    alone = max(1.0, len(at) * (stride_px / block_px) ** 2)
    error2 = 4 * max(0.0, scatter2 - common2) * _FITTED / (2 * alone)
    return float(np.sqrt(min(scatter2, common2 + error2)))
