"""The casting that would settle whether it is vibration."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.power import pours_needed
from analysis.model.notes import note
from analysis.model.vibration import DOSE_COLUMNS, TrialCasting
from analysis.vibration.suggestions import nice_times
from analysis.vibration.words.doses import by_hand

if TYPE_CHECKING:
    from analysis.model.notes import Note
    from analysis.model.plan import Plan
    from analysis.model.vibration import VibrationQuestion
    from analysis.vibration.dose import Draws
    from analysis.vibration.dose_rows import Gathered
    from analysis.vibration.why import Facts

# Where nothing was cast yet: a poker needs 10 to 15 s a place (US Army manual EN5466),
# tables run far longer (up to minutes in countertop shops): two times to begin with.
FIRST_S = {"poker": (10.0, 15.0)}
OTHER_FIRST_S = (20.0, 40.0)
# ASTM C31 rods each layer of a small specimen 25 times (from memory, check against the
# standard); passes of a screed or table: common practice.
FIRST_DOSE = {"strokes": (25.0, 50.0), "passes": (1.0, 2.0)}
STEP = 1.5  # the second time of a trial over the first
NEAR = 0.1  # of the time used now: no other time
PIECES = 2  # of each time, where the log does not say how many fit a pour
MOST_PIECES = 4
MOST_POURS = 12
SUPPOSED_WITHIN = 0.4  # spread of log shares between pieces of one pour
WANTED_RATIO = 0.6  # difference worth finding


def next_casting(
    facts: Facts, gathered: Gathered | None, draws: Draws | None, along: str | None
) -> TrialCasting:
    """Return what to cast next.

    Two times (or two settings, where something else comes first) in one pour, shared
    out by lot: pours differ more than pieces of one, and that difference drops out.

    Parameters
    ----------
    facts : Facts
        The decision and what it rests on.
    gathered : Gathered or None
        The pieces; None where none was cast.
    draws : Draws or None
        The curve's, for the spread inside pours; None takes what is usual.
    along : str or None
        Column of the setting that went along with the amount.
    """
    pieces, dose = _pieces(gathered), facts.question.dose
    spread = SUPPOSED_WITHIN if draws is None else max(round(draws.within, 1), 0.1)
    pours = min(
        pours_needed(0.0, spread, pieces, ratio=WANTED_RATIO, mixed=True), MOST_POURS
    )
    if facts.decision == "other_cause_first":
        return TrialCasting(
            title=note(
                "try_other", cause=facts.cause, dose=dose, amount_now=facts.current_s
            ),
            steps=(
                note("in_one_pour", pieces=pieces, cause=facts.cause, dose=dose),
                note(
                    "lots_of_ways", drawn=_lots(pieces, facts.pours), cause=facts.cause
                ),
                note("ask_again", pours=pours, dose=dose),
            ),
        )
    if dose == "seconds" and by_hand(facts.question.method) and not facts.tried:
        return TrialCasting(
            title=note("try_strokes"),
            steps=(
                note("of_each", pieces=pieces),
                note("lots_of_strokes", drawn=_lots(pieces, 0)),
                note("count_strokes"),
                note("repeat", pours=pours),
            ),
        )
    times = _times(facts)
    drawn = tuple(times[one] for one in _lots(pieces, facts.pours))
    return TrialCasting(
        title=note("try_two", decision=facts.decision, times=times, dose=dose),
        steps=(
            note("at_each", pieces=pieces, dose=dose, along=along),
            note("lots_of_amounts", drawn=drawn, dose=dose),
            note("alike", dose=dose),
            note("repeat", pours=pours),
        ),
        times_s=times,
    )


def casting_by_plan(
    question: VibrationQuestion, title: Note, why: Note, plan: Plan | None
) -> TrialCasting:
    """Return the trial that the planner laid out, or the step that comes before one.

    Parameters
    ----------
    question : VibrationQuestion
        What was asked.
    title, why : Note
        The next step and its reason.
    plan : Plan or None
        None where nothing is to be cast.
    """
    if plan is None:
        return TrialCasting(title=title, steps=(why,))
    first = sorted(
        (one for one in plan.assignments if one.pour == 1), key=lambda one: one.order
    )
    drawn = tuple((one.place, one.level) for one in first)
    inside = plan.layout == "within_pours"
    dose, of_dose = question.dose, plan.by in DOSE_COLUMNS.values()
    return TrialCasting(
        title=title,
        steps=(
            why,
            note("all_as_it_is"),
            note("lots_of_plan", drawn=drawn, by=plan.by, dose=dose)
            if inside
            else note("turns"),
            note("alike", dose=dose),
            note("repeat", pours=plan.pours),
        ),
        times_s=tuple(float(level) for level in plan.levels) if of_dose else (),
    )


def _pieces(gathered: Gathered | None) -> int:
    """Return how many pieces of each of two settings fit a usual pour."""
    if gathered is None:
        return PIECES
    usual = int(np.median(np.bincount(gathered.doses.pour)))
    return min(max(usual // 2, 1), MOST_PIECES)


def _times(facts: Facts) -> tuple[float, float]:
    """Return the two times of the trial, the present one first where it is known."""
    method = facts.question.method.casefold().strip()
    if facts.current_s is None or facts.current_s <= 0:
        first = FIRST_S.get(method, OTHER_FIRST_S)
        return FIRST_DOSE.get(facts.question.dose, first)
    now = facts.current_s
    if facts.decision in {"more", "less"} and facts.suggested_s is not None:
        return now, facts.suggested_s
    wanted = _wanted(facts, now)
    low, high = 0.5 * now, 1.75 * now
    if facts.tried:
        low, high = 0.5 * facts.tried[0], 1.75 * facts.tried[-1]
    whole = facts.question.dose != "seconds"
    offered = nice_times(low, high, now, whole=whole)
    wanted = float(np.rint(wanted)) if whole else wanted
    offered = offered[np.abs(offered - now) > NEAR * now]
    ahead = offered[(offered - now) * (wanted - now) > 0]
    if facts.bottom_s is not None and wanted > now:
        ahead = ahead[ahead <= facts.bottom_s]
    offered = ahead if len(ahead) else offered
    if not len(offered):
        return now, wanted
    return now, float(offered[np.argmin(np.abs(offered - wanted))])


def _wanted(facts: Facts, now: float) -> float:
    """Return the other time to try, on the falling side of the curve.

    Longer times have fewer voids up to the bottom of the curve, and more beyond it:
    fewer are looked for towards the bottom, more voids on its near side.
    """
    too_few = facts.now is not None and facts.now.middle < facts.question.target_low
    bottom = facts.bottom_s
    if too_few:
        return min(now, now if bottom is None else bottom) / STEP
    # Less work for the same, or more voids where they are wanted.
    if facts.decision == "same":
        return now / STEP
    if bottom is None:
        return now * STEP
    if abs(bottom - now) <= NEAR * now:
        return now / STEP
    return min(now * STEP, bottom) if bottom > now else max(now / STEP, bottom)


def _lots(pieces: int, seed: int) -> tuple[int, ...]:
    """Draw which of two ways each piece of a pour gets, in the order filled."""
    random = np.random.default_rng([20_021, seed])
    return tuple(random.permutation(np.repeat([0, 1], pieces)).tolist())
