"""For hands: the keypad that numbers need, the phone's own camera, one step of Back."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

_told = st.components.v2.component(
    "struckface.hands",
    html="<span></span>",
    js=Path(__file__).with_suffix(".js").read_text(encoding="utf-8"),
)
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
