"""Photograph a face: what to mind, in drawings."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from ui import words
from ui.capture import words as said

_PICTURES = Path(__file__).resolve().parents[1] / "pictures"
_ACROSS = 3


def render() -> None:
    """Draw the page."""
    st.title(said.CAPTURE, anchor=False)
    for first in range(0, len(said.STEPS), _ACROSS):
        row = said.STEPS[first : first + _ACROSS]
        for place, (file, title, text) in zip(st.columns(_ACROSS), row, strict=True):
            with place:
                drawing = str(_PICTURES / f"{file}.svg")
                st.image(drawing, width="stretch", alt=title)
                st.header(title, anchor=False)
                st.write(text)
    st.subheader(said.FACES_TITLE, anchor=False)
    for kind, text in said.FACES:
        st.markdown(f"**{kind}**: {text}")
    st.subheader(said.SAME_TITLE, anchor=False)
    st.write(said.SAME)
    st.write(said.LAST)
    st.page_link("measure/page.py", label=words.MEASURE)


if __name__ == "__main__":
    render()
