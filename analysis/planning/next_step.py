"""The one next step: what a form, a trial, the curve and a comparison ask for.

Forms that left their target come first, since every casting in them says more of the
form than of what was changed; then a trial that is under way; then what the curve over
the seconds, or the comparison, leaves open. A trial is sized by
`analysis.planning.pour_plan` and by nothing else.
"""

from __future__ import annotations

from dataclasses import replace
from math import log
from typing import TYPE_CHECKING

from analysis.model.next_step import MEND, NextStep
from analysis.model.plan import PlanQuestion
from analysis.model.vibration import DOSE_COLUMNS
from analysis.planning.pour_plan import can_be_planned

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

    from analysis.model.comparison import PairResult
    from analysis.model.next_step import Reason, StepKind
    from analysis.model.outlook import FormWear
    from analysis.model.plan import Plan
    from analysis.model.vibration import VibrationAnswer

    Sized = Callable[[PlanQuestion], Plan | None]

# Differences a plan can be asked to find: void area of one way over the other.
SIZES = (0.5, 0.67, 0.8)
# By hand nothing was counted yet: ASTM C31 rods each layer of a small specimen 25 times
# (from memory, check against the standard), and twice that.
FIRST_STROKES = ("25", "50")
_URGENCY: tuple[StepKind, ...] = (
    *MEND,
    "seal",
    "remix",
    "go_on",
    "cast",
    "look",
    "keep",
    "leave",
)
_MENDED_BY: dict[str, tuple[StepKind, Reason]] = {
    "retire": ("retire", "worn_again"),
    "refinish": ("refinish", "wears"),
    "re_seal": ("re_seal", "joints_open"),
}


def ratio_to_find(expected: float) -> float:
    """Return the difference to plan for, nearest to the ratio that is expected.

    Examples
    --------
    >>> ratio_to_find(0.3), ratio_to_find(0.69), ratio_to_find(0.97), ratio_to_find(2.0)
    (0.5, 0.67, 0.8, 0.5)
    """
    if expected <= 0:
        return SIZES[0]
    down = -abs(log(expected))
    return min(SIZES, key=lambda size: abs(log(size) - down))


def step_of_wear(found: FormWear) -> NextStep | None:
    """Return what a form asks for by itself; None where it shows no wear.

    A form that wears and is still in its target is told with the castings it has left.
    """
    if found.advice not in _MENDED_BY:
        return None
    kind, reason = _MENDED_BY[found.advice]
    left = found.remaining
    if left == 0.0 and reason != "worn_again":
        reason = "left_target"
    return NextStep(
        kind=kind,
        reason=reason,
        forms=(found.name,),
        castings_left=None if not left else round(left),
        rests_on_pours=len(found.use),
    )


def forms_first(form_type: str | None, worn: Iterable[FormWear]) -> NextStep | None:
    """Return the mending that comes before anything else is cast in these forms.

    A form that wears but has castings left inside its target does not hold up others.
    """
    steps = [one for one in map(step_of_wear, worn) if one is not None]
    steps = [one for one in steps if one.castings_left is None]
    if not steps:
        return None
    kind = min((one.kind for one in steps), key=MEND.index)
    alike = [one for one in steps if one.kind == kind]
    return replace(
        alike[0],
        form_type=form_type,
        forms=tuple(name for one in alike for name in one.forms),
        rests_on_pours=max(one.rests_on_pours for one in alike),
    )


def under_way(plan: Plan, cast: int) -> NextStep | None:
    """Return the trial that is being cast; None where all of it is."""
    if cast >= plan.pours:
        return None
    return replace(_cast(plan, "under_way", 0), kind="go_on", pours_cast=cast)


def step_of_vibration(answer: VibrationAnswer, sized: Sized) -> NextStep:
    """Return what the curve over the amounts asks for."""
    question, pours = answer.question, len(set(answer.pieces.pour.tolist()))
    form_type, column = question.form_type, DOSE_COLUMNS[question.dose]
    about = NextStep(
        kind="keep",
        reason="in_target",
        form_type=form_type,
        by=column,
        rests_on_pours=pours,
    )
    if answer.decision == "same":
        return replace(about, levels=(f"{answer.current_s:g}",))
    if answer.decision == "other_cause_first":
        return _other_cause(answer, about, sized)
    by, levels = column, tuple(f"{one:g}" for one in answer.trial.times_s)
    if not levels:
        by, levels = "strokes", FIRST_STROKES
    firm = answer.decision in {"more", "less"}
    ratio = SIZES[0]
    if firm and answer.expected is not None and answer.now is not None:
        ratio = ratio_to_find(answer.expected.middle / answer.now.middle)
    asked = PlanQuestion(by=by, levels=levels, form_type=form_type, ratio=ratio)
    return _planned(asked, "check_amount" if firm else "open", about, sized)


def _other_cause(answer: VibrationAnswer, about: NextStep, sized: Sized) -> NextStep:
    """Return the step about what comes before the amount."""
    if answer.cause is None:
        return replace(about, kind="look", reason="no_amount_will_do")
    cause = answer.cause.name
    if cause == "joint_band_percent":
        return replace(about, kind="seal", reason="leaks", by="joint_sealing")
    if cause == "honeycomb_percent":
        return replace(about, kind="remix", reason="stiff", by="consistency")
    if cause == "form_use":
        return replace(about, kind="refinish", reason="forms_worn", by="")
    levels = (answer.cause.worse, answer.cause.better)
    if not can_be_planned(cause) or not all(levels):
        return replace(about, kind="look", reason="no_amount_will_do")
    asked = PlanQuestion(by=cause, levels=levels, form_type=about.form_type)
    return _planned(asked, "better_setting", replace(about, by=cause), sized)


def step_of_comparison(
    pair: PairResult | None, asked: PlanQuestion, sized: Sized
) -> NextStep:
    """Return what a comparison of two levels asks for.

    Parameters
    ----------
    pair : PairResult or None
        The comparison; None where there is nothing to compare yet.
    asked : PlanQuestion
        The trial that would settle it.
    sized : callable
        Lays a plan out; None where it would take too many pours.
    """
    about = NextStep(
        kind="keep",
        reason="shown",
        form_type=asked.form_type,
        by=asked.by,
        rests_on_pours=0 if pair is None else _pours(pair),
    )
    if pair is None:
        return _planned(asked, "open", about, sized)
    if pair.verdict in {"lower", "higher"}:
        at = 0 if pair.verdict == "lower" else 1
        if pair.dealt == "by_lot":
            return replace(about, levels=asked.levels[at : at + 1])
        return _planned(asked, "not_dealt", about, sized)
    if pair.verdict == "cannot_separate":
        return _planned(asked, "not_separated", about, sized)
    low, high = pair.ratio_low, pair.ratio_high
    if (
        pair.verdict == "no_clear_difference"
        and low is not None
        and high is not None
        and asked.ratio < low
        and high < 1 / asked.ratio
    ):
        return replace(about, kind="leave", reason="alike", levels=asked.levels)
    return _planned(asked, "open", about, sized)


def most_pressing(steps: Sequence[NextStep]) -> NextStep | None:
    """Return the step to take first: forms, then leaks, then trials.

    Examples
    --------
    >>> keep = NextStep(kind="keep", reason="in_target")
    >>> mend = NextStep(kind="refinish", reason="left_target", forms=("Pot 2",))
    >>> most_pressing([keep, mend]).kind
    'refinish'
    """
    return min(steps, key=lambda one: _URGENCY.index(one.kind), default=None)


def _pours(pair: PairResult) -> int:
    """Count the pours of the level that has more of them."""
    return max(group.n_pours for group in pair.groups)


def _planned(
    asked: PlanQuestion, reason: Reason, about: NextStep, sized: Sized
) -> NextStep:
    plan = sized(asked)
    if plan is None:
        return replace(
            about, kind="leave", reason="too_small", levels=asked.levels, by=asked.by
        )
    return _cast(plan, reason, about.rests_on_pours)


def _cast(plan: Plan, reason: Reason, rests_on: int) -> NextStep:
    return NextStep(
        kind="cast",
        reason=reason,
        form_type=plan.form_type,
        by=plan.by,
        levels=plan.levels,
        layout=plan.layout,
        pieces_per_level=plan.pieces_per_level,
        pours=plan.pours,
        ratio=plan.ratio,
        rests_on_pours=rests_on,
    )
