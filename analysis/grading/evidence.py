"""What a criterion limits, with how sure it is: many equally likely values of each.

Every quantity of a piece moves together: the boundary's error is common to all voids
of a photo, so that a draw in which the voids are larger has a larger share and a wider
widest void. The share's draws follow its stored 95 % interval; a criterion's own range
of sizes is applied inside each draw, so that voids near its ends count in some.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import norm

from analysis.flags import Flag
from analysis.grading.counts import area_m2, count_in, rate_bounds
from analysis.grading.patches import ONLY_SEEN_IN_PHOTO, patch_draws, patch_mm2
from analysis.model.grading import SIZES_MM
from analysis.model.notes import note

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from analysis.model.grading import ByHand, Criterion, JudgedArea
    from analysis.model.notes import Note
    from analysis.model.reading import Reading, Share

DRAWS = 2001
_Z95 = 1.959963984540054
# Upper 97.5 % bound of a count of which none was seen (Garwood 1936).
_NONE_SEEN = 3.689
_EQUAL_CHANCES = (np.arange(DRAWS) + 0.5) / DRAWS
_NORMAL: NDArray[np.float64] = norm.ppf(_EQUAL_CHANCES)
# What has nothing to do with where the boundary lies goes in an order of its own.
_COUNTING, _HONEYCOMB = (
    np.random.default_rng(seed).permutation(_EQUAL_CHANCES) for seed in (15, 16)
)
_WIDEST_TRIED = 50
_MM3_PER_CM3 = 1000.0

Draws = dict[str, "NDArray[np.float64]"]


def draws_of(
    criterion: Criterion,
    areas: tuple[JudgedArea, ...],
    by_hand: ByHand,
) -> tuple[Draws, Mapping[str, float]]:
    """Return draws and the estimate of each quantity that is known.

    Parameters
    ----------
    criterion : Criterion
        Whose range of sizes and test area hold.
    areas : tuple of JudgedArea
        Any number; shares are pooled by area, sizes are the largest of all.
    by_hand : ByHand
        Figures of the piece.

    Returns
    -------
    draws : dict of str to ndarray of float64, (DRAWS,)
        NaN where a draw leaves the quantity open.
    estimates : dict of str to float
        The same without the uncertainty.
    """
    sampled = is_small(criterion, areas)
    draws: Draws = {}
    estimates: dict[str, float] = {}
    readings = [area.reading for area in areas]
    asked = criterion.asked
    if readings and "void_share" in asked:
        found = [_share(one, criterion, sampled=sampled) for one in readings]
        face = _face_areas(readings)
        draws["void_share"] = np.average([one for one, _ in found], 0, face)
        estimates["void_share"] = float(np.average([one for _, one in found], 0, face))
    if readings and "honeycomb_share" in asked:
        face = _face_areas(readings)
        shares = [one.summary.honeycomb_share for one in readings]
        estimates["honeycomb_share"] = float(np.average(shares, 0, face))
        real = (1.0 if by_hand.honeycomb_seen else ONLY_SEEN_IN_PHOTO) > _HONEYCOMB
        draws["honeycomb_share"] = np.where(real, estimates["honeycomb_share"], 0.0)
    if readings and all(one.scale is not None for one in readings):
        _add_sizes(readings, draws, estimates)
        _add_counts(asked, readings, draws, estimates)
        draws["honeycomb_patch_mm2"], estimates["honeycomb_patch_mm2"] = patch_draws(
            readings, _NORMAL, _HONEYCOMB, seen=by_hand.honeycomb_seen
        )
    estimates |= {name: float(value) for name, value in by_hand.figures.items()}
    for name in set(estimates) - set(draws):
        draws[name] = np.full(DRAWS, estimates[name])
    _add_depth(criterion, draws, estimates)
    return (
        {name: one for name, one in draws.items() if name in asked},
        {name: one for name, one in estimates.items() if name in asked},
    )


def is_small(criterion: Criterion, areas: tuple[JudgedArea, ...]) -> bool:
    """Tell whether less was measured than the area the limits are meant for.

    Where the document asks for several areas, each is to be that large.

    Examples
    --------
    >>> from analysis.grading.catalogue import criterion
    >>> is_small(criterion("aci_301_voids"), ())
    False
    """
    if criterion.test_area_mm2 is None:
        return False
    sizes = [area.reading.summary.face_area_mm2 for area in areas]
    known = [size for size in sizes if size is not None]
    if criterion.test_areas > 1:
        enough = sum(size >= criterion.test_area_mm2 for size in known)
        return enough < criterion.test_areas
    return None in sizes or sum(known) < criterion.test_area_mm2


def _face_areas(readings: list[Reading]) -> NDArray[np.float64]:
    """Weights for pooling: in mm² where all have a scale, else in px²."""
    summaries = [one.summary for one in readings]
    in_mm2 = [one.face_area_mm2 for one in summaries]
    if any(size is None for size in in_mm2):
        return np.array([one.face_area_px for one in summaries])
    return np.array(in_mm2, dtype=np.float64)


def _share(
    reading: Reading, criterion: Criterion, *, sampled: bool
) -> tuple[NDArray[np.float64], float]:
    """Return draws and estimate of the share inside the criterion's sizes."""
    summary = reading.summary
    whole = summary.sampled_share if sampled else summary.void_share
    low, high = criterion.size_from_mm, criterion.size_to_mm
    no_range = low is None and high is None
    if reading.scale is None or no_range:
        return _whole_share(whole), whole.value
    mm2 = reading.scale.mm_per_px**2
    diameter = np.sort(reading.voids.equivalent_diameter_px) * reading.scale.mm_per_px
    # The area of all voids up to each size, smallest first: any range of sizes is one
    # difference, and a draw moves the ends of the range instead of the voids.
    upto = np.concatenate([[0.0], np.cumsum(np.pi * diameter**2 / 4.0)])
    face = summary.face_area_px * mm2

    def inside(
        size: NDArray[np.float64], area: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        first = np.searchsorted(diameter, (low or 0.0) / np.sqrt(size), "left")
        end = np.searchsorted(
            diameter, (np.inf if high is None else high) / np.sqrt(size), "right"
        )
        found: NDArray[np.float64] = area * (upto[end] - upto[first]) / face
        return found

    one = np.ones(1)
    sizes = _factor(summary.void_share)
    return inside(sizes, _factor(whole)), float(inside(one, one)[0])


def _whole_share(share: Share) -> NDArray[np.float64]:
    if share.value <= 0:
        # None seen: exponential from 0, which at a chance of 0.975 reaches _NONE_SEEN,
        # there scaled to the share's upper end.
        hidden: NDArray[np.float64] = np.log1p(-_EQUAL_CHANCES)
        return -share.high / _NONE_SEEN * hidden
    return share.value * _factor(share)


def _factor(share: Share) -> NDArray[np.float64]:
    """Return how many times the estimate the true share is, from its interval."""
    if share.value <= 0:
        return np.ones(DRAWS)
    if share.low > 0:
        low, high = np.log(share.low / share.value), np.log(share.high / share.value)
        # Lognormal with these 2.5 and 97.5 % points; its middle may differ from 1.
        middle, half = (low + high) / 2, (high - low) / 2
        times: NDArray[np.float64] = np.exp(middle + _NORMAL * half / _Z95)
        return times
    # The lower end is 0: no logarithm. Two half normals reach 0 below and `high` above.
    slope = np.where(_NORMAL < 0, 1.0, share.high / share.value - 1.0) / _Z95
    return np.maximum(1.0 + _NORMAL * slope, 1e-6)


def _add_sizes(
    readings: list[Reading], draws: Draws, estimates: dict[str, float]
) -> None:
    for name in ("void_width_mm", "void_diameter_mm"):
        found = [_largest(one, name) for one in readings]
        draws[name] = np.max([one for one, _ in found], axis=0)
        estimates[name] = max(one for _, one in found)


def _add_counts(
    asked: frozenset[str],
    readings: list[Reading],
    draws: Draws,
    estimates: dict[str, float],
) -> None:
    """Add counts per m²: sizes near an end count in some draws, then Poisson's law."""
    area = area_m2(readings)
    for name in (one for one in SIZES_MM if one in asked):
        factors = [_factor(one.summary.void_share) for one in readings]
        counts = [
            count_in(one, SIZES_MM[name], times)
            for one, times in zip(readings, factors, strict=True)
        ]
        draws[name] = rate_bounds(np.sum(counts, axis=0), _COUNTING) / area
        estimates[name] = counted(name, readings) / area


def counted(name: str, readings: list[Reading]) -> int:
    """Return how many voids of a size were counted on all readings together."""
    one = np.ones(1)
    return int(sum(count_in(reading, SIZES_MM[name], one)[0] for reading in readings))


def _largest(reading: Reading, name: str) -> tuple[NDArray[np.float64], float]:
    """Return draws and estimate of the largest void outside honeycomb, mm."""
    voids, scale = reading.voids, reading.scale
    outside = voids.kind != "honeycomb"
    if scale is None or not outside.any():
        return np.zeros(DRAWS), 0.0
    px = voids.feret_max_px if name == "void_width_mm" else voids.equivalent_diameter_px
    size = px[outside] * scale.mm_per_px
    # A diameter errs by half as much as its area, relatively.
    relative = voids.area_sd_px[outside] / voids.area_px[outside] / 2.0
    widest = np.argsort(-size)[:_WIDEST_TRIED]
    spread = np.hypot(relative[widest], scale.relative_uncertainty)
    # One normal for all voids of a draw: they grow and shrink together. Which is
    # largest may change with the draw, hence the widest few.
    every = size[widest, None] * np.exp(spread[:, None] * _NORMAL[None])
    return every.max(axis=0), float(size.max())


def _add_depth(criterion: Criterion, draws: Draws, estimates: dict[str, float]) -> None:
    """Bound the depth by the width where the criterion allows that."""
    most = criterion.depth_up_to_width_mm
    width = draws.get("void_width_mm")
    if most is None or width is None or "void_depth_mm" in estimates:
        return
    depth = np.where(width <= most, width, np.nan)
    draws["void_depth_mm"] = depth
    draws.setdefault("void_volume_cm3", depth**3 / _MM3_PER_CM3)
    widest = estimates["void_width_mm"]
    if widest <= most:
        estimates["void_depth_mm"] = widest
        estimates.setdefault("void_volume_cm3", widest**3 / _MM3_PER_CM3)


def doubts(
    criterion: Criterion, areas: tuple[JudgedArea, ...], by_hand: ByHand
) -> tuple[Note, ...]:
    """Return why the photos cannot decide this criterion; `wording` says it.

    Examples
    --------
    >>> from analysis.grading.catalogue import criterion
    >>> from analysis.model.grading import ByHand
    >>> [one.code for one in doubts(criterion("aci_301_voids"), (), ByHand())]
    ['not_measured']
    """
    if not areas:
        return (note("not_measured"),)
    found = []
    if any(area.reading.scale is None for area in areas):
        found.append(note("no_scale"))
    elif is_small(criterion, areas):
        found.append(_too_small(criterion, areas))
    sizes = [area.reading.summary.smallest_counted_mm for area in areas]
    coarsest = max((size for size in sizes if size is not None), default=0.0)
    finest = _finest(criterion)
    if finest is not None and coarsest > finest:
        found.append(note("too_coarse", counted_mm=coarsest, limits_mm=finest))
    if any(Flag.UNRELIABLE_FINISH in area.reading.flags for area in areas):
        found.append(note("finish_hides"))
    late = [area.stage for area in areas if area.stage not in {None, "as_struck"}]
    if criterion.as_struck_only and late:
        found.append(note("later_stage"))
    found += _honeycomb_doubt(criterion, areas, by_hand)
    return tuple(found)


def _honeycomb_doubt(
    criterion: Criterion, areas: tuple[JudgedArea, ...], by_hand: ByHand
) -> list[Note]:
    if not criterion.limited & {"honeycomb_patch_mm2", "honeycomb_share"}:
        return []
    shown = any(area.reading.honeycomb_px for area in areas)
    if by_hand.honeycomb_seen:
        return [] if shown else [note("honeycomb_not_shown")]
    if not shown:
        return []
    largest = max(patch_mm2(area.reading) for area in areas)
    return [note("honeycomb_not_seen", largest_mm2=largest)]


def _finest(criterion: Criterion) -> float | None:
    """Return the smallest size the criterion looks at."""
    if criterion.size_from_mm is not None:
        return criterion.size_from_mm
    limits = [
        limit
        for one in criterion.classes
        for name, limit in (*one.at_most.items(), *one.below.items())
        if name in {"void_width_mm", "void_diameter_mm"}
    ]
    limits += [SIZES_MM[name][0] for name in criterion.limited & set(SIZES_MM)]
    return min(limits, default=None)


def _too_small(criterion: Criterion, areas: tuple[JudgedArea, ...]) -> Note:
    sizes = [area.reading.summary.face_area_mm2 or 0.0 for area in areas]
    asked = criterion.test_area_mm2 or 0.0
    if criterion.test_areas > 1:
        return note(
            "too_few_areas",
            enough=sum(size >= asked for size in sizes),
            areas=criterion.test_areas,
            asked_mm2=asked,
        )
    return note("too_small", measured_mm2=sum(sizes), asked_mm2=asked)
