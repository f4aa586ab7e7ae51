"""Guide: what the number means, forms to following, the trade's words, what to mind."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from ui import words
from ui.capture import words as capture_words
from ui.guide import words as guide_words
from ui.widgets.cautions import show_all_cautions

_PICTURES = Path(__file__).resolve().parents[1] / "pictures"
_DRAWING_PX = 480


def render() -> None:
    """Draw the page."""
    st.title(words.GUIDE, anchor=False)
    st.page_link("capture/page.py", label=capture_words.CAPTURE)
    for title, text, picture, shows in guide_words.CHAPTERS:
        st.header(title, anchor=False)
        if picture:
            with st.container(width=_DRAWING_PX):  # and no wider than the phone
                drawing = str(_PICTURES / f"{picture}.svg")
                st.image(drawing, caption=shows, width="stretch", alt=shows)
        st.markdown(text)
    st.header(guide_words.CAUTIONS, anchor=False)
    show_all_cautions()
    st.header(guide_words.GLOSSARY, anchor=False)
    st.table(
        [
            dict(zip(guide_words.GLOSSARY_HEAD, term, strict=True))
            for term in guide_words.TERMS
        ]
    )


if __name__ == "__main__":
    render()
