"""More vibration?: the time, or something else first."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import marks_seen, plans
from ui import cache
from ui.cache import comparisons as cache_compare
from ui.cache import next_steps
from ui.paper.offers import offer_vibration
from ui.pieces import seen_words
from ui.vibration import words
from ui.vibration.answer import show_answer, show_next, show_signs
from ui.vibration.costs import show_cheapest
from ui.vibration.question import ask
from ui.widgets.notice import hint, refuse
from ui.words import literal

if TYPE_CHECKING:
    from analysis.model.vibration import VibrationQuestion
    from analysis.services.log import Log


def render() -> None:
    """Draw the page."""
    st.title(words.VIBRATION, anchor=False)
    answer = st.container()  # above what it is asked for with
    try:
        log = cache.log()
        table = cache_compare.table(log)
        with st.container(border=True):
            question = ask(log, table)
        found, step = next_steps.answered(log, question)
    except StruckfaceError as error:
        with answer:
            refuse(error)
        return
    with answer:
        show_answer(found, step)
        if len(found.pieces.piece) and (line := words.assumed_line(question)):
            hint(line)
        _seen(log, question)
    show_next(found, step, plans.factors_to_plan(table)[0])
    show_cheapest(log, question)
    show_signs(found)
    offer_vibration(found)


def _seen(log: Log, question: VibrationQuestion) -> None:
    if seen := marks_seen.over_vibrated(log, question.form_type, question.method):
        st.warning(literal(seen_words.over_vibrated_line(seen)))


if __name__ == "__main__":
    render()
