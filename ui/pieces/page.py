"""Pours and pieces: what is in the log, and each reading again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import log as log_service
from ui import cache, words
from ui.cache import compare as cache_compare
from ui.paper.offers import offer_piece
from ui.pieces.beside import show_beside
from ui.pieces.judged import show_judged
from ui.pieces.kept import show_kept
from ui.pieces.stored import show_piece
from ui.records.edit import show_taken_out
from ui.widgets.cards import offer_cards_of_pour
from ui.widgets.diagnosis import show_of_piece
from ui.widgets.notice import heading, plain_lines, refuse

if TYPE_CHECKING:
    from analysis.model.log_views import Casting
    from analysis.services.log import Log
    from analysis.services.pieces import PieceFigure

_PIECE = "piece"
_SHOWN = "pieces shown"
_SHOWN_FIRST = 20
_LONGEST_ID = 18


def render() -> None:
    """Draw the page."""
    chosen = st.query_params.get(_PIECE, "")
    try:
        log = cache.log()
        if chosen.isdecimal() and len(chosen) <= _LONGEST_ID:
            st.button(words.BACK, on_click=_close)
            casting = log_service.casting(log, int(chosen))
            line = show_piece(log, casting)
            if line is not None:
                show_of_piece(log, casting.piece.id or 0)
                show_judged(log, casting)
                show_beside(log, casting)
            show_kept(log, casting)
            offer_piece(log, casting, line)
            offer_cards_of_pour(log, casting)
        else:
            _all_pieces(log)
    except StruckfaceError as error:
        refuse(error)


def _all_pieces(log: Log) -> None:
    st.title(words.PIECES, anchor=False)
    show_taken_out(log)
    castings = log_service.list_castings(log)
    if not castings:
        st.write(words.EMPTY_LOG)
        st.write(words.EMPTY_LOG_NEXT)
        st.page_link("measure/page.py", label=words.MEASURE)
        return
    forms = {form.id: form.name for form in log_service.forms(log)}
    figures = cache_compare.figures(log)
    shown = st.session_state.setdefault(_SHOWN, _SHOWN_FIRST)
    pour_id = None
    for casting in castings[:shown]:
        if casting.pour.id != pour_id:
            pour_id = casting.pour.id
            heading(f"{words.POUR} {words.pour_name(casting.pour)}")
        name = words.piece_in_form(casting.piece, forms.get(casting.piece.form_id))
        _row(casting, name, figures.get(casting.piece.id or 0))
    if len(castings) > shown:
        st.button(words.SHOW_MORE, on_click=_show_more)


def _row(casting: Casting, name: str, figure: PieceFigure | None) -> None:
    with st.container(
        border=True,
        horizontal=True,
        wrap=False,
        vertical_alignment="center",
        horizontal_alignment="distribute",
    ):
        plain_lines((name, words.figure_brief(figure)))
        st.button(
            words.OPEN,
            key=f"open {casting.piece.id}",
            on_click=_open,
            args=(casting.piece.id,),
        )


def _open(piece_id: int) -> None:
    st.query_params[_PIECE] = str(piece_id)


def _close() -> None:
    st.query_params.clear()


def _show_more() -> None:
    st.session_state[_SHOWN] += _SHOWN_FIRST


if __name__ == "__main__":
    render()
