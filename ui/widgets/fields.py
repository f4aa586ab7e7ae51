"""Fields that keep their value while the session lasts."""

from __future__ import annotations

from contextvars import copy_context
from typing import TYPE_CHECKING, TypeVar

import streamlit as st

from analysis.model.writing import DAY_STYLES, day_style
from analysis.typed import said_back, typed_number
from ui import words
from ui.state import is_answer
from ui.widgets.hands import numbers
from ui.widgets.notice import hint

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

Key = TypeVar("Key", str, int)


DAY_FORMATS = dict(
    zip(DAY_STYLES, ("DD.MM.YYYY", "YYYY-MM-DD", "MM/DD/YYYY"), strict=True)
)


def day_format() -> str:
    """Return how a day is typed where days are written as the workshop does."""
    return DAY_FORMATS[day_style()]


def segments(
    label: str, options: Mapping[str, str], key: str, *, hidden: bool = False
) -> str:
    """Let one of a few be chosen; the first until then. A hidden label is read out."""
    st.session_state.setdefault(key, next(iter(options)))
    chosen: str | None = st.segmented_control(
        label,
        list(options),
        format_func=lambda name: options[name],
        required=True,
        key=is_answer(key),
        width="stretch",
        label_visibility="collapsed" if hidden else "visible",
        persist_state="session",
    )
    return chosen or next(iter(options))


def pick(
    label: str, options: Mapping[Key, str], key: str, *, index: int | None = None
) -> Key | None:
    """Let one of many be chosen; without an index nothing is chosen for the user."""
    chosen: Key | None = st.selectbox(
        label,
        list(options),
        index=index,
        format_func=lambda name: options[name],
        placeholder=words.CHOOSE,
        key=is_answer(key),
        persist_state="session",
    )
    return chosen


def pick_word(
    label: str, offered: Sequence[str], key: str, fixed: Mapping[str, str]
) -> str:
    """Let a word be chosen or typed; fixed answers come first, the first until then."""
    names = {**fixed, **{name: name for name in offered}}
    chosen: str = st.selectbox(
        label,
        list(names),
        format_func=lambda name: names.get(name, name),
        accept_new_options=True,
        key=is_answer(key),
        help=words.ADD_WORD,
        persist_state="session",
    )
    return chosen


def number(
    label: str,
    key: str,
    *,
    unit: str = "",
    first: float | None = None,
    help_text: str | None = None,
) -> float | None:
    """Ask for a number that may stay blank, with a comma or a dot, in any unit.

    It is said back with its unit wherever it is not what was typed, sign by sign.

    Raises
    ------
    InputError
        It is no number, or could be two.
    """
    if first is not None:
        st.session_state.setdefault(key, f"{first:g}")
    with numbers(key):
        text: str = st.text_input(
            label, key=is_answer(key), help=help_text, persist_state="session"
        )
    value = typed_number(text, unit, what=label)
    read = said_back(value, unit)
    if read and text.strip() not in {read, f"{value:.9g}"}:
        hint(f"= {words.literal(read)}")
    return value


def tick(label: str, key: str, *, first: bool = False) -> bool:
    """Let something be switched on or off; `first` until then."""
    st.session_state.setdefault(key, first)
    on: bool = st.checkbox(label, key=is_answer(key), persist_state="session")
    return on


def line(label: str, key: str, *, help_text: str | None = None) -> str:
    """Ask for a line of text."""
    text: str = st.text_input(
        label, key=is_answer(key), help=help_text, persist_state="session"
    )
    return text


def lines(label: str, key: str, *, example: str, help_text: str) -> str:
    """Ask for a few lines of text."""
    text: str = st.text_area(
        label,
        key=is_answer(key),
        placeholder=example,
        help=help_text,
        height=90,
        persist_state="session",
    )
    return text


def file_button(
    label: str,
    make: Callable[[], bytes | str],
    name: str,
    key: str,
    *,
    mime: str = "application/pdf",
) -> None:
    """Offer a file; it is made when it is asked for, and the page stays as it is."""
    # It is made in another thread: as this page writes, so does the file.
    context = copy_context()
    st.download_button(
        label,
        lambda: context.copy().run(make),
        name,
        mime,
        on_click="ignore",
        width="stretch",
        key=key,
    )
