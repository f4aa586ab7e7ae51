"""The casting that would settle whether it is vibration."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.power import pours_needed
from analysis.model.field_words import column_words
from analysis.model.vibration import DOSE_COLUMNS, TrialCasting
from analysis.vibration.suggestions import nice_times
from analysis.vibration.words.doses import WORDS, amount, by_hand, level_of

if TYPE_CHECKING:
    from analysis.model.plan import Plan
    from analysis.model.vibration import Decision, FirstCause, VibrationQuestion
    from analysis.vibration.dose import Draws
    from analysis.vibration.dose_rows import Gathered
    from analysis.vibration.words.reasons import Facts

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

ONE_MIX = "Same mix, same forms, same joints, same release agent; {}"
BY_LOT = "Fill in this order, drawn by lot: {}."
BY_WATCH = "{}, strike all after the same hours, photograph all the same way."
COUNT_STROKES = (
    "Count the strokes and log them. Strokes are never compared with seconds."
)
IN_ONE_POUR = "In one pour, cast {} '{}' and {} '{}', all {}."
TURNS = "One of the two a pour, in pairs of pours; the lot says which comes first."
REPEAT = "Do this in {} pours in all, with new lots each time."


def next_casting(
    decision: Decision,
    causes: tuple[FirstCause, ...],
    facts: Facts,
    gathered: Gathered | None,
    draws: Draws | None,
    along: str | None,
) -> TrialCasting:
    """Return what to cast next.

    Two times (or two settings, where something else comes first) in one pour, shared
    out by lot: pours differ more than pieces of one, and that difference drops out.
    """
    pieces = _pieces(gathered)
    spread = SUPPOSED_WITHIN if draws is None else max(round(draws.within, 1), 0.1)
    pours = min(
        pours_needed(0.0, spread, pieces, ratio=WANTED_RATIO, mixed=True), MOST_POURS
    )
    if decision == "other_cause_first":
        return _settings_trial(causes, facts, pours, pieces)
    dose = facts.question.dose
    if dose == "seconds" and by_hand(facts.question.method) and not facts.tried:
        return _strokes_trial(pours, pieces)
    times, said = _times(decision, facts), WORDS[dose]
    names = tuple(amount(one, dose) for one in times)
    lots = _lots(names, pieces, facts.pours)
    keep = "" if along is None else f" Keep {_word(along)} the same."
    title = f"Next: {names[0]} and {names[1]} in one pour."
    if decision in {"more", "less"}:
        title = f"Next: check it with {names[0]} and {names[1]} in one pour."
    if decision == "same":
        title = (
            f"Nothing to decide. To learn more, cast {names[0]} and {names[1]} in one "
            f"pour."
        )
    steps = (
        ONE_MIX.format(f"{_count(pieces)} at each {said.number}.{keep}"),
        BY_LOT.format(", ".join(lots)),
        BY_WATCH.format(said.by),
        REPEAT.format(pours),
    )
    return TrialCasting(
        title=title,
        steps=steps,
        times_s=times,
        pours=pours,
        pieces=pieces,
        lots=lots,
    )


def casting_by_plan(
    question: VibrationQuestion, title: str, why: str, plan: Plan | None
) -> TrialCasting:
    """Return the trial that the planner laid out, or the step that comes before one.

    Parameters
    ----------
    question : VibrationQuestion
        What was asked.
    title, why : str
        The next step and its reason.
    plan : Plan or None
        None where nothing is to be cast.
    """
    if plan is None:
        return TrialCasting(
            title=title, steps=(why,), times_s=(), pours=0, pieces=0, lots=()
        )
    dose, of_dose = question.dose, plan.by in DOSE_COLUMNS.values()
    first = sorted(
        (one for one in plan.assignments if one.pour == 1), key=lambda one: one.order
    )
    names = [level_of(plan.by, one.level, dose) for one in first]
    lots = tuple(
        f"{one.place} {name}".strip() for one, name in zip(first, names, strict=True)
    )
    inside = plan.layout == "within_pours"
    steps = (
        why,
        ONE_MIX.format("everything else as it is."),
        BY_LOT.format(", ".join(lots)) if inside else TURNS,
        BY_WATCH.format(WORDS[dose].by),
        REPEAT.format(plan.pours),
    )
    times = tuple(float(level) for level in plan.levels) if of_dose else ()
    return TrialCasting(
        title=title,
        steps=steps,
        times_s=times,
        pours=plan.pours,
        pieces=plan.pieces_per_level,
        lots=lots,
    )


def _pieces(gathered: Gathered | None) -> int:
    """Return how many pieces of each of two settings fit a usual pour."""
    if gathered is None:
        return PIECES
    usual = int(np.median(np.bincount(gathered.doses.pour)))
    return min(max(usual // 2, 1), MOST_PIECES)


def _times(decision: Decision, facts: Facts) -> tuple[float, float]:
    """Return the two times of the trial, the present one first where it is known."""
    method = facts.question.method.casefold().strip()
    if facts.current_s is None or facts.current_s <= 0:
        first = FIRST_S.get(method, OTHER_FIRST_S)
        return FIRST_DOSE.get(facts.question.dose, first)
    now = facts.current_s
    if decision in {"more", "less"} and facts.suggested_s is not None:
        return now, facts.suggested_s
    wanted = _wanted(decision, facts, now)
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


def _wanted(decision: Decision, facts: Facts, now: float) -> float:
    """Return the other time to try, on the falling side of the curve.

    Longer times have fewer voids up to the bottom of the curve, and more beyond it:
    fewer are looked for towards the bottom, more voids on its near side.
    """
    too_few = facts.now is not None and facts.now.middle < facts.question.target_low
    bottom = facts.bottom_s
    if too_few:
        return min(now, now if bottom is None else bottom) / STEP
    if (
        decision == "same"
    ):  # less work for the same, or more voids where they are wanted
        return now / STEP
    if bottom is None:
        return now * STEP
    if abs(bottom - now) <= NEAR * now:
        return now / STEP
    return min(now * STEP, bottom) if bottom > now else max(now / STEP, bottom)


def _lots(names: tuple[str, ...], pieces: int, seed: int) -> tuple[str, ...]:
    random = np.random.default_rng([20_021, seed])
    assigned = random.permutation(np.repeat([0, 1], pieces))
    return tuple(names[one] for one in assigned.tolist())


def _count(pieces: int) -> str:
    return "1 piece" if pieces == 1 else f"{pieces} pieces"


def _word(name: str) -> str:
    return "the days" if name == "cast_on" else column_words(name)


def _settings_trial(
    causes: tuple[FirstCause, ...], facts: Facts, pours: int, pieces: int
) -> TrialCasting:
    first, second = "as now", "changed"
    cause = causes[0] if causes else None
    what = "one other thing: release agent, joints or mix"
    if cause is not None:
        first, second, what = {
            "joint_band_percent": ("joints as now", "joints sealed", "joint sealing"),
            "form_use": ("worn form", "refinished form", "the form's wear"),
            "honeycomb_percent": ("mix as now", "wetter or richer mix", "the mix"),
        }.get(
            cause.name,
            (cause.worse or "as now", cause.better or "changed", _word(cause.name)),
        )
    lots = _lots((first, second), pieces, facts.pours)
    at = (
        ""
        if facts.current_s is None
        else f" at {amount(facts.current_s, facts.question.dose)}"
    )
    said = WORDS[facts.question.dose]
    steps = (
        IN_ONE_POUR.format(_count(pieces), first, pieces, second, said.alike),
        BY_LOT.format(", ".join(lots)),
        f"Do this in {pours} pours in all, then ask again about {said.now}.",
    )
    return TrialCasting(
        title=f"Next: try {what}, with {said.now} {said.as_is}{at}.",
        steps=steps,
        times_s=(),
        pours=pours,
        pieces=pieces,
        lots=lots,
    )


def _strokes_trial(pours: int, pieces: int) -> TrialCasting:
    lots = _lots(("usual strokes", "twice the strokes"), pieces, 0)
    return TrialCasting(
        title="Next: your usual strokes per layer and twice as many, in one pour.",
        steps=(
            ONE_MIX.format(f"{_count(pieces)} of each."),
            BY_LOT.format(", ".join(lots)),
            COUNT_STROKES,
            REPEAT.format(pours),
        ),
        times_s=(),
        pours=pours,
        pieces=pieces,
        lots=lots,
    )
