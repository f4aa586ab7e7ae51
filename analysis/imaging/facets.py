"""Facets of a face: where their arrises run, and the light levelled side by side.

Each facet is lit by its own angle to the lamps, so the light of a faceted face is a few
even parts that step at straight lines. A part is cut in two where two planes through
the log of its light explain it so much better than one that an arris must run there,
and then its parts again. Light is divided by each part's own plane; what the blur of
the camera leaves along an arris is the same all along it, and is divided by its median.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import cv2
import numpy as np

from analysis.imaging.face import continue_outside
from analysis.imaging.reduced import DARKEST, log_of, reduced
from analysis.robust import MAD_TO_SD, median

if TYPE_CHECKING:
    from numpy.typing import NDArray

    _Floats = NDArray[np.float32]

# Arrises show on a picture this long, and it is searched in a moment.
_SEARCHED_PX: Final = 240
_MOST_FACETS: Final = 8
# Logs of light beyond this are pits and glare, which must not steer.
_MOST_LOG: Final = 0.8
# A part of the face smaller than this is no facet of its own.
_LEAST_SHARE: Final = 0.03
# Two planes must leave at most this part of the variance that one leaves, and step by
# this (log of the light) at the line between them: mottling and a lamp's falling off
# do neither.
_LEFT_SHARE: Final = 0.6
_LEAST_STEP: Final = 0.05
# Pits narrower than half of this many searched px go before arrises are looked for.
_PIT_PX: Final = 5
# Half the width of what blur leaves beside an arris, px.
_BESIDE_PX: Final = 6
_BIN_PX: Final = 0.5
_MOST_PLACES: Final = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Cut:
    """An arris, and what lies on its two sides.

    Attributes
    ----------
    towards_rad : float
        Of its normal, from the column axis towards the row axis.
    offset_px : float
        Of the line along the normal, from the origin.
    below, above : Cut or FacetPlane
        What lies at smaller and at larger offsets.
    """

    towards_rad: float
    offset_px: float
    below: Cut | FacetPlane
    above: Cut | FacetPlane


@dataclass(frozen=True, slots=True, kw_only=True)
class FacetPlane:
    """Log of the light of a facet: ``at + by_row * row + by_col * col``."""

    at: float
    by_row: float
    by_col: float


def find_facets(
    picture: NDArray[np.float32] | NDArray[np.uint8], inside: NDArray[np.bool_]
) -> Cut | None:
    """Find the arrises of a face.

    Parameters
    ----------
    picture : ndarray of float32, (rows, cols), or of uint8, (rows, cols, 3)
        Linear light, or sRGB.
    inside : ndarray of bool, (rows, cols)
        Measured pixels.

    Returns
    -------
    Cut or None
        In px of the picture; None where no arris shows.

    Examples
    --------
    >>> face = np.full((120, 160), 0.3, np.float32)
    >>> face[:, 70:] = 0.5
    >>> found = find_facets(face, np.ones(face.shape, bool))
    >>> round(found.offset_px), isinstance(found.below, FacetPlane)
    (70, True)
    """
    rows, cols = inside.shape
    small = reduced(picture, inside, _SEARCHED_PX)
    row, col = np.nonzero(small.whole)
    if len(row) < 2 / _LEAST_SHARE:
        return None
    # Centres of reduced px, in px of the picture.
    at_row = (row + 0.5) * rows / small.whole.shape[0] - 0.5
    at_col = (col + 0.5) * cols / small.whole.shape[1] - 0.5
    continue_outside(small.light, small.whole)
    log = cv2.medianBlur(log_of(small.light), _PIT_PX)
    middle = float(np.median(log[small.whole]))
    log = np.clip(log, middle - _MOST_LOG, middle + _MOST_LOG)
    seen = np.column_stack([at_row, at_col, log[small.whole]]).astype(np.float64)
    found = _parted(seen, len(seen), small.step, [_MOST_FACETS - 1])
    return found if isinstance(found, Cut) else None


def levelled_by_facets(
    light: NDArray[np.float32], inside: NDArray[np.bool_], facets: Cut | FacetPlane
) -> NDArray[np.float32]:
    """Divide the light by that of each facet, and by what blur leaves at arrises.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    inside : ndarray of bool, (rows, cols)
        Measured pixels; others never enter.
    facets : Cut
        In px of this picture.

    Returns
    -------
    ndarray of float32, (rows, cols)
        Linear light, as bright in the middle as before.

    Examples
    --------
    >>> face = np.full((120, 160), 0.3, np.float32)
    >>> face[:, 70:] = 0.5
    >>> face[60:64, 68:72] = 0.05
    >>> whole = np.ones(face.shape, bool)
    >>> even = levelled_by_facets(face, whole, find_facets(face, whole))
    >>> bool(even[:50].std() < 0.01 * even.mean()), bool(even[62, 70] < 0.2)
    (True, True)
    """
    level = float(np.median(light[inside]))
    even = np.empty_like(light)
    _level_part(light, inside, facets, even, np.ones(light.shape, dtype=bool))
    even *= np.float32(level / max(float(np.median(even[inside])), DARKEST))
    return even


def moved(facets: Cut | FacetPlane, row: float, col: float) -> Cut | FacetPlane:
    """Return the same in px of a part that begins at (row, col).

    Examples
    --------
    >>> moved(FacetPlane(at=0.0, by_row=0.5, by_col=0.0), 10.0, 0.0).at
    5.0
    """
    if isinstance(facets, FacetPlane):
        at = facets.at + facets.by_row * row + facets.by_col * col
        return replace(facets, at=at)
    along = col * np.cos(facets.towards_rad) + row * np.sin(facets.towards_rad)
    return Cut(
        towards_rad=facets.towards_rad,
        offset_px=facets.offset_px - float(along),
        below=moved(facets.below, row, col),
        above=moved(facets.above, row, col),
    )


def _parted(
    seen: NDArray[np.float64], whole: int, step: float, left: list[int]
) -> Cut | FacetPlane:
    """Cut a part in two as long as arrises show; `left` counts the cuts left."""
    plane, spread = _plane(seen)
    least = max(8.0, _LEAST_SHARE * whole)
    if left[0] <= 0 or len(seen) < 2 * least or spread <= 0:
        return plane
    towards, offset, share = _best_line(seen, spread, least, step)
    if share > _LEFT_SHARE:
        return plane
    along = seen[:, 1] * np.cos(towards) + seen[:, 0] * np.sin(towards)
    sides = [_plane(seen[part])[0] for part in (along < offset, along >= offset)]
    # Two planes always fit better than one. An arris must also step at the line.
    near = seen[np.abs(along - offset) < 3 * step]
    if len(near) == 0:
        return plane
    stepped = [
        one.at + one.by_row * near[:, 0] + one.by_col * near[:, 1] for one in sides
    ]
    if float(np.median(np.abs(stepped[0] - stepped[1]))) < _LEAST_STEP:
        return plane
    left[0] -= 1
    every = seen[:, 1] * np.cos(towards) + seen[:, 0] * np.sin(towards)
    return Cut(
        towards_rad=towards,
        offset_px=offset,
        below=_parted(seen[every < offset], whole, step, left),
        above=_parted(seen[every >= offset], whole, step, left),
    )


def _plane(seen: NDArray[np.float64]) -> tuple[FacetPlane, float]:
    """Fit a plane; also the sum of squares that it leaves."""
    terms = np.column_stack([np.ones(len(seen)), seen[:, :2]])
    at = np.linalg.lstsq(terms, seen[:, 2], rcond=None)[0]
    left = float(((seen[:, 2] - terms @ at) ** 2).sum())
    for _ in range(2):  # pits are dark, on one side: they must not pull
        off = seen[:, 2] - terms @ at
        far = 2.5 * MAD_TO_SD * median(np.abs(off)) + 1e-6
        good = np.abs(off) <= far
        at = np.linalg.lstsq(terms[good], seen[good, 2], rcond=None)[0]
    plane = FacetPlane(at=float(at[0]), by_row=float(at[1]), by_col=float(at[2]))
    return plane, left


def _best_line(
    seen: NDArray[np.float64], spread: float, least: float, step: float
) -> tuple[float, float, float]:
    """Return the line with the least left beside two planes, and that part of it."""
    best = (0.0, 0.0, np.inf)
    # All directions 4 degrees apart, then two finer looks about the best so far.
    looks = (np.arange(0, 180, 4.0), np.arange(-2, 2.1), np.arange(-0.6, 0.7, 0.3))
    for look in looks:
        for turn in best[0] + np.radians(look):
            found = _best_offset(seen, float(turn), least, step)
            if found[1] < best[2]:
                best = (float(turn), found[0], found[1])
    return best[0], best[1], best[2] / spread


def _best_offset(
    seen: NDArray[np.float64], turn: float, least: float, step: float
) -> tuple[float, float]:
    """Return the best line of one direction, and the squares left beside two planes."""
    along = seen[:, 1] * np.cos(turn) + seen[:, 0] * np.sin(turn)
    first = along.min()
    at = np.floor((along - first) / step).astype(np.intp)
    # Normal equations of the plane, summed once by bins across the line: cumulated,
    # they give both sides of every offset, and all fits cost one pass over the px.
    # About the mean, since differences of large sums would lose their digits.
    row, col, value = (seen - seen.mean(axis=0)).T
    terms = (np.ones_like(row), row, col)
    count = int(at.max()) + 1
    normal = np.empty((count, 3, 3))
    right = np.empty((count, 3))
    for one in range(3):
        right[:, one] = np.bincount(at, terms[one] * value, count)
        for other in range(3):
            normal[:, one, other] = np.bincount(at, terms[one] * terms[other], count)
    square = np.bincount(at, value**2, count).astype(np.float64)
    normal = np.cumsum(normal, axis=0)
    right = np.cumsum(right, axis=0)
    square = np.cumsum(square)
    px = normal[:, 0, 0]
    fit = np.flatnonzero((px >= least) & (px[-1] - px >= least))
    if not len(fit):
        return 0.0, np.inf
    left = np.zeros(len(fit))
    for sums in (
        (normal[fit], right[fit], square[fit]),
        (normal[-1] - normal[fit], right[-1] - right[fit], square[-1] - square[fit]),
    ):
        # A touch on the diagonal: px of one line alone leave a 3 x 3 system singular.
        firm = (
            sums[0]
            + 1e-9 * np.eye(3) * np.trace(sums[0], axis1=1, axis2=2)[:, None, None]
        )
        fitted = np.linalg.solve(firm, sums[1][..., None])[..., 0]
        # What least squares leave is value'value less fit'right; below 0 by rounding
        # only.
        left += np.maximum(sums[2] - (fitted * sums[1]).sum(axis=1), 0)
    place = int(left.argmin())
    return float(first + (fit[place] + 1) * step), float(left[place])


def _level_part(
    light: _Floats,
    inside: NDArray[np.bool_],
    facets: Cut | FacetPlane,
    even: _Floats,
    part: NDArray[np.bool_],
) -> None:
    """Level a part of the picture, in place; then what its own arris leaves."""
    if isinstance(facets, FacetPlane):
        row, col = np.nonzero(part)
        shade = np.exp(facets.at + facets.by_row * row + facets.by_col * col)
        even[part] = light[part] / np.maximum(shade, DARKEST)
        return
    cut = _sharpened(light, inside & part, facets)
    away = _away(cut, light.shape)
    _level_part(light, inside, cut.below, even, part & (away < 0))
    _level_part(light, inside, cut.above, even, part & (away >= 0))
    near = part & (np.abs(away) < _BESIDE_PX)
    at = np.floor((away[near] + _BESIDE_PX) / _BIN_PX).astype(np.intp)
    value, good = even[near], inside[near]
    # Profile across the arris in bins of half a px; bins without face stay 1.
    middle = np.ones(int(2 * _BESIDE_PX / _BIN_PX) + 1, np.float32)
    for one in range(len(middle)):
        mine = value[(at == one) & good]
        if mine.size:
            middle[one] = np.median(mine)
    even[near] = value / np.maximum(middle, DARKEST)[at]


def _away(cut: Cut, shape: tuple[int, ...]) -> _Floats:
    row = np.arange(shape[0], dtype=np.float32)[:, None] * np.float32(
        np.sin(cut.towards_rad)
    )
    col = np.arange(shape[1], dtype=np.float32)[None] * np.float32(
        np.cos(cut.towards_rad)
    )
    return np.asarray(row + col - np.float32(cut.offset_px), dtype=np.float32)


def _sharpened(light: _Floats, inside: NDArray[np.bool_], cut: Cut) -> Cut:
    """Turn and shift an arris to where the light steps most sharply."""
    step = max(1.0, max(light.shape) / _SEARCHED_PX)
    wide = 3 * step + 2
    row, col = np.nonzero(inside & (np.abs(_away(cut, light.shape)) < wide))
    if len(row) < 4 * wide:
        return cut
    every = max(1, len(row) // _MOST_PLACES)
    row, col = row[::every], col[::every]
    value = log_of(light[row, col])
    value = np.clip(value - np.median(value), -0.5, 0.5)
    cos, sin = np.cos(cut.towards_rad), np.sin(cut.towards_rad)
    away = col * cos + row * sin - cut.offset_px
    along = row * cos - col * sin
    middle = (along.min() + along.max()) / 2
    along = along - middle
    length = max(float(np.ptp(along)) / 2, 1.0)

    def sharpness(turn: float) -> float:
        """Variance that the means across make: the most where none is smeared."""
        # A small turn as a shear: the ends of the line move by `turn` px. The offset
        # keeps the bins from falling below 0.
        at = np.floor(away - turn * along / length + 2 * wide).astype(np.intp)
        count = np.maximum(np.bincount(at), 1)
        mean = np.bincount(at, value) / count
        return float((count * mean**2).sum())

    turns = np.arange(-step, step + 0.01, 0.25)
    best = max(turns, key=sharpness)
    # Its new normal, and the same middle of the line.
    turned = cut.towards_rad + float(np.arctan2(-best, length))
    foot_row = cut.offset_px * sin + middle * cos
    foot_col = cut.offset_px * cos - middle * sin
    offset = foot_col * np.cos(turned) + foot_row * np.sin(turned)
    shifts = np.arange(-2 * step, 2 * step + 0.01, 0.25)
    off = col * np.cos(turned) + row * np.sin(turned) - offset

    def parted(shift: float) -> float:
        """Squares between the two sides: the most where each is all of one facet."""
        near = np.abs(off - shift) < wide / 2
        side = off[near] >= shift
        mine = value[near]
        if not 0 < np.count_nonzero(side) < len(side):
            return 0.0
        gap = float(mine[side].mean() - mine[~side].mean())
        return gap**2 * float(side.mean() * (1 - side.mean()))

    best_shift = max(shifts, key=parted)
    return replace(cut, towards_rad=turned, offset_px=float(offset + best_shift))
