"""Plan the next pour: what to cast so that a question is settled."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import plans
from ui import cache, state
from ui.cache import comparisons as cache_compare
from ui.cache import next_steps
from ui.plan import words
from ui.plan.kept import show_kept
from ui.plan.pours_to_cast import show_plan, show_pours, show_sheet
from ui.plan.question import ask
from ui.widgets.next_step_card import show_step
from ui.widgets.notice import refuse, refusing

if TYPE_CHECKING:
    from analysis.services.log import Log


def render() -> None:
    """Draw the page."""
    st.title(words.PLAN, anchor=False)
    st.write(words.INTRO)
    try:
        log = cache.log()
        kept = plans.kept_plans(log)
        for one in kept:
            show_kept(log, one)
            st.divider()
        if not kept or st.toggle(words.ANOTHER):
            _new(log, len(kept))
    except StruckfaceError as error:
        refuse(error)


def _new(log: Log, count: int) -> None:
    """Ask, and answer above the questions."""
    answer = st.container()
    question = ask(log, cache_compare.table(log))
    if question is None:
        return
    try:
        plan = plans.plan_of_log(log, question, cache_compare.table(log))
    except StruckfaceError as error:
        with answer:
            refuse(error)
        return
    with answer:
        step = next_steps.of_factor(log, question)
        if step is not None and step.kind != "cast":
            show_step(step)
        show_plan(plan)
    show_pours(plan)
    st.button(
        words.KEEP,
        type="primary",
        width="stretch",
        on_click=refusing(plans.keep_plan),
        args=(log, plan),
        kwargs={"save_token": state.save_token((question, count))},
    )
    show_sheet(plan)


if __name__ == "__main__":
    render()
