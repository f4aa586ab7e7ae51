"""The one next step, said alike on every page."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.planning.next_words import step_reason, step_sentence
from ui.widgets.notice import plain
from ui.words import literal

if TYPE_CHECKING:
    from analysis.model.next_step import NextStep


def show_step(step: NextStep | None) -> None:
    """Say what to do next, and why; nothing where there is nothing to say."""
    if step is None:
        return
    st.markdown(f"**{literal(step_sentence(step))}**")
    plain(step_reason(step))
