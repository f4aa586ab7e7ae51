"""Pours and pieces: what is in the log, and each reading again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.desk import log as desk_log
from analysis.errors import StruckfaceError
from ui import cache, words
from ui.parts.keeping import PIECE_KNOWN, PIECE_WAY
from ui.parts.notice import heading, plain, refuse
from ui.parts.result import show_reading

if TYPE_CHECKING:
    from analysis.desk.log import Log
    from analysis.model.log_views import Casting, ReadingLine
    from analysis.model.photo import Photo

_PIECE = "piece"
_SHOWN = "pieces shown"
_SHOWN_FIRST = 20


def render() -> None:
    """Draw the page."""
    chosen = st.query_params.get(_PIECE, "")
    try:
        log = cache.log()
        if chosen.isdecimal():
            _one_piece(log, desk_log.casting(log, int(chosen)))
        else:
            _all_pieces(log)
    except StruckfaceError as error:
        refuse(error)
        if chosen:
            st.button(words.BACK, on_click=_close)


def _all_pieces(log: Log) -> None:
    st.title(words.PIECES, anchor=False)
    castings = desk_log.list_castings(log)
    if not castings:
        st.write(words.EMPTY_LOG)
        st.write(words.EMPTY_LOG_NEXT)
        st.page_link("views/measure.py", label=words.MEASURE)
        return
    latest: dict[int, ReadingLine] = {}
    for line in desk_log.list_readings(log):
        latest.setdefault(line.piece_id, line)
    shown = st.session_state.setdefault(_SHOWN, _SHOWN_FIRST)
    pour_id = None
    for casting in castings[:shown]:
        if casting.pour.id != pour_id:
            pour_id = casting.pour.id
            heading(f"{words.POUR} {words.pour_name(casting.pour)}")
        _row(casting, latest.get(casting.piece.id or 0))
    if len(castings) > shown:
        st.button(words.SHOW_MORE, on_click=_show_more)


def _row(casting: Casting, line: ReadingLine | None) -> None:
    brief = words.NO_READING if line is None else words.reading_brief(line)
    with st.container(
        border=True,
        horizontal=True,
        vertical_alignment="center",
        horizontal_alignment="distribute",
    ):
        plain(f"{casting.piece.name}: {brief}")
        st.button(
            words.OPEN,
            key=f"open {casting.piece.id}",
            on_click=_open,
            args=(casting.piece.id,),
        )


def _one_piece(log: Log, casting: Casting) -> None:
    st.button(words.BACK, on_click=_close)
    heading(f"{words.PIECE} {casting.piece.name}")
    plain(f"{words.POUR} {words.pour_name(casting.pour)}")
    if casting.piece.form_id is not None:
        form = desk_log.form(log, casting.piece.form_id)
        plain(words.form_line(form, casting.form_use))
    plain(words.piece_line(casting.piece))
    lines = desk_log.list_readings(log, piece_id=casting.piece.id)
    if not lines:
        st.write(words.NO_READING)
    else:
        _reading(log, lines)
    if st.button(words.MEASURE_THIS):
        st.session_state[PIECE_WAY] = "known"
        st.session_state[PIECE_KNOWN] = casting.piece.id
        st.switch_page("views/measure.py")


def _reading(log: Log, lines: tuple[ReadingLine, ...]) -> None:
    line = lines[0]
    if len(lines) > 1:
        line = st.selectbox(
            words.READINGS,
            lines,
            format_func=words.reading_choice,
            key=f"reading of {line.piece_id}",
        )
    plain(words.photo_line(line))
    show_reading(_photo(log, line), desk_log.load_reading(log, line.id))


def _photo(log: Log, line: ReadingLine) -> Photo | None:
    """Return the photo, or say why it cannot be shown."""
    try:
        data = desk_log.photo_bytes(log, line.photo_sha256)
        return cache.photo(line.photo_sha256, line.photo_name, data)
    except StruckfaceError as error:
        refuse(error)
        return None


def _open(piece_id: int) -> None:
    st.query_params[_PIECE] = str(piece_id)


def _close() -> None:
    st.query_params.clear()


def _show_more() -> None:
    st.session_state[_SHOWN] += _SHOWN_FIRST


if __name__ == "__main__":
    render()
