"""On a phone: the address of the shared app, to be scanned."""

from __future__ import annotations

import streamlit as st

from ui.sharing import words as share_words
from ui.sharing.address import code_png, shared_at
from ui.widgets.notice import hint


def render() -> None:
    """Draw the page."""
    st.title(share_words.PHONE, anchor=False)
    address = shared_at()
    if not address:
        st.write(share_words.NOT_SHARED)
        return
    encrypted = address.startswith("https://")
    st.write(share_words.SCAN_ANYWHERE if encrypted else share_words.SCAN)
    st.code(address, language=None)
    st.image(code_png(address), width=280, alt=address)
    st.write(share_words.ONCE)
    hint(share_words.WHO_KNOWS if encrypted else share_words.PRIVATE)


if __name__ == "__main__":
    render()
