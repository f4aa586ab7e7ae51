"""What a user wrote, and refusals, shown as written."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import DamagedLogError
from ui.words import BACKUPS, literal

if TYPE_CHECKING:
    from collections.abc import Iterable


def refuse(error: Exception) -> None:
    """Show one sentence of refusal; from a damaged log lead on to its backups."""
    st.error(literal(error))
    if isinstance(error, DamagedLogError):
        st.page_link("records/page.py", label=BACKUPS)


def plain(text: str) -> None:
    """Show text that holds a user's words."""
    st.markdown(literal(text))


def plain_lines(lines: Iterable[str]) -> None:
    """Show lines that hold a user's words, close together."""
    st.markdown("  \n".join(map(literal, lines)))


def hint(text: str, more: str | None = None) -> None:
    """Show a small remark, in full contrast: it is read in the sun."""
    st.markdown(f":small[{text}]", help=more)


def heading(text: str) -> None:
    """Show a heading that holds a user's words."""
    st.header(literal(text), anchor=False)


def title(text: str) -> None:
    """Name the one record that a page is about; its parts have headers below it."""
    with st.container(key="one record"):
        st.title(literal(text), anchor=False)
