"""Marks that the eye sees on a face: tapped in, with what may lie behind them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import marks_seen, records
from ui.pieces import seen_words
from ui.widgets import diagnosis_words
from ui.widgets.notice import hint, plain, refuse
from ui.widgets.record_fields import box
from ui.widgets.void_causes import show_causes

if TYPE_CHECKING:
    from analysis.services.log import Log

_PROBLEM = "mark not kept"
_PICTURES = Path(__file__).resolve().parents[1] / "pictures"


def show_seen(log: Log, piece_id: int) -> None:
    """Let marks be tapped; each tap is kept at once, a second one takes it away."""
    marks = marks_seen.marks_of(log, piece_id)
    key = f"marks of {piece_id}"
    if st.session_state.get(key) != [*marks]:  # also what someone else noted meanwhile
        st.session_state[key] = [*marks]
    st.pills(
        seen_words.SEEN,
        list(dict.fromkeys((*records.words(log, "mark"), *marks))),
        selection_mode="multi",
        default=list(marks),
        key=key,
        on_change=_take,
        args=(log, piece_id, key, marks),
    )
    if problem := st.session_state.pop(_PROBLEM, None):
        refuse(problem)
    hint(seen_words.NOT_COUNTED)
    with box(seen_words.WHICH, f"streaks of {piece_id}"):
        for file, said in seen_words.STREAKS:
            st.image(str(_PICTURES / file), width=320, alt=said)
            plain(said)
    if causes := marks_seen.causes_of(marks):
        with box(diagnosis_words.WHY, f"causes of marks of {piece_id}"):
            show_causes(causes)


def _take(log: Log, piece_id: int, key: str, shown: tuple[str, ...]) -> None:
    """Keep what was tapped, and leave what others noted meanwhile alone."""
    chosen: list[str] = st.session_state[key]
    try:
        now = marks_seen.marks_of(log, piece_id)
        gone = set(shown) - set(chosen)
        wanted = [mark for mark in (*now, *chosen) if mark not in gone]
        marks_seen.set_marks(log, piece_id, wanted)
    except StruckfaceError as error:
        st.session_state[_PROBLEM] = error
