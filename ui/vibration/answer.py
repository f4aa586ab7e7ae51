"""The answer about vibration: what to do, why, and what to cast next."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.planning.next_words import step_sentence
from analysis.vibration.words.advice import OVER_SIGNS, checks
from analysis.vibration.words.decision import sentence
from analysis.vibration.words.notes import note_words
from ui.plan.question import hand_on
from ui.vibration import words
from ui.vibration.dose_chart import dose_chart
from ui.widgets.cautions import show_cautions
from ui.widgets.inks import screen_inks
from ui.widgets.next_step_card import show_step
from ui.widgets.notice import heading, hint, plain, plain_lines
from ui.words import literal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.next_step import NextStep
    from analysis.model.vibration import VibrationAnswer


def show_answer(answer: VibrationAnswer, step: NextStep) -> None:
    """Say it in one line, then why, then draw it; on an empty log today's trial."""
    cast = len(answer.pieces.piece)
    if step.mends:  # which the first reason says, too
        heading(step_sentence(step))
        plain_lines(map(note_words, answer.why[1:]))
    else:
        heading(sentence(answer) if cast else note_words(answer.trial.title))
        plain_lines(map(note_words, answer.why))
    if cast:
        st.subheader(words.CHARTS[answer.question.dose], anchor=False)
        st.altair_chart(
            dose_chart(answer, screen_inks()), width="stretch", alt=sentence(answer)
        )
        hint(words.CHART_KEY)


def show_next(
    answer: VibrationAnswer, step: NextStep, offered: tuple[str, ...]
) -> None:
    """Say what to cast so that it is settled."""
    st.subheader(words.NEXT, anchor=False)
    if step.kind != "cast":
        show_step(step)
        return
    if len(answer.pieces.piece):
        plain(note_words(answer.trial.title))
    _listed(map(note_words, answer.trial.steps), numbered=True)
    if st.button(
        words.PLAN_IT, width="stretch", on_click=hand_on, args=(step, offered)
    ):
        st.switch_page("plan/page.py")


def show_signs(answer: VibrationAnswer) -> None:
    """Say what to look for, before and while vibrating."""
    with st.expander(words.BEFORE, expanded=not len(answer.pieces.piece)):
        _listed(checks(answer.question.method))
    with st.expander(words.TOO_MUCH):
        _listed(OVER_SIGNS)
    if found := words.rests_on(answer):
        with st.expander(words.RESTS_ON):
            _listed(found)
    show_cautions("vibrating")


def _listed(lines: Iterable[str], *, numbered: bool = False) -> None:
    mark = "1." if numbered else "-"
    st.markdown("\n".join(f"{mark} {literal(line)}" for line in lines))
