"""What a user wrote, and refusals, shown as written."""

from __future__ import annotations

from functools import wraps
from typing import TYPE_CHECKING, ParamSpec

import streamlit as st

from analysis.errors import DamagedLogError, StruckfaceError
from ui.words import BACKUPS, literal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

_Given = ParamSpec("_Given")


def refuse(error: Exception) -> None:
    """Show one sentence of refusal; from a damaged log lead on to its backups."""
    st.error(literal(error))
    if isinstance(error, DamagedLogError):
        st.page_link("records/page.py", label=BACKUPS)


def refusing(act: Callable[_Given, object]) -> Callable[_Given, None]:
    """Make a button's act say on the page why it was refused.

    An act runs before the page does: what it raises would stand there in its place.
    """

    @wraps(act)
    def told(*args: _Given.args, **kwargs: _Given.kwargs) -> None:
        try:
            act(*args, **kwargs)
        except StruckfaceError as error:
            refuse(error)

    return told


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
