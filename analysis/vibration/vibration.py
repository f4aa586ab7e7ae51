"""Is it vibration: more, the same, less, something else first, or not known yet.

Asked of one form type and one method. The curve of the share over the seconds
(`analysis.vibration.dose`) is drawn a few thousand times as the pieces allow, for
pieces as they were cast lately; a decision is firm where nearly all of the draws
agree.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.vibration import (
    DoseCurve,
    DosePieces,
    ShareSpan,
    VibrationAnswer,
)
from analysis.vibration import vibration_words as say
from analysis.vibration.dose import draw_curves, log_seconds
from analysis.vibration.dose_rows import gather
from analysis.vibration.next_casting import next_casting
from analysis.vibration.other_causes import (
    FIRM,
    Cause,
    joints_leak,
    mix_is_stiff,
    setting_first,
    stones_show,
    went_along,
)
from analysis.vibration.suggestions import nice_times

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable
    from analysis.model.vibration import Decision, VibrationQuestion
    from analysis.vibration.dose import Draws
    from analysis.vibration.dose_rows import Gathered

SHARP = 0.95  # of the draws, for what stands against a target
WORTH_WHILE = 0.97  # a better time has at most this share of the present one's
LITTLE = 0.8  # a gain smaller than this does not go before another cause
NEARLY = 0.9  # of the best chance to hit the target: the nearest such time will do
FEWEST_POURS = 3
FEWEST_FOR_TIMES = 6  # pours, where each holds one time only
FEWEST_MIXED = 3  # pours that hold two times
CURVE_POINTS = 41


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
    """A decision with the time and the cause that go with it."""

    decision: Decision
    suggested_s: float | None = None
    causes: tuple[Cause, ...] = ()
    why: tuple[str, ...] = ()


def vibration(table: PieceTable, question: VibrationQuestion) -> VibrationAnswer:
    """Decide whether the seconds are to blame, and what to cast next.

    Parameters
    ----------
    table : PieceTable
        Pieces of any form type and method.
    question : VibrationQuestion
        What is asked.

    Returns
    -------
    VibrationAnswer
        Always an answer; with no piece at all it is today's trial.

    Raises
    ------
    TableError
        A column is missing, or photos of a piece disagree about the seconds.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> random, rows = np.random.default_rng(2), []
    >>> for n in range(48):
    ...     seconds = (15, 30, 60)[n // 4 % 3]
    ...     share = 1.2 * (15 / seconds) ** 0.8 * np.exp(random.normal(0, 0.2))
    ...     rows.append({"piece": n, "pour": n // 4, "form_type": "pot",
    ...                  "vibration_method": "table", "vibration_s": seconds,
    ...                  "dealt": "by_lot",
    ...                  "void_area_percent": share})
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006, current_s=15.0)
    >>> answer = vibration(piece_table(rows), asked)
    >>> answer.decision, 30 <= answer.suggested_s <= 105
    ('more', True)
    """
    gathered = gather(table, question)
    if gathered is None:
        return _without_pieces(table, question)
    tried = np.unique(gathered.seconds)
    current = question.current_s
    if current is None:
        current = gathered.current_s or 0.0
    low_s, high_s = 0.5 * tried[0], 1.75 * tried[-1]
    offered = nice_times(low_s, high_s, current, whole=question.dose != "seconds")
    shown = np.linspace(low_s, high_s, CURVE_POINTS)
    asked_s = np.concatenate([[current], offered, shown])
    draws = draw_curves(gathered.doses, log_seconds(asked_s, gathered.seconds))
    lately = gathered.doses.covariates[gathered.late].mean(axis=0)
    at = (draws.level + draws.covariates @ lately)[:, None] + draws.curve
    count = len(offered)
    weighed = Weighed(
        seconds=offered,
        at=at[:, 1 : 1 + count],
        now=at[:, 0],
        low=np.log(max(100 * question.target_low, 1e-12)),
        high=np.log(100 * question.target_high),
    )
    within = bool(low_s <= current <= high_s)
    found = _decide(gathered, draws, weighed, current, within=within)
    expected = None
    if found.suggested_s is not None:
        where = int(np.argmin(np.abs(asked_s - found.suggested_s)))
        expected = _span(at[:, where])
    now = _span(weighed.now) if within else None
    curve = None
    if len(tried) > 1:
        low, middle, high = (
            np.exp(np.percentile(at[:, 1 + count :], [2.5, 50, 97.5], axis=0)) / 100
        )
        curve = DoseCurve(seconds=shown, middle=middle, low=low, high=high)
    facts = say.Facts(
        question=question,
        current_s=current,
        tried=tuple(tried.tolist()),
        pieces=len(gathered.share),
        pours=gathered.pours,
        now=now,
        expected=expected,
        suggested_s=found.suggested_s,
        stiff=mix_is_stiff(gathered.table, gathered.late),
        bottom_s=weighed.bottom_s if len(tried) > 1 else None,
        leak=joints_leak(gathered) is not None,
    )
    return VibrationAnswer(
        question=question,
        decision=found.decision,
        current_s=current,
        suggested_s=found.suggested_s,
        expected=expected,
        now=now,
        tried_s=(float(tried[0]), float(tried[-1])),
        causes=tuple(cause.name for cause in found.causes),
        why=(
            *say.why(found.decision, found.causes, facts),
            *(say.in_dose(line, question.dose) for line in found.why),
        ),
        rests_on=tuple(say.in_dose(line, question.dose) for line in gathered.notes),
        over_signs=say.OVER_SIGNS,
        checks=say.checks(question.method),
        trial=next_casting(
            found.decision, found.causes, facts, gathered, draws, went_along(gathered)
        ),
        curve=curve,
        pieces=DosePieces(
            piece=gathered.table.text["piece"],
            pour=gathered.table.text["pour"],
            seconds=gathered.seconds,
            share=gathered.share / 100,
        ),
        cause_levels=_levels(found.causes),
    )


def _levels(causes: tuple[Cause, ...]) -> tuple[str, ...]:
    """Return the levels of the first cause, where it is a setting with both known."""
    first = causes[:1]
    return tuple(
        level
        for one in first
        if one.worse and one.better
        for level in (one.worse, one.better)
    )


def expected_shares(
    table: PieceTable, question: VibrationQuestion, amounts: NDArray[np.float64]
) -> NDArray[np.float64] | None:
    """Draw the log share at some amounts, for pieces as cast lately.

    Parameters
    ----------
    table : PieceTable
        Pieces of any form type and method.
    question : VibrationQuestion
        What is asked.
    amounts : ndarray of float64, (m,)
        Seconds, strokes or passes.

    Returns
    -------
    ndarray of float64, (d, m), or None
        Natural log of percent, draws that belong together in a row; None without
        pieces.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> expected_shares(piece_table([]), asked, np.array([30.0])) is None
    True
    """
    gathered = gather(table, question)
    if gathered is None:
        return None
    draws = draw_curves(gathered.doses, log_seconds(amounts, gathered.seconds))
    lately = gathered.doses.covariates[gathered.late].mean(axis=0)
    found = (draws.level + draws.covariates @ lately)[:, None] + draws.curve
    return np.asarray(found)


def _span(logs: NDArray[np.float64]) -> ShareSpan:
    low, middle, high = np.exp(np.percentile(logs, [2.5, 50, 97.5])) / 100
    cap = 1.0  # no share is more than the whole face
    return ShareSpan(
        middle=min(float(middle), cap),
        low=min(float(low), cap),
        high=min(float(high), cap),
    )


def _decide(
    gathered: Gathered, draws: Draws, weighed: Weighed, current: float, *, within: bool
) -> Finding:
    """Weigh, in this order: is it well as it is; leaks; the seconds; settings."""
    if not within:
        return Finding(decision="not_enough_evidence", why=(say.CURRENT_NOT_TRIED,))
    if gathered.pours < FEWEST_POURS:
        return Finding(decision="not_enough_evidence", why=(say.few(gathered.pours),))
    other = setting_first(gathered, draws, weighed.now, weighed.high)
    return _before_the_seconds(gathered, weighed, other, current) or _by_seconds_or(
        gathered, weighed, other, current
    )


def _before_the_seconds(
    gathered: Gathered, weighed: Weighed, other: Cause | None, current: float
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
        why = (say.EITHER_SIDE, *say.along(gathered))
        return Finding(decision="not_enough_evidence", why=why)
    return None


def _by_seconds_or(
    gathered: Gathered, weighed: Weighed, other: Cause | None, current: float
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


def _first(cause: Cause, current: float) -> Finding:
    return Finding(decision="other_cause_first", suggested_s=current, causes=(cause,))


def _flat_or_open(gathered: Gathered, weighed: Weighed, current: float) -> Finding:
    """No time surely helps: either none can, or it is not known."""
    inside = (weighed.at >= weighed.low) & (weighed.at <= weighed.high)
    if _times_suffice(gathered) and inside.any(axis=1).mean() <= 1 - SHARP:
        return Finding(decision="other_cause_first", suggested_s=current)
    return Finding(decision="not_enough_evidence", why=say.why_open(gathered))


def _without_pieces(table: PieceTable, question: VibrationQuestion) -> VibrationAnswer:
    empty = np.empty(0)
    facts = say.Facts(question=question, current_s=question.current_s)
    return VibrationAnswer(
        question=question,
        decision="not_enough_evidence",
        current_s=question.current_s,
        suggested_s=None,
        expected=None,
        now=None,
        tried_s=(),
        causes=(),
        why=(say.nothing_cast(table, question),),
        rests_on=(),
        over_signs=say.OVER_SIGNS,
        checks=say.checks(question.method),
        trial=next_casting("not_enough_evidence", (), facts, None, None, None),
        curve=None,
        pieces=DosePieces(
            piece=np.empty(0, dtype=np.str_),
            pour=np.empty(0, dtype=np.str_),
            seconds=empty,
            share=empty,
        ),
    )
