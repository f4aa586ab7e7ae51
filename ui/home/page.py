"""Home: what there is to do today; on an empty log what the app is for."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import records
from analysis.services.overview import overview
from ui import cache, state
from ui.cache import next_steps
from ui.home import words
from ui.home.day import show_day
from ui.home.example_log import open_button, show_tour
from ui.plan import words as plan_words
from ui.widgets.next_step_card import show_step
from ui.widgets.notice import refuse

if TYPE_CHECKING:
    from analysis.services.log import Log
    from analysis.services.overview import Overview

_PICTURE = Path(__file__).parents[1] / "pictures" / "measured.jpg"


def render() -> None:
    """Draw the page; a draft named in the address is gone on with."""
    if state.draft_key():
        st.switch_page("measure/page.py", query_params=st.query_params.to_dict())
    try:
        log = cache.log()
        found = overview(log, records.today())
        if found.empty:
            _empty()
        else:
            _day(log, found)
    except StruckfaceError as error:
        refuse(error)


def _empty() -> None:
    st.title(words.HOME, anchor=False)
    st.write(words.WHAT_FOR)
    st.image(str(_PICTURE), width=420, alt=words.PICTURE_ALT)
    with st.container(horizontal=True, vertical_alignment="center"):
        st.page_link("measure/page.py", label=words.MEASURE)
        open_button("content")


def _day(log: Log, found: Overview) -> None:
    st.title(words.HOME, anchor=False)
    with st.container(horizontal=True):
        st.page_link("measure/page.py", label=words.MEASURE)
        st.page_link("pours/page.py", label=words.LOG_POUR)
    show_tour()
    if not show_day(log, found):
        st.write(words.NOTHING_PRESSES)
    step = next_steps.of_shop(log)
    if step is not None:
        st.header(words.NEXT, anchor=False)
        show_step(step)
        st.page_link("plan/page.py", label=plan_words.PLAN)


if __name__ == "__main__":
    render()
