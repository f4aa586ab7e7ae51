"""Records."""

import streamlit as st

from ui import records_words as words


def render() -> None:
    """Draw the page."""
    st.title(words.RECORDS, anchor=False)


if __name__ == "__main__":
    render()
