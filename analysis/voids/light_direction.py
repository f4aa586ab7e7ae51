"""Which side the light comes from, and the bright part of pits it rakes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.candidates import Candidates
    from analysis.voids.shapes import Pixels, Shapes

_SET = SETTINGS.light
# Binary places of OpenCV's fixed-point corners.
_SHIFT = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class LightDirection:
    """Where the light comes from.

    Attributes
    ----------
    towards_rad : float or None
        Direction towards the lamp, from the column axis towards the row axis; None
        when the pits do not agree on one.
    rakes : bool
        The far walls of pits shine brighter than the face.
    """

    towards_rad: float | None
    rakes: bool


def find_light_direction(
    light: NDArray[np.float32], candidates: Candidates, pixels: Pixels, shapes: Shapes
) -> LightDirection:
    """Estimate the lamp's side from all pits of a face.

    Under raking light the far rims shine: each candidate pulls towards its brighter
    side. Otherwise floors are darker towards the lamp.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    candidates : Candidates
    pixels : Pixels
    shapes : Shapes
        Of the candidates.

    Returns
    -------
    LightDirection
    """
    raked = raked_towards(light, candidates, shapes)
    if raked is not None:
        return LightDirection(towards_rad=raked, rakes=True)
    at = _pits(candidates, shapes)
    if len(at) < _SET.fewest_pits:
        return LightDirection(towards_rad=None, rakes=False)
    away, sigmas = _agreement(_shading(light, pixels, shapes)[at])
    if abs(away) > _SET.least_shading and sigmas > _SET.shading_errors:
        return LightDirection(towards_rad=float(np.angle(-away)), rakes=False)
    return LightDirection(towards_rad=None, rakes=False)


def raked_towards(
    light: NDArray[np.float32], candidates: Candidates, shapes: Shapes
) -> float | None:
    """Return the lamp's side by bright far rims; None where the light does not rake.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    candidates : Candidates
    shapes : Shapes
        Of the candidates.

    Returns
    -------
    float or None
        From the column axis towards the row axis, rad.
    """
    at = _pits(candidates, shapes)
    if len(at) < _SET.fewest_pits:
        return None
    away, sigmas = _agreement(_pull(light, candidates, shapes, at))
    raked = abs(away) > _SET.least_pull and sigmas > _SET.pull_errors
    return float(np.angle(-away)) if raked else None


def _pits(candidates: Candidates, shapes: Shapes) -> NDArray[np.intp]:
    """List the candidates that are large, deep and plump enough to be shaded."""
    plump = shapes.thinness(candidates.area_px) < _SET.thinnest_ratio
    large = candidates.area_px >= _SET.shaded_from_px2
    deep = candidates.depth >= _SET.shaded_from_depth
    return np.flatnonzero(large & deep & plump)


def _agreement(vectors: NDArray[np.complex128]) -> tuple[complex, float]:
    """Mean vector and how many standard errors long it is."""
    # Vectors are complex, column part real and row part imaginary.
    mean = complex(vectors.mean())
    error = np.sqrt(np.mean(np.abs(vectors - mean) ** 2) / len(vectors))
    return mean, abs(mean) / max(float(error), 1e-9)


def _pull(
    light: NDArray[np.float32],
    candidates: Candidates,
    shapes: Shapes,
    at: NDArray[np.intp],
) -> NDArray[np.complex128]:
    """First harmonic of the brightest light just outside each, by direction."""
    # Points are (pits, directions, steps): from about the rim outwards, as far as the
    # pit's size lets its far wall reach.
    angle = np.arange(_SET.directions) * (2 * np.pi / _SET.directions)
    reach = shapes.support_px[:: len(shapes.support_px) // _SET.directions, at].T
    beyond = np.sqrt(candidates.area_px[at])[:, None] * np.linspace(
        _SET.rim_beyond_from, _SET.rim_beyond_to, _SET.rim_steps
    )
    distance = (
        _SET.rim_from_share * reach[..., None] + _SET.rim_from_px + beyond[:, None, :]
    )
    col = shapes.col_px[at, None, None] + distance * np.cos(angle)[:, None]
    row = shapes.row_px[at, None, None] + distance * np.sin(angle)[:, None]
    value, label = _sampled(light, candidates.labels, row, col)
    lit = np.clip(
        value / candidates.background[at, None, None] - 1.0,
        _SET.darkest_rim,
        _SET.brightest_rim,
    )
    brightest = np.where(label != 0, 0.0, lit).max(axis=2)
    # First Fourier coefficient over the directions: it points to the brighter side and
    # its length is the amplitude; a rim bright all round cancels out.
    pull: NDArray[np.complex128] = (brightest * np.exp(1j * angle)).mean(axis=1) * 2
    return pull


def _shading(
    light: NDArray[np.float32], pixels: Pixels, shapes: Shapes
) -> NDArray[np.complex128]:
    """Correlation of light with column and row inside each candidate."""
    value = light.ravel()[pixels.flat].astype(np.float64)
    value -= (pixels.total(value) / pixels.total())[pixels.label]
    power = pixels.total(value**2)

    def along(offset: NDArray[np.float64]) -> NDArray[np.float64]:
        spread = np.sqrt(np.maximum(power * pixels.total(offset**2), 1e-18))
        correlation: NDArray[np.float64] = pixels.total(value * offset) / spread
        return correlation

    # Pearson's correlation: offsets from the centroid are of mean 0, as is the light.
    across = along(pixels.col - shapes.col_px[pixels.label])
    down = along(pixels.row - shapes.row_px[pixels.label])
    return across + 1j * down


def join_lit(
    light: NDArray[np.float32],
    candidates: Candidates,
    shapes: Shapes,
    towards_rad: float,
) -> Candidates:
    """Add to each dark candidate the bright far wall of its pit.

    Along rays away from the lamp the pit ends where the light last shines; the
    rays of one candidate are judged together, so that one bright grain is no rim.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    candidates : Candidates
    shapes : Shapes
        Of the candidates.
    towards_rad : float
        Direction towards the lamp.

    Returns
    -------
    Candidates
        With labels and areas grown, never into another candidate.
    """
    at = _pits(candidates, shapes)
    if len(at) == 0:
        return candidates
    away = np.array([np.cos(towards_rad + np.pi), np.sin(towards_rad + np.pi)])
    frame = _Frame.around(shapes, at, towards_rad)
    value, label = _sampled(light, candidates.labels, *frame.points(shapes, at, away))
    shine = value / candidates.background[at, None, None] - 1.0
    last, length = _lit_lengths(shine, label, at, frame.step, candidates.noise[at])
    labels, area = candidates.labels.copy(), candidates.area_px.copy()
    near = frame.start[:, None] + (last + 0.5) * frame.step[:, None]
    for one in np.flatnonzero((length > 0).any(axis=1)):
        outline = _lit_outline(
            frame.across[one], near[one], length[one], frame.wide[one] / _SET.rays
        )
        here = np.array([shapes.col_px[at[one]], shapes.row_px[at[one]]])
        # From (along, across) to (column, row), by the unit vectors as rows.
        turned = here + outline @ np.array([away, [-away[1], away[0]]])
        _fill(labels, turned, int(at[one]) + 1)
    area[at] += length.sum(axis=1) * frame.wide / _SET.rays
    return replace(candidates, labels=labels, area_px=area)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Frame:
    """Rays over each candidate: along is away from the lamp, across is beside it."""

    across: NDArray[np.float64]
    start: NDArray[np.float64]
    step: NDArray[np.float64]
    wide: NDArray[np.float64]

    @classmethod
    def around(cls, shapes: Shapes, at: NDArray[np.intp], towards_rad: float) -> _Frame:
        """Lay rays over the candidates and as far again behind them."""

        def support(angle: float) -> NDArray[np.float64]:
            turns = len(shapes.support_px)
            turn = round(angle / (2 * np.pi) * turns) % turns
            reach: NDArray[np.float64] = shapes.support_px[turn, at]
            return reach

        left, right = support(towards_rad - np.pi / 2), support(towards_rad + np.pi / 2)
        ahead, behind = support(towards_rad + np.pi), support(towards_rad)
        wide = left + right
        reach = np.maximum(wide, ahead + behind) + 2.0
        start = -behind - reach / 2
        ray = (np.arange(_SET.rays) + 0.5) / _SET.rays
        return cls(
            # Across grows to the left as one looks along: see `points`.
            across=-right[:, None] + wide[:, None] * ray,
            start=start,
            step=(ahead + reach - start) / (_SET.samples - 1),
            wide=wide,
        )

    def points(
        self, shapes: Shapes, at: NDArray[np.intp], away: NDArray[np.float64]
    ) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        """Rows and columns of all samples, (candidates, rays, samples)."""
        along = self.start[:, None] + self.step[:, None] * np.arange(_SET.samples)
        s, t = along[:, None, :], self.across[:, :, None]
        row = shapes.row_px[at, None, None] + s * away[1] + t * away[0]
        col = shapes.col_px[at, None, None] + s * away[0] - t * away[1]
        return row, col


def _lit_lengths(
    shine: NDArray[np.float64],
    label: NDArray[np.int32],
    at: NDArray[np.intp],
    step: NDArray[np.float64],
    noise: NDArray[np.float64],
) -> tuple[NDArray[np.intp], NDArray[np.float64]]:
    """Index of the last dark sample of each ray and length of the lit part, px."""
    # Arrays are (pits, rays, samples) until samples are reduced to one figure a ray.
    own = label == (at + 1)[:, None, None]
    met = own.any(axis=2)
    index = np.arange(_SET.samples)
    last = np.where(met, _SET.samples - 1 - np.argmax(own[:, :, ::-1], axis=2), -1)
    first = np.where(met, np.argmax(own, axis=2), _SET.samples)
    foreign = (label != 0) & ~own
    behind = met[..., None] & (index > last[..., None]) & ~foreign
    # Ends two samples short of the dark part, clear of its blur.
    before = met[..., None] & (index < first[..., None] - 2) & ~foreign
    calm = (_beside(shine, -1) + 2 * shine + _beside(shine, 1)) / 4
    # The brightest px of each ray behind and before the dark part: a wall shines far
    # more than the lip towards the lamp, by the median over the rays.
    lit = _middle(np.where(behind, calm, -1.0).max(axis=2), met)
    other = np.maximum(_middle(np.where(before, calm, -1.0).max(axis=2), met), 0.0)
    sure = (lit > np.maximum(_SET.least_lit, _SET.lit_sigmas * noise)) & (
        lit > _SET.lit_over_other_side * other
    )
    part = calm / np.maximum(lit, 1e-6)[:, None, None]
    gain = np.where(
        part > _SET.lit_cut_share,
        np.minimum(part, _SET.most_gain) - _SET.lit_cut_share,
        -_SET.gap_cost,
    )
    past = foreign & (index > last[..., None])
    gain = np.where(behind, gain, 0.0) - _SET.foreign_cost * past
    # The wall ends where the running sum is largest: lit samples add to it, dark ones
    # and other candidates take away, so that only short gaps are crossed.
    total = np.cumsum(gain, axis=2)
    far = np.argmax(total, axis=2)
    ends = np.take_along_axis(total, far[..., None], axis=2)[..., 0] > 0
    shining = (behind & (part > _SET.lit_cut_share) & (index <= far[..., None])).sum(
        axis=2
    )
    length = far - last - _SET.lip_share * shining
    length = np.where(ends & met & sure[:, None], length, 0.0) * step[:, None]
    length = np.maximum(length, 0.0)
    # A median of three rays: one that differs from both its neighbours is put right.
    trio = np.stack([_beside(length, -1), length, _beside(length, 1)])
    length = np.where(met, np.median(trio, axis=0), 0.0)
    enough = (length > 1.0).sum(axis=1) >= _SET.rays_lit_share * met.sum(axis=1)
    return last, np.where(enough[:, None], length, 0.0)


def _beside(values: NDArray[np.float64], by: int) -> NDArray[np.float64]:
    """Values of the neighbouring ray; the outermost is its own neighbour."""
    at = np.clip(np.arange(values.shape[1]) + by, 0, values.shape[1] - 1)
    return values[:, at]


def _middle(values: NDArray[np.float64], met: NDArray[np.bool_]) -> NDArray[np.float64]:
    """Median over the middle rays that meet the candidate."""
    inner = slice(_SET.rays // 5, _SET.rays - _SET.rays // 5)
    some = np.where(met, values, np.nan)[:, inner]
    some[~np.isfinite(some).any(axis=1)] = 0.0
    return np.asarray(np.nanmedian(some, axis=1))


def _lit_outline(
    across: NDArray[np.float64],
    near: NDArray[np.float64],
    length: NDArray[np.float64],
    width: float,
) -> NDArray[np.float64]:
    """Polygon of the lit part as (along, across), closed at its two sides."""
    on = np.flatnonzero(length > 0)
    far = near[on] + length[on]
    start = near[on] - 1.0
    side = [across[on[0]] - width / 2, across[on[-1]] + width / 2]
    there = np.column_stack([start, across[on]])
    back = np.column_stack([far, across[on]])[::-1]
    ends = [(start[-1] + far[-1]) / 2, side[1]], [(start[0] + far[0]) / 2, side[0]]
    return np.vstack([there, ends[0], back, ends[1]])


def _fill(labels: NDArray[np.int32], outline: NDArray[np.float64], number: int) -> None:
    """Enter a number where the polygon of (col, row) covers background."""
    low = np.maximum(np.floor(outline.min(axis=0)).astype(int) - 1, 0)
    high = np.ceil(outline.max(axis=0)).astype(int) + 2
    window = labels[low[1] : high[1], low[0] : high[0]]
    if window.size == 0:
        return
    patch = np.zeros(window.shape, dtype=np.uint8)
    fixed = np.round((outline - low) * 2**_SHIFT).astype(np.int32)
    cv2.fillPoly(patch, [fixed], 1, shift=_SHIFT)
    window[(patch > 0) & (window == 0)] = number


def _sampled(
    light: NDArray[np.float32],
    labels: NDArray[np.int32],
    row: NDArray[np.float64],
    col: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.int32]]:
    """Light (linear) and label (nearest) at points; label -1 outside the photo."""
    rows, cols = light.shape
    outside = (row < 0) | (row > rows - 1) | (col < 0) | (col > cols - 1)
    # A bit short of the last px, so that each point has one to its right and one below.
    row, col = np.clip(row, 0, rows - 1.001), np.clip(col, 0, cols - 1.001)
    top, left = row.astype(np.intp), col.astype(np.intp)
    down, right = row - top, col - left
    flat, base = light.ravel(), top * cols + left
    upper = flat[base] * (1 - right) + flat[base + 1] * right
    lower = flat[base + cols] * (1 - right) + flat[base + cols + 1] * right
    nearest = np.rint(row).astype(np.intp) * cols + np.rint(col).astype(np.intp)
    value: NDArray[np.float64] = upper * (1 - down) + lower * down
    return value, np.where(outside, -1, labels.ravel()[nearest]).astype(np.int32)
