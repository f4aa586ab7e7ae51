"""Stored photos measured again, blind, by several people."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.services import gauge as service
from analysis.services import log as log_service
from ui.second_opinion import study_words as words
from ui.second_opinion.studies import people_field, run_studies, start, table
from ui.widgets.fields import segments
from ui.widgets.notice import plain
from ui.widgets.presses import act_button
from ui.words import casting_called

if TYPE_CHECKING:
    from analysis.model.gauge import Study
    from analysis.services.log import Log


def measure_again(log: Log) -> None:
    """Draw the part of the page about measuring again."""
    run_studies(log, "again", words.AGAIN_WHAT, _begin, _tell)


def _begin(log: Log) -> None:
    pieces = log_service.casting_names(log)
    latest = log_service.readings_by_piece(log, automatic=True)
    names = {
        reading: casting_called(pieces[piece])
        for piece, (_, reading) in latest.items()
        if piece in pieces
    }
    chosen = st.multiselect(
        words.PHOTOS,
        list(names),
        format_func=lambda one: names[one],
        key="photos again",
    )
    people = people_field("again")
    repeats = segments(words.REPEATS, words.REPEAT_WAYS, "repeats again")
    act_button(
        words.DRAW,
        lambda: start(log, "again", chosen, people, repeats=int(repeats)),
        key="draw again",
        main=True,
        wide=True,
    )


def _tell(_log: Log, study: Study) -> None:
    answer = service.gauge_answer(study)
    if answer is None:
        st.write(words.TOO_FEW)
        return
    table(words.answer_rows(answer), words.ANSWER_TABLE)
    plain(words.answer_note(answer, study.plan.people))
