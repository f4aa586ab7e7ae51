"""Forms: how each one wears, and what to do about it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.monitoring.note_words import ADVICE_WORDS
from analysis.services import log as log_service
from analysis.services import passport
from ui import cache
from ui.batches import words
from ui.forms import words as form_words
from ui.forms.form import show_form, show_types
from ui.paper.offers import offer_form
from ui.widgets import entry as entries
from ui.widgets.cards import offer_cards
from ui.widgets.notice import plain_lines, refuse
from ui.words import MEASURE

if TYPE_CHECKING:
    from analysis.model.outlook import FormWear
    from analysis.model.workshop import Form
    from analysis.services.log import Log

_FORM = "form"
_LONGEST_ID = 18
_MOST_URGENT = ("retire", "refinish", "re_seal", "no_sign", "too_early")


def render() -> None:
    """Draw the page."""
    chosen = st.query_params.get(_FORM, "")
    try:
        log = cache.log()
        if chosen.isdecimal() and len(chosen) <= _LONGEST_ID:
            st.button(words.ALL_OF_THEM, on_click=_close)
            form = _named(log, int(chosen))
            if form is None:
                return
            wear = cache.wear(log).get(form.name)
            show_form(log, form, wear)
            offer_form(log, form.name, wear)
            names = {one.id: one.name for one in log_service.forms(log) if one.id}
            offer_cards(log, "form", names | {form.id or 0: form.name}, form.id or 0)
        else:
            _all_forms(log)
    except StruckfaceError as error:
        refuse(error)


def _named(log: Log, form_id: int) -> Form | None:
    """Return the form that the address names; else say so."""
    try:
        return log_service.form(log, form_id)
    except StruckfaceError as error:
        st.title(words.FORMS, anchor=False)
        refuse(error)
        return None


def _all_forms(log: Log) -> None:
    entries.stay()
    st.title(words.FORMS, anchor=False)
    forms = log_service.forms(log)
    if not forms:
        st.write(words.NO_FORM)
        st.write(words.NO_FORM_NEXT)
        st.page_link("records/page.py", label=form_words.ADD)
        st.page_link("measure/page.py", label=MEASURE)
        return
    wear = cache.wear(log)
    due = passport.due_by_form(log)
    for form in sorted(forms, key=lambda form: _place(wear.get(form.name))):
        reminded = [form_words.due_line(one) for one in due.get(form.id or 0, ())]
        _row(form, wear.get(form.name), reminded)
    if types := cache.wear(log, by_type=True):
        show_types(types.values())
    st.page_link("records/page.py", label=form_words.ADD)


def _place(found: FormWear | None) -> int:
    return len(_MOST_URGENT) if found is None else _MOST_URGENT.index(found.advice)


def _row(form: Form, found: FormWear | None, reminded: list[str]) -> None:
    with st.container(
        border=True,
        horizontal=True,
        wrap=False,
        vertical_alignment="center",
        horizontal_alignment="distribute",
    ):
        advice = words.NO_CASTING if found is None else ADVICE_WORDS[found.advice]
        uses = None if found is None else round(found.uses)
        uses_line = words.uses_line(uses, form.form_type)
        plain_lines((form.name, advice, uses_line, *reminded))
        st.button(
            words.OPEN, key=f"open form {form.id}", on_click=_open, args=(form.id,)
        )


def _open(form_id: int) -> None:
    st.query_params[_FORM] = str(form_id)


def _close() -> None:
    st.query_params.clear()


if __name__ == "__main__":
    render()
