"""For hands: the keypad that numbers need, the phone's own camera, one step of Back."""

from __future__ import annotations

import streamlit as st

from ui.widgets.component import component_beside

_told = component_beside(__file__, html="<span></span>")
_NUMBERS = "decimal"
_CAMERA = "take photo"


def help_hands() -> None:
    """Tell the browser what the fields of the page are for; once a page."""
    with st.container(key="hands"):
        _told(key="hands told")


def begin_at_top(place: str) -> None:
    """Scroll to the top whenever another place of a page is shown."""
    with st.container(key="hands place"):
        _told(key="hands at top", data={"place": place})


def numbers(key: str) -> st.delta_generator.DeltaGenerator:
    """Return a container whose text fields open a keypad for numbers."""
    return st.container(key=f"{_NUMBERS} {key}")


def camera() -> st.delta_generator.DeltaGenerator:
    """Return a container whose file field opens the phone's camera."""
    return st.container(key=_CAMERA)
