"""A kept plan: which pour is next, into the log or ticked off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.planning.plan_words import plan_sentence
from analysis.services import plans
from ui.compare import words as compare_words
from ui.plan import words
from ui.plan.pours_to_cast import show_hold, show_pour, show_sheet
from ui.widgets import entry as entries
from ui.widgets import pour_entry
from ui.widgets.cards import offer_plan_cards
from ui.widgets.notice import heading, plain, plain_lines, refusing
from ui.widgets.presses import done, pressed

if TYPE_CHECKING:
    from analysis.services.log import Log
    from analysis.services.plans import KeptPlan


def show_kept(log: Log, kept: KeptPlan) -> None:
    """Show the next pour of a plan, and the rest behind it."""
    heading(words.plan_title(kept.plan))
    plain_lines((plan_sentence(kept.plan), words.made_line(kept)))
    numbers = range(1, kept.plan.pours + 1)
    ahead = [number for number in numbers if number not in kept.cast]
    if ahead:
        show_hold(kept.plan)
        with st.container(border=True):
            show_pour(kept.plan, ahead[0])
            _log_it(log, kept, ahead[0])
    else:
        plain(words.DONE)
        st.page_link("compare/page.py", label=compare_words.COMPARE)
    with st.expander(words.ALL_POURS):
        for number in numbers:
            show_pour(kept.plan, number)
            _tick(log, kept, number)
    show_sheet(kept.plan, kept.made_on, kept.key)
    if ahead:
        offer_plan_cards(log, kept)
    with st.popover(words.THROW_AWAY, width="stretch"):
        st.button(
            words.THROW_SURE,
            key=f"throw {kept.key}",
            on_click=refusing(plans.throw_away),
            args=(log, kept.key),
        )


def _log_it(log: Log, kept: KeptPlan, number: int) -> None:
    key = f"log {kept.key}"
    if not pressed(words.LOG_THIS, key=key, about=number, main=True, wide=True):
        return
    if entries.begun(log, pour_entry.TOPIC) is not None:
        done(key)
        plain(words.HALF_FILLED)
        st.page_link("pours/page.py", label=words.LOG_POUR)
        return
    pour, pieces = plans.pour_of_plan(log, kept, number)
    token = plans.pour_token(log, kept.key, number)
    pour_entry.begin_ready(pour, pieces, token=token)
    done(key)
    st.switch_page("pours/page.py")


def _tick(log: Log, kept: KeptPlan, number: int) -> None:
    if kept.cast.get(number) is not None:
        plain(words.LOGGED)
        return
    done = number in kept.cast
    # The key changes with what is kept, so that the box never stands against it.
    st.checkbox(
        words.TICK,
        value=done,
        key=f"tick {kept.key} {number} {done}",
        on_change=refusing(plans.tick),
        args=(log, kept.key, number),
        kwargs={"done": not done},
    )
