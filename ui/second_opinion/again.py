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
from ui.words import casting_name

if TYPE_CHECKING:
    from analysis.model.gauge import Study
    from analysis.services.log import Log


def measure_again(log: Log) -> None:
    """Draw the part of the page about measuring again."""
    run_studies(log, "again", words.AGAIN_WHAT, _begin, _tell)


def _begin(log: Log) -> None:
    pieces = {one.piece.id: casting_name(one) for one in log_service.list_castings(log)}
    latest = {
        line.piece_id: line.id
        for line in reversed(log_service.list_readings(log))
        if line.reviews_id is None and line.piece_id in pieces
    }
    names = {reading: pieces[piece] for piece, reading in latest.items()}
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
