"""What is to be found out by the next pours."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.plan import TWO, PlanQuestion
from analysis.planning.plan import levels_to_plan, tangled_with
from analysis.services import log as log_service
from analysis.services import plans
from analysis.vocabulary import NONE, VOCABULARIES
from ui.plan import words
from ui.widgets.fields import number, pick, segments
from ui.widgets.notice import hint, plain

if TYPE_CHECKING:
    from analysis.model.comparison import PieceTable
    from analysis.services.log import Log

_ANY = ""
_OR_NONE = frozenset({"joint_sealing", "release_agent"})


def ask(log: Log, table: PieceTable) -> PlanQuestion | None:
    """Ask; None while two ways are not chosen yet."""
    offered, tangled = plans.factors_to_plan(table)
    first = offered.index(tangled[0]) if tangled else 0
    by = pick(
        words.FACTOR,
        {name: words.factor(name) for name in offered},
        "plan by",
        index=first,
    )
    by = by or offered[first]
    if by in tangled:
        plain(words.tangled(by, tangled_with(table, by)))
    levels = _levels(log, table, by)
    size = segments(words.SIZE, words.SIZES, "plan size")
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
        ratio=words.RATIOS[size],
        pieces_per_pour=None if at_most is None else int(at_most),
    )


def _levels(log: Log, table: PieceTable, by: str) -> tuple[str, ...]:
    tried = levels_to_plan(table, by)
    known = log_service.words(log, by) if by in VOCABULARIES else ()
    extra = (NONE,) if by in _OR_NONE else ()
    names = list(dict.fromkeys((*tried, *known, *extra)))
    ends = (tried[0], tried[-1]) if len(tried) > 1 else (*names[:1], *names[-1:])
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
    return pick(words.FORM_TYPE, names, "plan form type", index=0) or None
