"""How the entry of a pour ended: saved or thrown away, each with the way back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.log import Pour
from analysis.services import records
from ui.pours import words
from ui.widgets import entry as entries
from ui.widgets import pour_entry
from ui.widgets.notice import plain, refusing
from ui.widgets.presses import act_button
from ui.words import ALREADY_SAVED, PIECES, pour_name

if TYPE_CHECKING:
    from analysis.services.log import Log

_SAVED = "pour saved"
_THROWN = "pour thrown away"


def save_pour(log: Log, entry: entries.Entry) -> None:
    """Save what was entered; the next drawing tells of it."""
    saved = pour_entry.save(log, entry)
    # What is said of it comes first: cut short after the end, none would say it.
    st.session_state[_SAVED] = (saved.id, saved.already_saved)
    st.session_state.pop(_THROWN, None)
    entries.end(log, pour_entry.TOPIC)


def throw_away(log: Log, entry: entries.Entry) -> None:
    """End an entry unsaved; the next drawing offers it back."""
    st.session_state[_THROWN] = entry
    st.session_state.pop(_SAVED, None)
    entries.end(log, pour_entry.TOPIC)


def tell_thrown() -> None:
    """Offer what was thrown away last."""
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


def tell_saved(log: Log) -> None:
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
