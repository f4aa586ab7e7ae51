"""Beginning a pour: like the last one, as last time in a form, or from nothing."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from analysis.services import log as log_service
from analysis.services import records
from ui.pours import words
from ui.pours.last_time import show_last_time
from ui.widgets import entry as entries
from ui.widgets import pour_entry
from ui.widgets.cards import read_form_card
from ui.widgets.notice import hint, plain
from ui.widgets.presses import act_button
from ui.words import literal

if TYPE_CHECKING:
    from analysis.services.log import Log

_CHOSEN = "last time in"
_OFFERED = 40


def show_ways(log: Log) -> None:
    """Offer the ways to begin, the quickest first."""
    _elsewhere(log)
    last = records.pour_like_last(log)
    if last is not None:
        pour = records.list_castings(log, limit=1)[0].pour
        said = words.like_pour(pour, len(last[1]))
        act_button(
            literal(said),
            lambda: pour_entry.begin_like_last(log),
            key="like last",
            main=True,
            wide=True,
        )
        hint(words.SAME_HINT)
    _last_time(log)
    read_form_card(log)
    act_button(
        words.EMPTY_POUR,
        lambda: pour_entry.begin_empty(log),
        key="empty pour",
        wide=True,
    )


def _last_time(log: Log) -> None:
    """Answer 'what did I do last time with this form' at one tap."""
    forms = {str(form.id): form for form in log_service.forms(log)}
    if not forms:
        st.write(words.NO_FORMS)
        st.page_link("records/page.py", label=words.ADD_FORM)
        return
    st.header(words.LAST_TIME, anchor=False)
    recent = (str(one.form_id) for one in log_service.casting_names(log).values())
    order = [key for key in dict.fromkeys([*recent, *forms]) if key in forms]
    chosen = st.pills(
        words.LAST_TIME_HINT,
        order[:_OFFERED],
        format_func=lambda key: literal(forms[key].name),
        key=_CHOSEN,
    )
    if len(order) > _OFFERED:
        more = st.selectbox(
            words.MORE_FORMS,
            order[_OFFERED:],
            index=None,
            format_func=lambda key: forms[key].name,
        )
        chosen = chosen or more
    if chosen is not None:
        with st.container(border=True):
            show_last_time(log, forms[chosen])
            act_button(
                words.CAST_AGAIN,
                lambda: pour_entry.begin_with(log, int(chosen)),
                key="cast again",
                about=chosen,
                main=True,
                wide=True,
            )


def _elsewhere(log: Log) -> None:
    """Offer what was begun in another browser, or here before the address was lost."""
    for key, entry in entries.elsewhere(log, pour_entry.TOPIC).items():
        with st.container(border=True):
            plain(words.unfinished_line(entry[pour_entry.TOPIC], len(entry["pieces"])))
            with st.container(horizontal=True):
                act_button(
                    words.GO_ON,
                    partial(entries.take_over, log, pour_entry.TOPIC, key),
                    key=f"go on {key}",
                    main=True,
                )
                act_button(
                    words.THROW_AWAY,
                    partial(entries.drop, log, key),
                    key=f"throw away {key}",
                )
