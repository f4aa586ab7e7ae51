"""Compare: what improves the finish."""

from __future__ import annotations

import streamlit as st

from analysis.errors import StruckfaceError, TableError
from ui import cache
from ui.cache import comparisons as cache_compare
from ui.cache import next_steps
from ui.compare import words
from ui.compare.answer import (
    show_answer,
    show_behind,
    show_joints,
    show_looks,
    show_same,
)
from ui.compare.choice import choose, choose_pair
from ui.compare.cost_benefit import show_cost_benefit
from ui.paper.offers import offer_trial
from ui.pieces.review_screen import say_reviewed_share
from ui.widgets.notice import plain, refuse
from ui.words import MEASURE, NOT_MEASURED


def render() -> None:
    """Draw the page."""
    st.title(words.COMPARE, anchor=False)
    try:
        log = cache.log()
        table = cache_compare.table(log)
    except StruckfaceError as error:
        refuse(error)
        return
    if not len(table):
        st.write(NOT_MEASURED)
        st.write(words.EMPTY_NEXT)
        st.page_link("measure/page.py", label=MEASURE)
        return
    # The answer and its chart stand above what they are asked for with.
    answer = st.container()
    asked = choose(log, table)
    try:
        comparison = next_steps.with_step(
            log, asked, cache_compare.comparison(log, asked)
        )
        # Each part has a place of its own, so that opened boxes stay open.
        with st.container():
            pair = choose_pair(comparison)
        with answer:
            show_answer(comparison, pair)
        with st.container():
            show_behind(comparison, pair)
        with st.container():
            show_looks(log, asked, pair)
        say_reviewed_share(log)
        show_same(asked.by, pair)
        show_cost_benefit(log, asked, pair)
        offer_trial(log, comparison)
        if asked.by in {"joints_sealed", "joint_sealing"}:
            show_joints(log)
    except TableError as error:  # nothing to compare yet is no fault
        with answer:
            plain(str(error))
    except StruckfaceError as error:
        with answer:
            refuse(error)


if __name__ == "__main__":
    render()
