"""Log a pour: like the last one, then change what differs."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from ui import cache
from ui.pours import words
from ui.pours.begin import show_ways
from ui.pours.ended import save_pour, tell_saved, tell_thrown, throw_away
from ui.pours.pour_fields import ask_pour
from ui.widgets import entry as entries
from ui.widgets import pour_entry
from ui.widgets.cautions import show_cautions
from ui.widgets.notice import hint, refuse
from ui.widgets.presses import act_button

if TYPE_CHECKING:
    from analysis.services.log import Log

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
            tell_thrown()
            tell_saved(log)
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
        lambda: save_pour(log, entry),
        key=f"save pour {token}",
        main=True,
        wide=True,
    )
    act_button(
        words.THROW_AWAY,
        lambda: throw_away(log, entry),
        key=f"throw away {token}",
        wide=True,
    )


if __name__ == "__main__":
    render()
