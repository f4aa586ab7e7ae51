"""Log a pour: like the last one, then change what differs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.log import Pour
from analysis.services import records
from ui import cache
from ui.pours import words
from ui.pours.begin import show_ways
from ui.pours.pour_fields import ask_pour
from ui.widgets import entry as entries
from ui.widgets import pour_entry
from ui.widgets.cautions import show_cautions
from ui.widgets.notice import hint, plain, refuse, refusing
from ui.widgets.presses import act_button
from ui.words import ALREADY_SAVED, PIECES, pour_name

if TYPE_CHECKING:
    from analysis.services.log import Log

_SAVED = "pour saved"
_THROWN = "pour thrown away"
_FORM = "form"
_LONGEST_ID = 18


def render() -> None:
    """Draw the page."""
    st.title(words.LOG_POUR, anchor=False)
    show_cautions("casting")
    try:
        log = cache.log()
        entries.device()
        _begin_for_form(log)
        entry = entries.begun(log, pour_entry.TOPIC)
        if entry is None:
            _tell_thrown()
            _tell_saved(log)
            show_ways(log)
        else:
            _ask(log, entry)
    except StruckfaceError as error:
        refuse(error)


def _begin_for_form(log: Log) -> None:
    """Take up the form that the address names, such as a link or a card does."""
    form = st.query_params.get(_FORM, "")
    if not form:
        return
    del st.query_params[_FORM]
    entry = entries.begun(log, pour_entry.TOPIC)
    if not (form.isdecimal() and len(form) <= _LONGEST_ID):
        return
    if entry is None:
        pour_entry.begin_with(log, int(form))
    else:
        pour_entry.add_piece(log, entry, form)


def _ask(log: Log, entry: entries.Entry) -> None:
    hint(words.KEPT)
    ask_pour(log, entry)
    st.divider()
    token = entry["token"]
    act_button(
        words.SAVE_POUR,
        lambda: _save(log, entry),
        key=f"save pour {token}",
        main=True,
        wide=True,
    )
    act_button(
        words.THROW_AWAY,
        lambda: _throw_away(log, entry),
        key=f"throw away {token}",
        wide=True,
    )


def _save(log: Log, entry: entries.Entry) -> None:
    saved = pour_entry.save(log, entry)
    # What is said of it comes first: cut short after the end, none would say it.
    st.session_state[_SAVED] = (saved.id, saved.already_saved)
    st.session_state.pop(_THROWN, None)
    entries.end(log, pour_entry.TOPIC)


def _throw_away(log: Log, entry: entries.Entry) -> None:
    st.session_state[_THROWN] = entry
    st.session_state.pop(_SAVED, None)
    entries.end(log, pour_entry.TOPIC)


def _tell_thrown() -> None:
    thrown = st.session_state.get(_THROWN)
    if thrown is None:
        return
    with st.container(border=True, horizontal=True, vertical_alignment="center"):
        st.write(words.THROWN_AWAY)
        act_button(
            words.BRING_BACK,
            lambda: entries.begin(pour_entry.TOPIC, thrown),
            key=f"bring back pour {thrown['token']}",
        )


def _tell_saved(log: Log) -> None:
    """Say what was saved last, with the way back."""
    if _SAVED not in st.session_state:
        return
    pour_id, already = st.session_state[_SAVED]
    pour = records.load(log, Pour, pour_id)
    count = len(records.list_castings(log, pour_id=pour_id))
    is_out = any(one.id == pour_id for one in records.list_all(log, Pour, hidden=True))
    with st.container(border=True):
        if is_out:
            plain(f"{words.TAKEN_BACK} {pour_name(pour)}")
            st.button(
                words.BRING_BACK,
                on_click=refusing(records.bring_back),
                args=(log, Pour, pour_id),
            )
        else:
            plain(words.saved_line(pour, count))
            if already:
                st.write(ALREADY_SAVED)
            with st.container(horizontal=True):
                st.page_link("pieces/page.py", label=PIECES)
                st.button(
                    words.TAKE_BACK,
                    on_click=refusing(records.hide),
                    args=(log, Pour, pour_id),
                )


if __name__ == "__main__":
    render()
