"""Records: forms, mixes, product lines, words; the log in and out; backups."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import DamagedLogError, StruckfaceError
from ui import cache
from ui.records import words
from ui.records.backup import show_backup, show_rescue
from ui.records.edit import show_taken_out
from ui.records.exporting import show_export
from ui.records.importing import show_import
from ui.records.lists import show_bin, show_forms, show_lines, show_mixes
from ui.records.terms import show_terms
from ui.records.workshop_settings import show_settings
from ui.widgets.notice import refuse
from ui.words import literal

if TYPE_CHECKING:
    from analysis.services.log import Log

_SHOW = {
    "forms": show_forms,
    "mixes": show_mixes,
    "lines": show_lines,
    "words": show_terms,
    "import": show_import,
    "export": show_export,
    "backup": show_backup,
    "out": show_bin,
    "settings": show_settings,
}


def render() -> None:
    """Draw the page; of a damaged log only the way back."""
    st.title(words.RECORDS, anchor=False)
    try:
        _show(cache.log())
    except DamagedLogError as error:
        st.error(literal(error))
        show_rescue()
    except StruckfaceError as error:
        refuse(error)


def _show(log: Log) -> None:
    st.session_state.setdefault("show", "forms")
    chosen = st.pills(
        words.SHOW,
        list(words.SHOWN),
        format_func=words.SHOWN.__getitem__,
        required=True,
        key="show",
        width="stretch",
        label_visibility="collapsed",
        bind="query-params",
    )
    show_taken_out(log)
    _SHOW[chosen or "forms"](log)


if __name__ == "__main__":
    render()
