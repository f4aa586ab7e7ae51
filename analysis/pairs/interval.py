"""How sure the void area of a pair is."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.model.reading import Share
from analysis.voids.measurement import measured_interval
from analysis.voids.sampling import sampled_interval

if TYPE_CHECKING:
    from analysis.model.reading import Summary
    from analysis.pairs.finding import PairFound

# The log of truth over figure: its mean, and its spread for the rims, for single voids
# and for what is common to a pair; and how many spreads hold 95 % (Student's t). Fitted
# on 26 drawn pairs that no report uses (tests/benchmarks/pair_interval_fit.py).
_MEAN, _RIMS, _ONE_VOID_SD, _COMMON_SD, _TIMES = -0.023, 0.0, 0.0, 0.043, 2.07


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
    """
    share, face_px = summary.void_share.value, summary.face_area_px
    ends = (0.0, 0.0)
    if len(pair.found.voids):
        rims, each, doubt = terms_of(pair)
        spread = math.hypot(_RIMS * rims, _ONE_VOID_SD * each, _COMMON_SD, doubt / 2)
        ends = (_MEAN - _TIMES * spread, _MEAN + _TIMES * spread)
    low, high = measured_interval(share, ends, smallest_px2 / face_px)
    sample_low, sample_high = sampled_interval(
        pair.found.mask, pair.inside, pair.found.voids.area_px
    )
    # Errors of measuring and of sampling, taken as independent, add in squares.
    down = math.hypot(share - low, share - sample_low)
    up = math.hypot(high - share, sample_high - share)
    return replace(
        summary,
        void_share=Share(value=share, low=low, high=high),
        sampled_share=Share(value=share, low=max(0.0, share - down), high=share + up),
    )


def terms_of(pair: PairFound) -> tuple[float, float, float]:
    """Return what the interval is made of, each as a part of the void area.

    Parameters
    ----------
    pair : PairFound
        With one void or more.

    Returns
    -------
    rims : float
        Uncertainty of the rims.
    each : float
        Square root of the sum of squared areas: few voids leave more to chance.
    doubt : float
        Spots whose relief is close to what decides.
    """
    area = pair.found.voids.area_px
    total = float(area.sum())
    return (
        float(pair.found.voids.area_sd_px.sum()) / total,
        math.sqrt(float((area**2).sum())) / total,
        pair.doubtful_px2 / total,
    )
