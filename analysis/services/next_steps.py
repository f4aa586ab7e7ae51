"""The one planner: what to do next, for every screen and the command line.

Each question (a form type, a factor, a form) has one next step. Compare, Vibration,
Forms, Plan and Home read it here, so that none of them counts or advises for itself.
"""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from analysis.compare.choices import narrowed
from analysis.compare.compare import compare
from analysis.errors import InputError, TableError
from analysis.model.comparison import CompareOptions
from analysis.model.notes import note
from analysis.model.plan import PlanQuestion
from analysis.model.vibration import DOSE_COLUMNS, FirstCause, VibrationQuestion
from analysis.pieces.sealing import JOINTS_SEALED
from analysis.planning.next_step import (
    forms_first,
    most_pressing,
    step_of_comparison,
    step_of_vibration,
    step_of_wear,
    under_way,
)
from analysis.planning.next_words import step_reason, step_sentence
from analysis.planning.pour_plan import levels_to_plan
from analysis.services import plans
from analysis.services.planner_shop import Shop, planned, sized
from analysis.services.vibration_questions import form_types, usual_question
from analysis.vibration.dose_answer import vibration
from analysis.vibration.next_casting import casting_by_plan
from analysis.vocabulary import NONE

if TYPE_CHECKING:
    from analysis.model.comparison import Comparison, PairResult, PieceTable
    from analysis.model.next_step import NextStep
    from analysis.model.notes import Note
    from analysis.model.plan import Plan
    from analysis.model.vibration import VibrationAnswer

DOSES = frozenset(DOSE_COLUMNS.values())
TWO = 2
_TYPES_ASKED = 12  # each costs an answer worked out


def step_of_type(shop: Shop, form_type: str) -> NextStep:
    """Return the next step for what is cast in the forms of a type.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> from analysis.services.planner_shop import shop_of_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     step_of_type(shop_of_log(open_log(folder)), "pot").kind
    'cast'
    """
    return answered(shop, usual_question(shop.log, shop.table, form_type))[1]


def answered(
    shop: Shop, question: VibrationQuestion
) -> tuple[VibrationAnswer, NextStep]:
    """Return the answer about vibration, with the one next step as its trial.

    Where a form of the type left its target, that form comes first, and the answer
    says so.
    """
    if question not in shop.found:
        shop.found[question] = _answered(shop, question)
    return shop.found[question]


def type_to_ask(shop: Shop) -> str | None:
    """Return the form type to ask about first: the one whose answer tells most.

    Of those cast, most first: one whose times differ and that has a decision, else one
    whose times differ, else the first; None where none was cast.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.tables import trials_of_log
    >>> from analysis.services.log import open_log
    >>> from analysis.services.planner_shop import shop_of_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     type_to_ask(shop_of_log(log, trials_of_log(log), {})) is None
    True
    """
    cells = shop.table.text.get("form_type")
    cast = set() if cells is None else set(cells.tolist())
    types = [one for one in form_types(shop.log, shop.table) if one in cast]
    drawn = None
    for form_type in types[:_TYPES_ASKED]:
        question = usual_question(shop.log, shop.table, form_type)
        answer = answered(shop, question)[0]
        if answer.curve is None:
            continue
        if answer.decision in {"more", "same", "less"}:
            return form_type
        drawn = drawn or form_type
    return drawn or next(iter(types), None)


def _answered(
    shop: Shop, question: VibrationQuestion
) -> tuple[VibrationAnswer, NextStep]:
    answer = vibration(shop.table, question)
    step = (
        _forms_first(shop, question.form_type)
        or _under_way(shop, question.form_type)
        or step_of_vibration(answer, partial(sized, shop))
    )
    if step.mends and step.forms:
        answer = replace(
            answer,
            decision="other_cause_first",
            cause=FirstCause(name="form_use"),
            reasons=(),
            why=(*_said(step), *answer.why),
            suggested_s=answer.current_s,
            expected=answer.now,
        )
    title, reason = _said(step)
    trial = casting_by_plan(question, title, reason, _laid_out(shop, step))
    return replace(answer, trial=trial), step


def _said(step: NextStep) -> tuple[Note, Note]:
    """Return a step and its reason, for an answer to tell."""
    return note("next_step", said=step_sentence(step)), note(
        "next_step", said=step_reason(step)
    )


def step_of_form(shop: Shop, form: str) -> NextStep | None:
    """Return the next step for a form: its own mending, else that of its type."""
    found = shop.wear([form]).get(form)
    own = None if found is None else step_of_wear(found)
    if own is not None:
        return own
    kind = next((one.form_type for one in shop.forms if one.name == form), None)
    return None if kind is None else step_of_type(shop, kind)


def step_of_factor(shop: Shop, asked: PlanQuestion) -> NextStep:
    """Return the next step for a factor of the log.

    Raises
    ------
    InputError
        The factor cannot be dealt by lot, or two levels have to be named first.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> from analysis.services.planner_shop import shop_of_log
    >>> asked = PlanQuestion(by="joint_sealing", levels=("tape", "none"))
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     step_of_factor(shop_of_log(open_log(folder)), asked).kind
    'cast'
    """
    pair = None if asked.by in DOSES else _compared(shop, asked)
    return step_of_pair(shop, asked, pair)


def step_of_pair(shop: Shop, asked: PlanQuestion, pair: PairResult | None) -> NextStep:
    """Return the next step for a factor whose two levels were compared already."""
    by, form_type = asked.by, asked.form_type
    if pair is None or sized(shop, asked) is not None:
        laid_out = planned(shop, asked)
        by, form_type = laid_out.by, laid_out.form_type
    if asked.by in DOSES and form_type is not None:
        return _step_of_dose(shop, asked, form_type)
    step = step_of_comparison(pair, asked, partial(sized, shop))
    if step.kind != "cast":
        return step
    first = _forms_first(shop, form_type) or _under_way(shop, form_type, by)
    return first or step


def _step_of_dose(shop: Shop, asked: PlanQuestion, form_type: str) -> NextStep:
    """Return the step of the form type that two amounts were tried in."""
    if asked.form_type is None:
        form_type = _tried_in(shop.table, asked) or form_type
    question = usual_question(shop.log, shop.table, form_type)
    (dose,) = (name for name, one in DOSE_COLUMNS.items() if one == asked.by)
    try:
        return answered(shop, replace(question, dose=dose))[1]
    except TableError:  # nothing of that kind was counted yet
        return step_of_comparison(None, asked, partial(sized, shop))


def _tried_in(table: PieceTable, asked: PlanQuestion) -> str | None:
    """Return the form type cast most with both levels of a question."""
    if "form_type" not in table.text or asked.by not in table.number:
        return None
    kinds, amounts = table.text["form_type"], table.number[asked.by]
    found = [
        kinds[(amounts == float(level)) & (kinds != "")].tolist()
        for level in asked.levels
    ]
    both = set.intersection(*map(set, found)) if found else set()
    return max(sorted(both), key=kinds.tolist().count, default=None)


def step_of_shop(shop: Shop) -> NextStep | None:
    """Return what to do before anything else; None in an empty log.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> from analysis.services.planner_shop import shop_of_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     step_of_shop(shop_of_log(open_log(folder))) is None
    True
    """
    if not len(shop.table):
        return None
    cast = {one for one in shop.table.text.get("form_type", ()) if one}
    types = [one for one in form_types(shop.log, shop.table) if one in cast]
    steps = [step_of_type(shop, one) for one in types]
    tangled = plans.factors_to_plan(shop.table)[1]
    for name in tangled[:1]:
        try:
            steps.append(step_of_factor(shop, PlanQuestion(by=name)))
        except InputError:
            continue  # one level is left: nothing to tell apart
    return most_pressing(steps)


def filled_in(shop: Shop, asked: PlanQuestion) -> PlanQuestion:
    """Give a question about vibration the two amounts the next step asks for.

    Any other question, and one whose levels were named, stays as it is.
    """
    if asked.by not in DOSES or asked.levels:
        return asked
    form_type = asked.form_type or planned(shop, asked).form_type
    if form_type is None:
        return asked
    step = step_of_type(shop, form_type)
    if step.kind != "cast" or step.by != asked.by:
        return replace(asked, form_type=form_type)
    ratio = asked.ratio if step.ratio is None else step.ratio
    return replace(asked, levels=step.levels, form_type=form_type, ratio=ratio)


def with_step(
    shop: Shop, comparison: Comparison, form_type: str | None = None
) -> Comparison:
    """Let the planner say what a comparison needs, so that no page counts otherwise."""
    if comparison.outcome != "void_area_percent":
        return comparison
    pairs = tuple(
        _needed(shop, comparison.by, one, form_type) for one in comparison.pairs
    )
    at = comparison.pairs.index(comparison.head)
    return replace(comparison, head=pairs[at], pairs=pairs)


def _needed(shop: Shop, by: str, pair: PairResult, form_type: str | None) -> PairResult:
    """Return a pair with the step of the planner; as it is where there is none."""
    try:
        asked = PlanQuestion(by=by, levels=pair.levels, form_type=form_type)
        step = step_of_pair(shop, asked, pair)
    except InputError:
        return pair
    needed = note("next_step", step=step_sentence(step), reason=step_reason(step))
    if step.kind != "cast":
        return replace(pair, needed=needed)
    each = step.pours if step.layout != "between_pours" else step.pours // TWO
    return replace(
        pair,
        pours_needed=each,
        pieces_needed=each * step.pieces_per_level,
        needed=needed,
    )


def _forms_first(shop: Shop, form_type: str | None) -> NextStep | None:
    names = {one.name for one in shop.forms if one.form_type == form_type}
    return forms_first(form_type, list(shop.wear(names).values()))


def _under_way(shop: Shop, form_type: str | None, by: str = "") -> NextStep | None:
    """Return the trial that is being cast in these forms, or about this factor."""
    for one in shop.kept:
        if one.plan.by == by or one.plan.form_type == form_type:
            step = under_way(one.plan, len(one.cast))
            if step is not None:
                return step
    return None


def _laid_out(shop: Shop, step: NextStep) -> Plan | None:
    """Return the plan of a step that is to be cast."""
    if step.kind != "cast":
        return None
    asked = PlanQuestion(
        by=step.by,
        levels=step.levels,
        form_type=step.form_type,
        ratio=step.ratio or PlanQuestion(by=step.by).ratio,
    )
    seed = plans.fresh_seed(shop.log, asked)
    return sized(shop, replace(asked, seed=seed))


def _compared(shop: Shop, asked: PlanQuestion) -> PairResult | None:
    """Compare the two levels of a question; None where that cannot be done yet."""
    levels = asked.levels or _ends(levels_to_plan(shop.table, asked.by))
    by = asked.by
    if by == "joint_sealing" and NONE in levels and JOINTS_SEALED in shop.table.text:
        by = JOINTS_SEALED
        levels = ("no", "yes") if levels[0] == NONE else ("yes", "no")
    table = shop.table
    if asked.form_type is not None:
        table = narrowed(table, alike={"form_type": asked.form_type})
    try:
        return compare(table, CompareOptions(by=by, levels=levels)).head
    except (InputError, TableError):
        return None


def _ends(levels: tuple[str, ...]) -> tuple[str, ...]:
    return (levels[0], levels[-1]) if len(levels) >= TWO else ()
