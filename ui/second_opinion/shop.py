"""The shop study: faces in several lights by several people, and what follows."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import gauge as service
from analysis.services import log as log_service
from ui import state
from ui.second_opinion import study_words as words
from ui.second_opinion.studies import people_field, run_studies, start, table
from ui.widgets.fields import lines
from ui.widgets.notice import plain, refuse
from ui.widgets.presses import act_button
from ui.words import casting_called

if TYPE_CHECKING:
    from analysis.model.gauge import Study, UsualSpread
    from analysis.services.log import Log


def study_shop(log: Log) -> None:
    """Draw the part of the page about the shop's own error."""
    run_studies(log, "shop", words.SHOP_WHAT, _begin, _tell)
    st.header(words.IN_FORCE, anchor=False)
    in_force = service.usual_in_force(log)
    if not in_force:
        st.write(words.NONE_IN_FORCE)
    for one in in_force:
        plain(words.usual(one))
        act_button(
            words.DROP,
            partial(service.drop_usual, log, one.id or 0),
            key=f"drop usual {one.id}",
        )
    found = service.usual_from_log(log)
    if found:
        st.header(words.FROM_REPEATS, anchor=False)
    for one in found:
        plain(words.usual(one))
        _offer(log, one)


def _begin(log: Log) -> None:
    names = {
        key: casting_called(one) for key, one in log_service.casting_names(log).items()
    }
    chosen = st.multiselect(
        words.FACES, list(names), format_func=lambda one: names[one], key="faces shop"
    )
    people = people_field("shop")
    lights_typed = lines(
        words.LIGHTS,
        "lights shop",
        example="bench by the window\nyard, overcast\nhall lamp",
        help_text=words.LIGHTS_HELP,
    )
    act_button(
        words.DRAW,
        lambda: start(log, "shop", chosen, people, lights=lights_typed),
        key="draw shop",
        main=True,
        wide=True,
    )


def _tell(log: Log, study: Study) -> None:
    try:
        spread = service.usual_from_study(study)
    except StruckfaceError as error:
        refuse(error)
        return
    if spread is None:
        st.write(words.TOO_FEW_LIGHTS)
        return
    table(words.light_rows(spread.lights), words.LIGHT_TABLE)
    plain(words.usual(spread))
    _offer(log, spread)


def _offer(log: Log, spread: UsualSpread) -> None:
    key = (spread.set_up, spread.basis, spread.study_id, spread.spread)

    def use() -> None:
        # In force again after it was put out is another save.
        now = [one.id for one in service.usual_in_force(log)]
        token = state.save_token(("usual", key, now))
        service.keep_usual(log, spread, save_token=token)

    act_button(words.USE, use, key=f"use {key}")
