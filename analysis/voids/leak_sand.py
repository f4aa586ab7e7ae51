"""Bare sand along a joint that leaked: where it lies, and what in it is a pit.

Paste that runs out of a joint leaves its sand: darker as a whole, and rough at the
scale of its grains. As a whole it would pass for one dark void, and its grains for many
small ones. So the sand's own tone is levelled away before voids are looked for, and a
pit in it has to be deeper than its grains are high.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.voids.joints import from_lines
from analysis.voids.judging import by_network, telling
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    _Floats = NDArray[np.float32]
    _Mask = NDArray[np.bool_]

_SET = SETTINGS.sand


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Sand:
    """Bare sand of a face.

    Attributes
    ----------
    mask : ndarray of bool, (rows, cols)
        Where it lies.
    grit : ndarray of float32, (rows, cols)
        How much its grains stand out, as a share of the light; 0 outside of it.
    levelled : ndarray of float32, (rows, cols)
        Light with the sand's own tone brought to that of the face beside it.
    """

    mask: _Mask
    grit: _Floats
    levelled: _Floats


def bare_sand(
    light: _Floats,
    face: _Mask,
    band: _Mask,
    seam: _Mask,
    mm_per_px: float,
    *,
    lines_px: Sequence[NDArray[np.float64]] = (),
) -> Sand | None:
    """Find bare sand along the joints.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light, lightly smoothed.
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    band : ndarray of bool, (rows, cols)
        Within reach of a joint.
    seam : ndarray of bool, (rows, cols)
        The joint's own line, with its gap or fin, which is no sand.
    mm_per_px : float
    lines_px : sequence of ndarray of float64, each (n, 2)
        The joints, (row, col): a rough patch that lies as a broken arris does, or apart
        from its joint, is then no sand.

    Returns
    -------
    Sand or None
        None where there is none.

    Examples
    --------
    >>> flat = np.full((90, 120), 0.5, np.float32)
    >>> whole = np.ones(flat.shape, bool)
    >>> bare_sand(flat, whole, whole, ~whole, 0.2) is None
    True
    """
    if not (band & face).any():
        return None
    shrink = min(1.0, mm_per_px * _SET.px_per_mm)
    per_mm = shrink / mm_per_px
    tone = np.log(np.maximum(_resized(light, shrink), 1e-4))
    inside = _resized(face.astype(np.float32), shrink) > _SET.wholly_share
    reach = _resized((band & face).astype(np.float32), shrink) > 0
    fine = tone - cv2.GaussianBlur(tone, (0, 0), _SET.grain_px)
    # Just inside the outline the light is continued, and even.
    inside = cv2.erode(inside.astype(np.uint8), np.ones((5, 5), np.uint8)) > 0
    usual = float(np.median(np.abs(fine[inside]))) if inside.any() else 0.0
    if usual <= 0:
        return None
    clear = _resized(seam.astype(np.float32), shrink) == 0
    beside = (inside & clear).astype(np.float32)
    coarse = beside * (np.abs(fine) > _SET.coarser_ratio * usual)
    around = (_SET.window_px, _SET.window_px)
    # Box means over what lies beside the joint alone: masked values over the mask.
    share = cv2.blur(coarse, around) / np.maximum(
        cv2.blur(beside, around), _SET.least_beside_share
    )
    found = _connected(
        (share > _SET.coarse_share) & reach, _SET.least_mm2 * per_mm**2, _SET.window_px
    )
    if lines_px:
        places = (
            (np.arange(side, dtype=np.float32) + 0.5) / shrink - 0.5
            for side in found.shape
        )
        rows, cols = places
        across, *_ = from_lines(lines_px, mm_per_px, rows[:, None], cols[None])
        found = _leaked(found, across)
    if not found.any():
        return None
    shape = (light.shape[0], light.shape[1])
    # The bright half of the texture only, as grains stand out and pits lie below. In an
    # even texture it holds half of the variance; the factor 2 below makes up for that.
    grit = cv2.blur(
        (np.maximum(fine, 0) ** 2).astype(np.float32), (_SET.tone_px, _SET.tone_px)
    )
    level = _ground(tone, found) - _median(tone, _SET.tone_px)
    # Tones are logs: their difference is a gain, which fades over the sand's rim.
    soft = cv2.GaussianBlur(found.astype(np.float32), (0, 0), 2.0)
    gain = np.exp(_enlarged((soft * level).astype(np.float32), shape))
    mask = (_enlarged(found.astype(np.float32), shape) > 0.5) & face  # noqa: PLR2004
    return Sand(
        mask=mask,
        grit=np.where(mask, _enlarged(np.sqrt(2 * grit), shape), np.float32(0)),
        levelled=np.asarray(light * gain, dtype=np.float32),
    )


def gap_closed(light: _Floats, seam: _Mask, mm_per_px: float) -> _Floats:
    """Close the thin dark line of a joint's gap, which would join all pits on it.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light.
    seam : ndarray of bool, (rows, cols)
        The joint's own line; nothing else changes.
    mm_per_px : float

    Examples
    --------
    >>> light = np.full((21, 21), 0.5, np.float32)
    >>> light[10] = 0.1
    >>> float(gap_closed(light, np.ones(light.shape, bool), 0.2).min())
    0.5
    """
    # A grey closing fills what is dark and narrower than the disc; what is wider stays.
    across = 2 * max(1, round(_SET.gap_mm / mm_per_px / 2)) + 1
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across, across))
    closed = cv2.morphologyEx(light, cv2.MORPH_CLOSE, disc)
    return np.where(seam, closed, light).astype(np.float32)


def pit_figures(
    network_logit: NDArray[np.float64],
    depth: NDArray[np.float64],
    noise: NDArray[np.float64],
    grit: NDArray[np.float64],
    thinness: NDArray[np.float64],
    solidity: NDArray[np.float64],
    rim_doubt: NDArray[np.float64],
    sand_mm2: float,
) -> NDArray[np.float64]:
    """Collect what speaks for spots in the sand of a face being pits.

    The last two are the same for all of a face: grains that stand high and are lit from
    the side cast many shadows, of which few look like pits.

    Parameters
    ----------
    network_logit, depth, noise, grit : ndarray of float64, (n,)
        Of each spot: the network's log odds of a void; its depth, the noise of the
        background and the height of the grains around it, shares of the light.
    thinness, solidity, rim_doubt : ndarray of float64, (n,)
        As of `Features` and `Shapes`; the part of it whose side of the rim is not sure.
    sand_mm2 : float
        Area of the face in bare sand.

    Returns
    -------
    ndarray of float64, (n, 8)

    Examples
    --------
    >>> one = np.ones(1)
    >>> pit_figures(one, one, one, one, one, one, one, 10.0).shape
    (1, 8)
    """
    logit, likely = by_network(network_logit)
    told = telling(depth, noise)
    usual = float(likely[told].mean()) if told.any() else _SET.least_likely
    usual = min(max(usual, _SET.least_likely), 1 - _SET.least_likely)
    per_mm2 = max(int(np.count_nonzero(told)), 1) / max(sand_mm2, _SET.least_mm2)
    each = [
        logit,
        np.minimum(depth / np.maximum(grit, _SET.least_grit), _SET.most_depth_ratio),
        depth,
        np.minimum(thinness, _SET.most_thinness),
        solidity,
        rim_doubt,
        np.full(len(logit), np.log(usual / (1 - usual))),
        np.full(len(logit), np.log10(per_mm2)),
    ]
    return np.stack(each, axis=1)


def pit_odds(figures: NDArray[np.float64]) -> NDArray[np.float64]:
    """Log odds that spots in bare sand are pits.

    Parameters
    ----------
    figures : ndarray of float64, (n, 8)
        Of `pit_figures`.

    Examples
    --------
    >>> black = [6.0, 8.0, 0.8, 1.3, 0.95, 0.1, -1.0, -1.0]
    >>> grain = [-1.0, 1.0, 0.3, 2.0, 0.8, 0.4, -1.0, -1.0]
    >>> odds = pit_odds(np.array([black, grain]))
    >>> bool(odds[0] > 0 > odds[1])
    True
    """
    odds: NDArray[np.float64] = _SET.weights[0] + figures @ np.asarray(_SET.weights[1:])
    return odds


def _resized(values: _Floats, scale: float) -> _Floats:
    size = tuple(max(1, round(side * scale)) for side in values.shape[::-1])
    return np.asarray(cv2.resize(values, size, interpolation=cv2.INTER_AREA))


def _enlarged(values: _Floats, shape: tuple[int, int]) -> _Floats:
    return np.asarray(cv2.resize(values, shape[::-1], interpolation=cv2.INTER_LINEAR))


def _connected(mask: _Mask, least_px: float, across_px: int) -> _Mask:
    """Leave out what is small, or no broader than one pit with its rim."""
    disc = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (across_px,) * 2)
    opened = cv2.morphologyEx(mask.astype(np.uint8), cv2.MORPH_OPEN, disc)
    _, labels, stats, _ = cv2.connectedComponentsWithStats(opened, connectivity=8)
    keep = stats[:, cv2.CC_STAT_AREA] >= least_px
    keep[0] = False
    return np.asarray(keep[labels])


def _leaked(found: _Mask, across_mm: _Floats) -> _Mask:
    """Leave out what did not leak from a joint.

    Sand lies on both sides of the joint, or reaches far. A rough patch on one side
    that reaches no farther than an arris breaks is a break; one that keeps away from
    the joint came from elsewhere.
    """
    number, labels = cv2.connectedComponents(found.astype(np.uint8), connectivity=8)
    keep = np.zeros(number, dtype=bool)
    for one in range(1, number):
        away = across_mm[labels == one]
        share = np.count_nonzero(away > 0) / len(away)
        near, far = np.quantile(np.abs(away), (_SET.near_quantile, _SET.far_quantile))
        is_break = (
            max(share, 1 - share) >= _SET.one_side_share and far < _SET.break_reach_mm
        )
        keep[one] = not is_break and near < _SET.apart_mm
    return np.asarray(keep[labels])


def _median(tone: _Floats, side: int) -> _Floats:
    """Median over a square: pits of less than half of it do not count."""
    # OpenCV's median over more than 5 px takes 8 bits only: a code is 2 % of the light.
    codes = np.clip(
        (tone - _SET.brightest_log) * _SET.codes_per_log + 255, 0, 255
    ).astype(np.uint8)
    calm = cv2.medianBlur(codes, side).astype(np.float32)
    return np.asarray(
        (calm - 255) / _SET.codes_per_log + _SET.brightest_log, dtype=np.float32
    )


def _ground(tone: _Floats, sand: _Mask) -> _Floats:
    """Tone of the face beside the sand, carried over it."""
    grown = cv2.dilate(sand.astype(np.uint8), np.ones((9, 9), np.uint8))
    clear = (grown == 0).astype(np.float32)
    weight = cv2.GaussianBlur(clear, (0, 0), _SET.ground_px)
    # A normalised convolution: the mean of clear px, the nearer the heavier. The small
    # share of the usual tone holds only where no clear px is near.
    carried = cv2.GaussianBlur(_median(tone, 5) * clear, (0, 0), _SET.ground_px)
    usual = float(np.median(tone[clear > 0])) if clear.any() else float(np.median(tone))
    return np.asarray((carried + 1e-3 * usual) / (weight + 1e-3), dtype=np.float32)
