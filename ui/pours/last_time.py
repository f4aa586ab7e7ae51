"""What was done last time with a form, and what came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.afterwards import Outcome
from analysis.services import pieces, records
from ui.pours import words
from ui.widgets.notice import plain, plain_lines
from ui.widgets.record_fields import offers_of
from ui.words import OPEN_SAVED

if TYPE_CHECKING:
    from analysis.model.workshop import Form
    from analysis.services.log import Log


def show_last_time(log: Log, form: Form) -> None:
    """Show how the last piece of a form was made and how it came out."""
    last = records.last_casting(log, form.id or 0)
    if last is None:
        st.write(words.FIRST_TIME)
        return
    piece = last.piece
    figure = pieces.figure_of_piece(log, piece.id)
    judged = records.list_all(log, Outcome, piece_id=piece.id)
    plain(words.last_time_line(last))
    plain_lines(words.made_lines(piece))
    plain_lines(words.mix_lines(last.pour, offers_of(log)("mix_id")))
    plain(words.came_out_line(figure, judged[-1:]))
    st.page_link(
        "pieces/page.py", label=OPEN_SAVED, query_params={"piece": str(piece.id)}
    )


def show_on_form_page(log: Log, form: Form) -> None:
    """Show it on the form's own page, with the way to cast the same again."""
    st.header(words.LAST_TIME, anchor=False)
    show_last_time(log, form)
    st.page_link(
        "pours/page.py", label=words.CAST_AGAIN, query_params={"form": str(form.id)}
    )
