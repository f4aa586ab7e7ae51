"""Guide: what the number means, how to photograph, what to mind."""

from __future__ import annotations

import streamlit as st

from ui import capture_words, guide_words, words


def render() -> None:
    """Draw the page."""
    st.title(words.GUIDE, anchor=False)
    st.page_link("views/capture.py", label=capture_words.CAPTURE)
    for title, text in guide_words.CHAPTERS:
        st.header(title, anchor=False)
        st.markdown(text)


if __name__ == "__main__":
    render()
