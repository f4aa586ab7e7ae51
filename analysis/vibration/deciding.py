"""What is decided about the seconds: well as it is, another cause, more or less."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.vibration import OpenReason
from analysis.vibration.other_causes import (
    FIRM,
    joints_leak,
    setting_first,
    stones_show,
    went_along,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.vibration import Decision, FirstCause, ReasonCode
    from analysis.vibration.dose import Draws
    from analysis.vibration.dose_rows import Gathered

SHARP = 0.95  # of the draws, for what stands against a target
WORTH_WHILE = 0.97  # a better time has at most this share of the present one's
LITTLE = 0.8  # a gain smaller than this does not go before another cause
NEARLY = 0.9  # of the best chance to hit the target: the nearest such time will do
FEWEST_POURS = 3
FEWEST_FOR_TIMES = 6  # pours, where each holds one time only
FEWEST_MIXED = 3  # pours that hold two times


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Weighed:
    """Draws of the log share (percent) at the times that may be suggested.

    Attributes
    ----------
    seconds : ndarray of float64, (m,)
        Rising; within half the shortest and 1.75 times the longest tried.
    at : ndarray of float64, (d, m)
        Log share at each.
    now : ndarray of float64, (d,)
        Log share at the time used now.
    low, high : float
        The target, log percent; ``low`` is minus infinity where there is none.
    """

    seconds: NDArray[np.float64]
    at: NDArray[np.float64]
    now: NDArray[np.float64]
    low: float
    high: float

    @property
    def bottom_s(self) -> float:
        """Return the time of fewest voids: shorter ones lie where the curve falls."""
        return float(self.seconds[int(np.argmin(np.median(self.at, axis=0)))])


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """A decision with the time, the cause or the reasons that go with it."""

    decision: Decision
    suggested_s: float | None = None
    cause: FirstCause | None = None
    reasons: tuple[OpenReason, ...] = ()


def decide(
    gathered: Gathered, draws: Draws, weighed: Weighed, current: float, *, within: bool
) -> Finding:
    """Weigh, in this order: is it well as it is; leaks; the seconds; settings."""
    if not within:
        return _open(OpenReason(code="not_tried"))
    if gathered.pours < FEWEST_POURS:
        return _open(OpenReason(code="few_pours", count=gathered.pours))
    other = setting_first(gathered, draws, weighed.now, weighed.high)
    return _before_the_seconds(gathered, weighed, other, current) or _by_seconds_or(
        gathered, weighed, other, current
    )


def _before_the_seconds(
    gathered: Gathered, weighed: Weighed, other: FirstCause | None, current: float
) -> Finding | None:
    """Return what holds whatever the seconds do, None where they matter."""
    above, below = _outside(weighed)
    if above + below <= 1 - SHARP and other is None:
        return Finding(decision="same", suggested_s=current)
    leak = joints_leak(gathered)
    if above >= SHARP and leak is not None:
        return _first(leak, current)
    if above < SHARP and other is not None:
        return _first(other, current)
    if max(above, below) < SHARP:
        return _open(OpenReason(code="either_side"), *_along(gathered))
    return None


def _by_seconds_or(
    gathered: Gathered, weighed: Weighed, other: FirstCause | None, current: float
) -> Finding:
    """Prefer the seconds where they surely do it alone, else another cause."""
    above, below = _outside(weighed)
    seconds = _by_seconds(gathered, weighed, current, lower=above > below)
    if above > below:
        other = other or stones_show(gathered)
    if seconds is not None and (other is None or seconds[1]):
        return seconds[0]
    if other is not None:
        return _first(other, current)
    return _flat_or_open(gathered, weighed, current)


def _outside(weighed: Weighed) -> tuple[float, float]:
    """Return the chances that the share now lies above and below the target."""
    above = float(np.mean(weighed.now > weighed.high))
    return above, float(np.mean(weighed.now < weighed.low))


def _times_suffice(gathered: Gathered) -> bool:
    """Tell whether times were tried often enough for a word about them."""
    u, pour = gathered.doses.u, gathered.doses.pour
    if np.ptp(u) <= 0:
        return False
    mixed = sum(float(np.ptp(u[pour == name])) > 0 for name in np.unique(pour))
    if mixed >= FEWEST_MIXED:
        return True
    # Pours of one time each compare times only where a lot dealt them: enough in all,
    # and two at least on each side of the middle.
    middle = (u.min() + u.max()) / 2
    lot = gathered.dealt
    lower = len(np.unique(pour[lot & (u < middle)]))
    upper = len(np.unique(pour[lot & (u >= middle)]))
    return lower + upper >= FEWEST_FOR_TIMES and min(lower, upper) > 1


def _by_seconds(
    gathered: Gathered, weighed: Weighed, current: float, *, lower: bool
) -> tuple[Finding, bool] | None:
    """Return the time that surely betters the finish, and whether it will do alone."""
    if not _times_suffice(gathered):
        return None
    # (d, m): each draw against itself at the present time, so that what both times
    # share drops out.
    gain = weighed.at - weighed.now[:, None]
    if lower:
        better = gain < np.log(WORTH_WHILE)
        hits = weighed.at <= weighed.high
    else:
        better = gain > -np.log(WORTH_WHILE)
        hits = weighed.at >= weighed.low
    inside = (weighed.at >= weighed.low) & (weighed.at <= weighed.high)
    sure = better.mean(axis=0) >= FIRM
    # Beyond the time of fewest voids more shaking only lets the stones sink: no time
    # is suggested past it, and voids are not made that way either.
    bottom = weighed.bottom_s
    if lower:
        # On the way from the present time to the bottom, not past it.
        ahead = (weighed.seconds - current) * np.sign(bottom - current)
        sure &= (ahead > 0) & (ahead <= abs(bottom - current))
    else:
        sure &= weighed.seconds < min(current, bottom)
    if not sure.any():
        return None
    chance = np.where(sure, inside.mean(axis=0), -1.0)
    if chance.max() < 1 - SHARP:  # no time will do: take the one that helps most
        middle = np.median(gain, axis=0)
        best = int(np.argmin(np.where(sure, middle if lower else -middle, np.inf)))
        if lower and np.exp(middle[best]) > LITTLE:
            return None
    else:
        good = np.flatnonzero(chance >= NEARLY * chance.max())
        away = np.abs(weighed.seconds[good] - current)
        best = int(good[np.argmin(away)])
    suggested = float(weighed.seconds[best])
    decision: Decision = "more" if suggested > current else "less"
    will_do = bool(hits[:, best].mean() >= 1 - SHARP)
    return Finding(decision=decision, suggested_s=suggested), will_do


def _first(cause: FirstCause, current: float) -> Finding:
    return Finding(decision="other_cause_first", suggested_s=current, cause=cause)


def _flat_or_open(gathered: Gathered, weighed: Weighed, current: float) -> Finding:
    """No time surely helps: either none can, or it is not known."""
    inside = (weighed.at >= weighed.low) & (weighed.at <= weighed.high)
    if _times_suffice(gathered) and inside.any(axis=1).mean() <= 1 - SHARP:
        return Finding(decision="other_cause_first", suggested_s=current)
    return _open(*_why_open(gathered))


def _open(*reasons: OpenReason) -> Finding:
    return Finding(decision="not_enough_evidence", reasons=reasons)


def _why_open(gathered: Gathered) -> tuple[OpenReason, ...]:
    """Say why the seconds tried do not settle it."""
    tried = np.unique(gathered.seconds)
    if len(tried) < 2:  # noqa: PLR2004
        return (OpenReason(code="one_amount", count=float(tried[0])),)
    if along := _along(gathered):
        return along
    u, pour = gathered.doses.u, gathered.doses.pour
    inside = any(np.ptp(u[pour == name]) > 0 for name in np.unique(pour))
    apart = not inside and not gathered.dealt.all()
    code: ReasonCode = "with_pours" if apart else "by_chance"
    return (OpenReason(code=code),)


def _along(gathered: Gathered) -> tuple[OpenReason, ...]:
    """Name the setting that went along with the seconds, if one did."""
    name = went_along(gathered)
    if name is None:
        return ()
    if name == "cast_on":
        return (OpenReason(code="with_days"),)
    return (OpenReason(code="went_along", names=(name,)),)
