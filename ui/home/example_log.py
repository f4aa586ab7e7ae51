"""Into the example workshop with one click, and back."""

from __future__ import annotations

from typing import Literal

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import log as log_service
from ui import cache, state
from ui.home import words
from ui.widgets.notice import hint, refuse
from ui.words import OPENING_EXAMPLE


def show_strip() -> None:
    """Say on every page that this is the example, with the way back."""
    if not cache.in_example():
        return
    with st.container(
        border=True,
        horizontal=True,
        wrap=False,
        vertical_alignment="center",
        horizontal_alignment="distribute",
        key="example strip",
    ):
        st.markdown(f"**{words.NAME}**  \n:small[{words.STRIP}]")
        st.button(words.BACK, on_click=cache.leave_example)


def show_tour() -> None:
    """Say where in the example there is something to find."""
    if not cache.in_example() or state.shot() is not None:
        return
    st.header(words.TOUR, anchor=False)
    with st.container(horizontal=True):
        for view, question in words.TO_FIND.items():
            st.page_link(f"{view}/page.py", label=question)


def offer(*, always: bool) -> None:
    """Offer the example where the own log is empty, on some pages always."""
    if cache.in_example() or state.shot() is not None:
        return  # a photo at hand would be let go
    try:
        empty = not log_service.pours(cache.log())
    except StruckfaceError:
        return  # the page has said what is wrong
    if not (empty or always):
        return
    with st.container(border=True):
        hint(words.OFFER if empty else words.OFFER_ALWAYS)
        open_button()


def open_button(width: Literal["stretch", "content"] = "stretch") -> None:
    """Offer the way into the example workshop."""
    if st.button(words.OPEN, width=width):
        _open()


def _open() -> None:
    bar = st.progress(0.0, text=OPENING_EXAMPLE)
    try:
        cache.enter_example(lambda part, what: _tell(bar, part, what))
    except StruckfaceError as error:
        bar.empty()
        refuse(error)
    else:
        st.rerun()


def _tell(bar: st.delta_generator.DeltaGenerator, part: float, what: str) -> None:
    bar.progress(part, text=what)
