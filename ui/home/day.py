"""What the day asks for: a section each, shown where there is something to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.monitoring.note_words import ADVICE_WORDS
from analysis.services import batches as batches_service
from analysis.services import log as log_service
from analysis.services import passport
from ui import cache
from ui.batches import words as batches_words
from ui.batches.baseline import rules_in_use
from ui.cache import Scope
from ui.forms import words as form_words
from ui.home import words
from ui.plan import words as plan_words
from ui.widgets.notice import plain, plain_lines

if TYPE_CHECKING:
    from analysis.model.outlook import FormWear
    from analysis.model.workshop import Form
    from analysis.services.log import Log
    from analysis.services.overview import Overview

_TALKS = ("drifting", "one_pour")


def show_day(log: Log, found: Overview) -> bool:
    """Show the sections, and tell whether there was one."""
    shown = [
        _pours(found),
        _waiting(found),
        _outside(found),
        _forms(log),
        _drift(log),
        _trials(found),
    ]
    return any(shown)


def _pours(found: Overview) -> bool:
    if found.pours:
        st.header(words.TODAY, anchor=False)
    for one in found.pours:
        with _row():
            plain(words.pour_line(one))
            asked = {"pour_id": str(one.pour.id)}
            st.page_link("pieces/page.py", label=words.SEE, query_params=asked)
    return bool(found.pours)


def _waiting(found: Overview) -> bool:
    line = words.waiting_line(found)
    if line:
        st.header(words.WAITING, anchor=False)
        with _row():
            plain(line)
            st.page_link("photo_queue/page.py")
    return bool(line)


def _outside(found: Overview) -> bool:
    line = words.outside_line(found)
    if not line:
        return False
    st.header(words.OUTSIDE, anchor=False)
    plain(line)
    with st.container(horizontal=True):
        for place, count, label in (
            ("above", found.above, words.SEE_MORE),
            ("below", found.below, words.SEE_LESS),
        ):
            if count:
                asked = {"place": place, "from_day": str(found.lately)}
                st.page_link("pieces/page.py", label=label, query_params=asked)
    return True


def _forms(log: Log) -> bool:
    """List forms whose wear, reminders or nearness to the target ask for work."""
    wear, due = cache.wear(log), passport.due_by_form(log)
    told = []
    for form in log_service.forms(log):
        lines = [form_words.due_line(one) for one in due.get(form.id or 0, ())]
        worn = wear.get(form.name)
        if worn is not None:
            lines = [*_worn(log, form, worn), *lines]
        if lines:
            told.append((form, lines))
    if told:
        st.header(words.FORMS, anchor=False)
    for form, lines in told:
        with _row():
            plain_lines([f"{form.name}: {lines[0]}", *lines[1:]])
            st.page_link(
                "forms/page.py",
                label=batches_words.OPEN,
                query_params={"form": str(form.id)},
            )
    return bool(told)


def _worn(log: Log, form: Form, worn: FormWear) -> list[str]:
    """Say what a form's wear asks for, unless that was answered."""
    if worn.advice in passport.ANSWERS:
        if passport.passport(log, form, worn.advice).answered is not None:
            return []
        return [ADVICE_WORDS[worn.advice]]
    near = worn.remaining is not None and worn.remaining <= form_words.LEAVES_SOON
    return [batches_words.remaining_line(worn)] if near and worn.remaining else []


def _drift(log: Log) -> bool:
    pieces = cache.pieces(log)
    lines = () if pieces is None else batches_service.line_names(pieces)
    told = []
    for line in lines:
        found = cache.batches(log, Scope(product_line=line), rules_in_use())
        if found.status.state in _TALKS:
            told.append(f"{line}: {found.sentence}")
    if told:
        st.header(words.DRIFT, anchor=False)
        for sentence in told:
            plain(sentence)
        st.page_link("batches/page.py", label=batches_words.BATCHES)
    return bool(told)


def _trials(found: Overview) -> bool:
    if found.trials:
        st.header(words.TRIALS, anchor=False)
        for one in found.trials:
            plain(f"{plan_words.plan_title(one.plan)}: {plan_words.made_line(one)}")
        st.page_link("plan/page.py", label=plan_words.PLAN)
    return bool(found.trials)


def _row() -> st.delta_generator.DeltaGenerator:
    return st.container(
        horizontal=True,
        vertical_alignment="center",
        horizontal_alignment="distribute",
    )
