"""A second opinion on a reading, and the shop's own error."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import log as log_service
from ui import cache
from ui.reading_words import reading_choice
from ui.second_opinion import words
from ui.second_opinion.again import measure_again
from ui.second_opinion.points import count_points
from ui.second_opinion.shop import study_shop
from ui.second_opinion.training import offer_training_set
from ui.widgets.fields import segments
from ui.widgets.notice import hint, refuse
from ui.words import MEASURE, casting_called

if TYPE_CHECKING:
    from analysis.model.log_views import ReadingLine
    from analysis.services.log import Log

_PIECE = "piece"


def render() -> None:
    """Draw the page."""
    st.title(words.SECOND_OPINION, anchor=False)
    hint(words.WHY)
    try:
        log = cache.log()
        way = segments(words.WHAT, words.WAYS, "second opinion way")
        if way == "points":
            _count(log)
        elif way == "again":
            measure_again(log)
        elif way == "shop":
            study_shop(log)
        else:
            offer_training_set(log)
    except StruckfaceError as error:
        refuse(error)


def _count(log: Log) -> None:
    line = _chosen(log)
    if line is None:
        return
    data = log_service.photo_bytes(log, line.photo_sha256)
    photo = cache.photo(line.photo_sha256, line.photo_name, data)
    count_points(log, photo, line.id, log_service.load_reading(log, line.id))


def _chosen(log: Log) -> ReadingLine | None:
    """Let a piece and one of its readings be chosen."""
    measured = log_service.readings_by_piece(log)
    castings = {
        key: casting_called(one)
        for key, one in log_service.casting_names(log).items()
        if key in measured
    }
    if not castings:
        st.write(words.NOTHING)
        st.page_link("measure/page.py", label=MEASURE)
        return None
    asked = st.query_params.get(_PIECE, "")
    ids = list(castings)
    index = next((at for at, one in enumerate(ids) if str(one) == asked), 0)
    piece_id = st.selectbox(
        words.WHICH_PIECE,
        ids,
        index=index,
        format_func=lambda one: castings[one],
        key=f"second opinion piece {asked}",
    )
    of_piece = log_service.list_readings(log, piece_id=piece_id)
    if len(of_piece) == 1:
        return of_piece[0]
    line: ReadingLine = st.selectbox(
        words.WHICH_READING,
        of_piece,
        format_func=reading_choice,
        key=f"second opinion reading {piece_id}",
    )
    return line


if __name__ == "__main__":
    render()
