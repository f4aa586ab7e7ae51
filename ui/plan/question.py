"""What is to be found out by the next pours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.field_words import label_of
from analysis.model.plan import TWO, PlanQuestion
from analysis.planning.pour_plan import levels_to_plan, tangled_with
from analysis.services import log as log_service
from analysis.services import plans
from analysis.vocabulary import NONE, VOCABULARIES
from ui.cache import next_steps
from ui.plan import words
from ui.widgets.fields import number, pick, segments
from ui.widgets.notice import hint, plain

if TYPE_CHECKING:
    from analysis.model.comparison import PieceTable
    from analysis.model.next_step import NextStep
    from analysis.services.log import Log

_ANY = ""
_BY, _SIZE, _TYPE = "plan by", "plan size", "plan form type"
_OR_NONE = frozenset({"joint_sealing", "release_agent"})


def ask(log: Log, table: PieceTable) -> PlanQuestion | None:
    """Ask; None while two ways are not chosen yet."""
    offered, tangled = plans.factors_to_plan(table)
    first = offered.index(tangled[0]) if tangled else 0
    pressing = None if tangled else next_steps.of_shop(log)
    if pressing is not None and pressing.kind == "cast" and pressing.by in offered:
        first = offered.index(pressing.by)
    by = pick(
        words.FACTOR,
        {name: label_of(name) for name in offered},
        _BY,
        index=first,
    )
    by = by or offered[first]
    if by in tangled:
        plain(words.tangled(by, tangled_with(table, by)))
    wanted = next_steps.filled_in(log, by)
    levels = _levels(log, table, by, wanted.levels)
    sizes = {ratio: name for name, ratio in words.RATIOS.items()}
    key = f"{_SIZE} {by}"
    st.session_state.setdefault(key, sizes.get(wanted.ratio, next(iter(words.SIZES))))
    size = segments(words.SIZE, words.SIZES, key)
    with st.expander(words.MORE):
        form_type = _form_type(log)
        at_most = number(words.AT_MOST, "plan at most")
    if len(levels) < TWO:
        hint(words.TWO_LEVELS)
        return None
    if levels[0] == levels[1]:
        hint(words.SAME_LEVELS)
        return None
    return PlanQuestion(
        by=by,
        levels=levels,
        form_type=form_type,
        ratio=words.RATIOS.get(size, words.RATIOS["half"]),
        margin=words.MARGIN if size == "alike" else None,
        pieces_per_pour=None if at_most is None else int(at_most),
    )


def hand_on(step: NextStep, offered: tuple[str, ...]) -> None:
    """Ask here what a next step is about, at its size."""
    state = st.session_state
    if step.by not in offered:
        return
    state[_BY], state[_TYPE] = step.by, step.form_type or _ANY
    for label, level in zip((words.FIRST, words.SECOND), step.levels, strict=True):
        state[f"plan {label} {step.by}"] = level
    sizes = {ratio: name for name, ratio in words.RATIOS.items()}
    if step.ratio in sizes:
        state[f"{_SIZE} {step.by}"] = sizes[step.ratio]


def _levels(
    log: Log, table: PieceTable, by: str, wanted: tuple[str, ...]
) -> tuple[str, ...]:
    tried = levels_to_plan(table, by)
    known = log_service.words(log, by) if by in VOCABULARIES else ()
    extra = (NONE,) if by in _OR_NONE else ()
    names = list(dict.fromkeys((*tried, *known, *extra, *wanted)))
    ends = (tried[0], tried[-1]) if len(tried) > 1 else (*names[:1], *names[-1:])
    ends = wanted or ends
    places = st.columns(2)
    chosen = []
    for place, label, at in zip(
        places, (words.FIRST, words.SECOND), (0, -1), strict=True
    ):
        with place:
            chosen.append(_way(by, label, names, ends[at] if len(ends) > 1 else None))
    return tuple(" ".join(one.split()) for one in chosen if one and one.strip())


def _way(by: str, label: str, names: list[str], first: str | None) -> str | None:
    key = f"plan {label} {by}"
    if not names:
        typed: str = st.text_input(
            label, key=key, placeholder=words.example(by), persist_state="session"
        )
        return typed
    chosen: str | None = st.selectbox(
        label,
        names,
        index=None if first is None else names.index(first),
        format_func=lambda name: words.way(by, name),
        accept_new_options=True,
        key=key,
        placeholder=words.CHOOSE,
        persist_state="session",
    )
    return chosen


def _form_type(log: Log) -> str | None:
    found = sorted(
        {form.form_type for form in log_service.forms(log)} - {None}, key=str
    )
    if len(found) < TWO:
        return None
    names = {_ANY: words.ANY_TYPE} | {str(name): str(name) for name in found}
    return pick(words.FORM_TYPE, names, _TYPE, index=0) or None
