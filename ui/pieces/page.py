"""Pours and pieces: what is in the log, and each reading again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import log as log_service
from analysis.services import piece_library
from ui import cache, words
from ui.paper.offers import offer_piece
from ui.pieces import asked
from ui.pieces.beside import show_beside
from ui.pieces.judged import show_judged
from ui.pieces.kept import show_kept
from ui.pieces.library_cards import show_library
from ui.pieces.stored import show_piece
from ui.records.edit import show_taken_out
from ui.widgets import entry as entries
from ui.widgets.cards import offer_cards_of_pour
from ui.widgets.notice import refuse
from ui.widgets.turning import show_turning
from ui.widgets.void_causes import show_of_piece

if TYPE_CHECKING:
    from analysis.model.log_views import Casting
    from analysis.services.log import Log

_PIECE = "piece"
_LONGEST_ID = 18


def render() -> None:
    """Draw the page."""
    chosen = st.query_params.get(_PIECE, "")
    try:
        log = cache.log()
        if chosen.isdecimal() and len(chosen) <= _LONGEST_ID:
            casting = _named(log, int(chosen))
            if casting is None:
                return
            beside = piece_library.neighbours(log, asked.asked(), int(chosen))
            show_turning(beside, _open, _close)
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


def _named(log: Log, piece_id: int) -> Casting | None:
    """Return the piece that the address names; else say so, with the way to all."""
    try:
        return log_service.casting(log, piece_id)
    except StruckfaceError as error:
        st.title(words.PIECES, anchor=False)
        refuse(error)
        st.button(words.BACK, on_click=_close)
        return None


def _all_pieces(log: Log) -> None:
    entries.stay()
    st.title(words.PIECES, anchor=False)
    show_taken_out(log)
    if not log_service.has_pieces(log):
        st.write(words.EMPTY_LOG)
        st.write(words.EMPTY_LOG_NEXT)
        st.page_link("measure/page.py", label=words.MEASURE)
        return
    show_library(log, _open)


def _open(piece_id: int) -> None:
    st.query_params[_PIECE] = str(piece_id)


def _close() -> None:
    st.query_params.clear()


if __name__ == "__main__":
    render()
