"""From voids to the figures of a reading, with how sure they are."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.reading import Share, Summary
from analysis.voids.quality_flags import is_speckled
from analysis.voids.rejection import Evidence
from analysis.voids.sampling import sampled_interval
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Scale
    from analysis.voids.segmentation import Segmentation

_SET = SETTINGS.interval
# Mean count that a count of none does not exclude at 97.5 % (Garwood 1936).
_NONE_SEEN_UPPER = 3.689


def smallest_counted(
    scale: Scale | None, smallest_mm: float | None
) -> tuple[float | None, float]:
    """Smallest counted size, in mm and as an area in px².

    Parameters
    ----------
    scale : Scale or None
    smallest_mm : float or None
        Asked for; None takes the larger of 0.5 mm and 4 px across.

    Returns
    -------
    size_mm : float or None
        Equivalent diameter; None without a scale.
    area_px2 : float

    Examples
    --------
    >>> from analysis.model.photo import Scale
    >>> coarse = Scale(mm_per_px=0.25, relative_uncertainty=0.01, method="typed")
    >>> smallest_counted(coarse, None)[0]
    1.0
    """
    if scale is None:
        return None, _SET.smallest_without_scale_px2
    size = smallest_mm or max(
        _SET.smallest_mm, _SET.smallest_across_px * scale.mm_per_px
    )
    return size, math.pi / 4 * (size / scale.mm_per_px) ** 2


def summarize(
    found: Segmentation,
    face: NDArray[np.bool_],
    band: NDArray[np.bool_] | None,
    scale: Scale | None,
    smallest_mm: float | None,
    smallest_px2: float,
) -> Summary:
    """Sum up the voids of a face.

    Parameters
    ----------
    found : Segmentation
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    band : ndarray of bool, (rows, cols), or None
        Pixels within the joint bands; None without joint lines or scale.
    scale : Scale or None
    smallest_mm : float or None
        Smallest counted size; None without a scale.
    smallest_px2 : float
        The same as an area, px².

    Returns
    -------
    Summary
    """
    face_px = float(np.count_nonzero(face))
    void_px = float(found.voids.area_px.sum())
    share = void_px / face_px
    ends = log_interval(found) if len(found.voids) else (0.0, 0.0)
    low, high = measured_interval(share, ends, smallest_px2 / face_px)
    if not len(found.voids):
        # Marks that were turned down with the whole face may be faint voids.
        high = max(high, found.doubts.shaped_px / face_px)
    sampled = _widened(
        Share(value=share, low=low, high=high),
        *sampled_interval(found.mask, face, found.voids.area_px),
    )
    mm2 = None if scale is None else scale.mm_per_px**2
    count = len(found.voids)
    on_band, open_face = _band_shares(found.mask, face, band)
    ends_of = part_ends(found, face, band, on_band, open_face, smallest_px2)
    honeycomb = np.count_nonzero(found.honeycomb & face) / face_px
    return Summary(
        face_area_px=face_px,
        face_area_mm2=None if mm2 is None else face_px * mm2,
        void_area_px=void_px,
        void_area_mm2=None if mm2 is None else void_px * mm2,
        void_share=Share(value=share, low=low, high=high),
        sampled_share=sampled,
        void_count=count,
        voids_per_m2=None if mm2 is None else count / (face_px * mm2) * 1e6,
        largest_void_mm=_largest_mm(found, scale),
        smallest_counted_mm=smallest_mm,
        smallest_counted_px=math.sqrt(4 * smallest_px2 / math.pi),
        joint_band_share=on_band,
        open_face_share=open_face,
        honeycomb_share=honeycomb,
        joint_band_ends=ends_of[0],
        open_face_ends=ends_of[1],
        honeycomb_ends=(
            min(1.0, found.honeycomb_px[0] / face_px),
            min(1.0, found.honeycomb_px[1] / face_px),
        ),
        joint_marks=found.joint_marks,
    )


def doubt_terms(found: Segmentation) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return what the ends of the interval are made of, none below 0.

    Parameters
    ----------
    found : Segmentation
        With one void or more.

    Returns
    -------
    up, down : ndarray of float64, (9,)
        A constant; doubt of the rims; chance of single voids; blur on the rims; what
        was turned down as unlikely and may be voids (up), or counted and may be none
        (down); what was turned down by its shape (up), or counted by a narrow vote
        (down); noise of the background beyond that of a smooth face; honeycomb; how
        faint the usual void is, since fainter ones were not found (up; 0 down).
    """
    area, doubts = found.voids.area_px, found.doubts
    total = float(area.sum())
    rim = doubts.rim_px / total
    # Relative deviation of a sum of voids that came by chance (a compound Poisson sum).
    each = math.sqrt(float((area**2).sum())) / total
    blur = float(found.voids.area_sd_px.sum()) / total
    missed = math.log1p(doubts.missed_px / total)
    shaped = math.log1p(doubts.shaped_px / total)
    wrong = min(doubts.wrong_px / total, 1.0)
    narrow = 1.0 - min(doubts.strict_px / total, 1.0)
    rough = max(0.0, found.noise - _SET.smooth_noise_share)
    nests = float(area[found.voids.kind == "honeycomb"].sum()) / total
    # Where even the usual void is hardly deeper than what is asked of one, the fainter
    # half of the same pits lies below it.
    faint = max(0.0, _SET.faint_contrast - float(np.median(found.voids.contrast)))
    return (
        np.array([1, rim, each, blur, missed, shaped, rough, nests, faint]),
        np.array([1, rim, each, blur, wrong, narrow, rough, nests, 0.0]),
    )


def log_interval(
    found: Segmentation,
    up_weights: tuple[float, ...] = _SET.up_weights,
    down_weights: tuple[float, ...] = _SET.down_weights,
) -> tuple[float, float]:
    """Return the 95 % interval of the void area as logs of truth over estimate.

    Parameters
    ----------
    found : Segmentation
        With one void or more.
    up_weights, down_weights : tuple of float
        Of `doubt_terms`.

    Returns
    -------
    low, high : float
        `low` is minus infinity where all candidates may be grains.
    """
    up, down = doubt_terms(found)
    high, low = _weighed(up_weights, up), -_weighed(down_weights, down)
    if is_speckled(found):
        low = -math.inf
    return low, high


def _weighed(weights: tuple[float, ...], doubts: NDArray[np.float64]) -> float:
    return float(np.dot(weights, doubts))


def measured_interval(
    share: float, log_ends: tuple[float, float], one_smallest: float
) -> tuple[float, float]:
    """95 % interval of the share of the face shown.

    Parameters
    ----------
    share : float
        0..1.
    log_ends : tuple of float
        Ends as logs of truth over estimate; not used when nothing was found.
    one_smallest : float
        Share of one void of the smallest counted size; half of it is added at
        both ends for voids on either side of the limit. For no void at all the
        upper end is what could hide: as many smallest voids as a count of none
        does not exclude.

    Returns
    -------
    low, high : float
        0..1.

    Examples
    --------
    >>> measured_interval(0.0, (0.0, 0.0), 0.001)
    (0.0, 0.003689)
    """
    if share == 0.0:
        return 0.0, min(1.0, _NONE_SEEN_UPPER * one_smallest)
    low, high = (share * math.exp(end) for end in log_ends)
    return max(0.0, low - one_smallest / 2), min(1.0, high + one_smallest / 2)


def part_ends(
    found: Segmentation,
    face: NDArray[np.bool_],
    band: NDArray[np.bool_] | None,
    on_band: float | None,
    open_face: float | None,
    smallest_px2: float,
) -> tuple[tuple[float, float] | None, tuple[float, float] | None]:
    """Return the 95 % intervals of the joint band's share and the open face's.

    Each is made like the whole face's, of the voids and the doubts of its own part;
    the band's weights are its own. Where nothing counts in a part, what was turned
    down there may be faint voids. Pits that only their place in bare sand told may all
    be grains where the face holds no evidence of voids.
    """
    if band is None:
        return None, None
    row, col = (
        np.clip(np.rint(at), 0, side - 1).astype(np.intp)
        for at, side in zip(
            (found.voids.row_px, found.voids.col_px), band.shape, strict=True
        )
    )
    in_band = band[row, col]
    of_part = found.part_doubts or (found.doubts, found.doubts)
    ends: list[tuple[float, float] | None] = []
    weights = (
        (_SET.band_up_weights, _SET.band_down_weights),
        (_SET.up_weights, _SET.down_weights),
    )
    for share, part, mine, doubts, own_weights in (
        (on_band, face & band, in_band, of_part[0], weights[0]),
        (open_face, face & ~band, ~in_band, of_part[1], weights[1]),
    ):
        if share is None:
            ends.append(None)
            continue
        voids = found.voids.chosen(np.flatnonzero(mine))
        own = replace(found, voids=voids, doubts=doubts)
        logs = log_interval(own, *own_weights) if len(voids) else (0.0, 0.0)
        part_px = float(np.count_nonzero(part))
        low, high = measured_interval(share, logs, smallest_px2 / part_px)
        if not len(voids):
            high = max(high, (doubts.shaped_px + doubts.missed_px) / part_px)
        # No ends yet: this is the band, the first of the two parts.
        if not ends and found.evidence is Evidence.NONE:
            low = 0.0
        ends.append((low, min(1.0, high)))
    return ends[0], ends[1]


def _widened(measured: Share, low: float, high: float) -> Share:
    """Join the sampling ends with the measuring ends, as independent parts."""
    value = measured.value
    down = math.hypot(value - measured.low, value - low)
    up = math.hypot(measured.high - value, high - value)
    return Share(value=value, low=max(0.0, value - down), high=min(1.0, value + up))


def _largest_mm(found: Segmentation, scale: Scale | None) -> float | None:
    outside = found.voids.kind != "honeycomb"
    if scale is None:
        return None
    sizes = found.voids.equivalent_diameter_px[outside]
    return float(sizes.max(initial=0.0)) * scale.mm_per_px


def _band_shares(
    mask: NDArray[np.bool_],
    face: NDArray[np.bool_],
    band: NDArray[np.bool_] | None,
) -> tuple[float | None, float | None]:
    if band is None:
        return None, None

    def share(part: NDArray[np.bool_]) -> float | None:
        area = np.count_nonzero(part)
        return np.count_nonzero(mask & part) / area if area else None

    return share(face & band), share(face & ~band)
