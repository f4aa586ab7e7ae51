"""A plan: what to cast, why, pour by pour, on paper."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.writing import day
from analysis.planning.plan_words import plan_notes, plan_sentence
from analysis.services import plans
from analysis.services.records import today
from ui.plan import words
from ui.widgets.fields import file_button, segments
from ui.widgets.notice import heading, plain, plain_lines
from ui.words import literal

if TYPE_CHECKING:
    from analysis.model.plan import Plan

_SHOWN = 2
_PAPERS = {"A4": "A4", "Letter": "Letter"}


def show_plan(plan: Plan) -> None:
    """Say what to cast, how sure that is, and why it is laid out so."""
    heading(plan_sentence(plan))
    plain(words.chance_line(plan))
    show_hold(plan)
    with st.expander(words.WHY):
        st.markdown("\n".join(f"- {literal(note)}" for note in plan_notes(plan)))


def show_hold(plan: Plan) -> None:
    """Say what to keep the same."""
    if plan.hold:
        held = ", ".join(words.hold_line(one.factor, one.level) for one in plan.hold)
        plain(f"{words.HOLD}: {held}.")


def show_pours(plan: Plan) -> None:
    """List the pours, the first ones at once."""
    st.subheader(words.POURS, anchor=False)
    for pour in range(1, min(_SHOWN, plan.pours) + 1):
        with st.container(border=True):
            show_pour(plan, pour)
    if plan.pours > _SHOWN:
        with st.expander(words.THE_REST):
            for pour in range(_SHOWN + 1, plan.pours + 1):
                show_pour(plan, pour)


def show_pour(plan: Plan, pour: int) -> None:
    """List the pieces of a pour in the order of filling."""
    planned = sorted(
        (one for one in plan.assignments if one.pour == pour),
        key=lambda one: one.order,
    )
    st.markdown(f"**{words.pour_title(pour, plan)}**")
    plain_lines(words.piece_line(plan, one) for one in planned)


def show_sheet(plan: Plan, made_on: str | None = None, key: str = "new") -> None:
    """Offer the bench sheet."""
    page = segments(words.PAPER, _PAPERS, f"paper of {key}")
    file_button(
        words.SHEET,
        lambda: plans.bench_sheet(
            plan,
            plan_sentence(plan),
            made_on=day(date.fromisoformat(made_on) if made_on else today()),
            page=page,
        ),
        "bench-sheet.pdf",
        f"sheet of {key}",
    )
