"""How sure the void area of a pair is."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.model.reading import Share
from analysis.voids.measurement import measured_interval
from analysis.voids.sampling import sampled_interval, tile_sums

if TYPE_CHECKING:
    from analysis.model.reading import Summary
    from analysis.pairs.finding import PairFound

_NORMAL_95 = 1.959964
# What is left when rims and decisions are right, common to a pair, and of each void by
# itself; set by hand, not fitted.
_COMMON_SD, _ONE_VOID_SD = 0.05, 0.14
# Shallow floors that no lamp shades are missed: the truth may lie above by this part.
_MISSED = 0.04


def with_pair_interval(
    summary: Summary, pair: PairFound, smallest_px2: float
) -> Summary:
    """Give a summary the intervals of a pair.

    A pair has no doubt of grain or stain in it: what the relief leaves undecided
    widens the interval by its own area.

    Parameters
    ----------
    summary : Summary
        As of one photo.
    pair : PairFound
    smallest_px2 : float
        Smallest counted area, px².

    Returns
    -------
    Summary
    """
    area = pair.found.voids.area_px
    share, face_px = summary.void_share.value, summary.face_area_px
    ends = (0.0, 0.0)
    if len(area):
        total = float(area.sum())
        boundary = float(pair.found.voids.area_sd_px.sum()) / total
        each = _ONE_VOID_SD * math.sqrt(float((area**2).sum())) / total
        doubt = pair.doubtful_px2 / total / 2
        spread = _NORMAL_95 * math.hypot(boundary / 2, each, _COMMON_SD)
        low = -math.hypot(spread, doubt)
        ends = (low, _MISSED + math.hypot(spread, doubt))
    low, high = measured_interval(share, ends, smallest_px2 / face_px)
    sample_low, sample_high = sampled_interval(*tile_sums(pair.found.mask, pair.inside))
    down = math.hypot(share - low, share - sample_low)
    up = math.hypot(high - share, sample_high - share)
    return replace(
        summary,
        void_share=Share(value=share, low=low, high=high),
        sampled_share=Share(value=share, low=max(0.0, share - down), high=share + up),
    )
