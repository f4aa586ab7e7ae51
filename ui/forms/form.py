"""One form: its trend over its uses, what to do, its last castings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.monitoring.note_words import ADVICE_WORDS, note_words
from analysis.services import batch_marks
from analysis.services import log as log_service
from ui import state
from ui.batches import words
from ui.batches.baseline import show_marks
from ui.batches.chart import wear_chart
from ui.batches.pour import show_castings
from ui.cache import next_steps
from ui.forms.passport_card import show_answer, show_passport, target_ends
from ui.pours.last_time import show_on_form_page
from ui.widgets.cautions import show_cautions, show_lifting
from ui.widgets.fields import day_format
from ui.widgets.inks import screen_inks
from ui.widgets.next_step_card import show_step
from ui.widgets.notice import hint, plain, title
from ui.widgets.presses import act_button
from ui.widgets.void_causes import show_of_form
from ui.words import literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.log_views import Casting
    from analysis.model.outlook import FormWear
    from analysis.model.workshop import Form
    from analysis.services.log import Log

_LAST = 4


def show_form(log: Log, form: Form, found: FormWear | None) -> None:
    """Show the suggestion with its evidence, then the castings."""
    castings = log_service.list_castings(log, form_id=form.id)
    title(form.name)
    plain(words.uses_line(castings[0].form_use if castings else None, form.form_type))
    show_step(next_steps.of_form(log, form.name))
    show_lifting((form,))
    show_on_form_page(log, form)
    if found is None:
        st.write(words.NO_CASTING)
    else:
        limits = target_ends(log, form)
        _wear(found, ADVICE_WORDS[found.advice], limits)
        show_answer(log, form, found.advice)
    show_passport(log, form)
    show_of_form(log, form.id or 0)
    if castings:
        st.header(words.LAST_CASTINGS, anchor=False)
        show_castings(log, castings[:_LAST])
        _refinished(log, form, castings)


def show_types(found: Iterable[FormWear]) -> None:
    """Show what the forms of a type together say of wear."""
    with st.expander(words.BY_TYPE):
        hint(words.BY_TYPE_WHY)
        for one in found:
            _wear(one, words.type_line(one))


def _wear(found: FormWear, said: str, limits: tuple[float, ...] = ()) -> None:
    st.header(literal(said), anchor=False)
    evidence = note_words(found.evidence)
    plain(evidence)
    if words.remaining_line(found):
        plain(words.remaining_line(found))
    if len(found.use):
        chart = wear_chart(found, limits, screen_inks())
        st.altair_chart(chart, width="stretch", alt=evidence)
    for note in found.notes:
        plain(note_words(note))


def _refinished(log: Log, form: Form, castings: tuple[Casting, ...]) -> None:
    with st.expander(words.REFINISHED):
        hint(words.REFINISHED_WHY)
        show_cautions("form")
        show_cautions("repair")
        mark = batch_marks.refinished_marks(log).get(form.name)
        if mark is not None:
            show_marks(log, (mark,))
        day = st.date_input(
            words.REFINISHED_ON,
            value=castings[0].pour.cast_on,
            format=day_format(),
            key=f"refinished on {form.id}",
        )
        token = state.save_token(
            ("refinished", form.id, day, batch_marks.taken_back(log))
        )
        act_button(
            words.KEEP,
            lambda: batch_marks.add_refinished(log, form.name, day, save_token=token),
            key=f"refinished {form.id}",
            wide=True,
        )
