"""Guide: what the number means, how to photograph, what to mind."""

from __future__ import annotations

import streamlit as st

from ui import words
from ui.capture import words as capture_words
from ui.guide import words as guide_words
from ui.widgets.cautions import show_all_cautions


def render() -> None:
    """Draw the page."""
    st.title(words.GUIDE, anchor=False)
    st.page_link("capture/page.py", label=capture_words.CAPTURE)
    for title, text in guide_words.CHAPTERS:
        st.header(title, anchor=False)
        st.markdown(text)
    st.header(guide_words.CAUTIONS, anchor=False)
    show_all_cautions()


if __name__ == "__main__":
    render()
