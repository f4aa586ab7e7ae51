"""A piece of the log with its readings."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.pieces.standing import REPRESENTATIVE
from analysis.services import log as log_service
from analysis.services import pieces, point_count
from ui import cache, reading_words, words
from ui.pieces import review_screen, review_words
from ui.pieces.library_words import without_photo
from ui.second_opinion import words as second_words
from ui.widgets.keeping import choose_piece
from ui.widgets.notice import plain, plain_lines, refuse, title
from ui.widgets.result import show_reading
from ui.widgets.strike_card import show_strike

if TYPE_CHECKING:
    from analysis.model.log_views import Casting, ReadingLine
    from analysis.model.photo import Photo
    from analysis.services.log import Log


def show_piece(log: Log, casting: Casting) -> ReadingLine | None:
    """Show how a piece was made and one of its readings; return that."""
    title(f"{words.PIECE} {casting.piece.name}")
    facts = [f"{words.POUR} {words.pour_name(casting.pour)}"]
    if casting.piece.form_id is not None:
        form = log_service.form(log, casting.piece.form_id)
        facts.append(words.form_line(form, casting.form_use))
    plain_lines([*facts, *words.piece_lines(casting.piece)])
    lines = pieces.lines_to_show(log, casting.piece.id)
    figure = pieces.figure_of_piece(log, casting.piece.id)
    shown = None
    if not lines:
        plain(words.NO_READING if figure is None else without_photo(figure.share))
    elif figure is not None and len(figure.lines) > 1:
        plain(reading_words.together_line(figure))
    if lines or figure is not None:
        show_strike(log, casting.piece, pour=casting.pour)
    if lines:
        shown = _reading(log, lines)
    if st.button(words.MEASURE_THIS):
        choose_piece(casting)
        st.switch_page("measure/page.py")
    return shown


def _reading(log: Log, lines: tuple[ReadingLine, ...]) -> ReadingLine:
    line = lines[0]
    if len(lines) > 1:
        line = st.selectbox(
            words.READINGS,
            lines,
            format_func=reading_words.reading_choice,
            key=f"reading of {line.piece_id}",
        )
    photo = _photo(log, line)
    if review_screen.is_open(line):
        review_screen.review(log, partial(_show_latest, line.piece_id))
        return line
    review_screen.tell_saved()
    plain(reading_words.photo_line(line))
    plain(review_words.signed(line, lines))
    show_reading(
        photo,
        log_service.load_reading(log, line.id),
        stands_for_all=line.use.purpose == REPRESENTATIVE,
    )
    if photo is not None:
        review_screen.offer(log, line, photo)
        _second_opinions(log, line)
    return line


def _second_opinions(log: Log, line: ReadingLine) -> None:
    """Say what points counted by eye gave, and lead to counting them."""
    for count in point_count.counts_of(log, line.id):
        figure = point_count.count_figure(count.plan, count.answers)
        plain(second_words.counted(count, figure))
    if st.button(second_words.SECOND_OPINION, key="second opinion", width="stretch"):
        piece = {"piece": str(line.piece_id)}
        st.switch_page("second_opinion/page.py", query_params=piece)


def _show_latest(piece_id: int) -> None:
    st.session_state.pop(f"reading of {piece_id}", None)


def _photo(log: Log, line: ReadingLine) -> Photo | None:
    """Return the photo, or say why it cannot be shown."""
    try:
        data = log_service.photo_bytes(log, line.photo_sha256)
        return cache.photo(line.photo_sha256, line.photo_name, data)
    except StruckfaceError as error:
        refuse(error)
        return None
