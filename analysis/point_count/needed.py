"""How many points a count needs, and whether it agrees with a reading."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal, TypeAlias

from analysis.checks import number

if TYPE_CHECKING:
    from analysis.model.point_count import CountFigure
    from analysis.model.reading import Share

Agreement: TypeAlias = Literal["agrees", "count_higher", "count_lower", "too_few"]
_Z = 1.96
# A count whose interval is this many times as wide as the share says little.
_SAYS_LITTLE = 3.0


def points_needed(share: float, relative: float) -> int:
    """Points of an even grid until the 95 % interval is the share give or take a part.

    By the binomial law, points taken as independent: they are where the grid is wider
    than the voids.

    Parameters
    ----------
    share : float
        Expected, above 0 and below 1.
    relative : float
        Half of the interval over the share, such as 0.2.

    Examples
    --------
    >>> points_needed(0.006, 0.2)
    15911
    """
    number(share, "Expected share", above=0, high=0.999999)
    number(relative, "Precision", above=0, high=1)
    return math.ceil(_Z**2 * (1 - share) / (share * relative**2))


def points_by_candidates(
    weight: float, share_within: float, share_elsewhere: float, relative: float
) -> tuple[int, int]:
    """Points among candidates and elsewhere for the same precision, divided best.

    Neyman's division: each part gets points by its weight times its spread.

    Parameters
    ----------
    weight : float
        Share of the face in candidate tiles, 0..1.
    share_within, share_elsewhere : float
        Expected shares of voids in the tiles, and of missed voids outside.
    relative : float

    Examples
    --------
    >>> points_by_candidates(0.03, 0.18, 0.0006, 0.2)
    (1092, 2249)
    """
    within = weight * math.sqrt(share_within * (1 - share_within))
    elsewhere = (1 - weight) * math.sqrt(share_elsewhere * (1 - share_elsewhere))
    share = weight * share_within + (1 - weight) * share_elsewhere
    number(share, "Expected share", above=0, high=1)
    number(relative, "Precision", above=0, high=1)
    # Variance (sum of the parts' spreads)² / n at Neyman's division.
    total = (within + elsewhere) ** 2 * (_Z / (relative * share)) ** 2
    both = within + elsewhere
    return math.ceil(total * within / both), math.ceil(total * elsewhere / both)


def agreement(count: CountFigure, reading: Share) -> Agreement:
    """Tell whether a count and a reading of one face agree.

    Parameters
    ----------
    count : CountFigure
    reading : Share
        With its interval of measurement.

    Returns
    -------
    str
        ``"agrees"``, ``"count_higher"``, ``"count_lower"``, or ``"too_few"`` where the
        count is compatible with nearly anything.
    """
    off = count.share - reading.value
    # Each difference is held against the ends that face each other.
    if off >= 0:
        room = math.hypot(count.share - count.low, reading.high - reading.value)
    else:
        room = math.hypot(count.high - count.share, reading.value - reading.low)
    if abs(off) > room:
        return "count_higher" if off > 0 else "count_lower"
    if count.high - count.low > _SAYS_LITTLE * max(reading.value, count.share):
        return "too_few"
    return "agrees"
