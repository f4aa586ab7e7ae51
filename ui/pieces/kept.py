"""What the log keeps of a piece: outcome, repairs, all facts, corrections."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pandas as pd
import streamlit as st

from analysis.model.afterwards import HandFigures, Outcome, Repair
from analysis.services import log as log_service
from analysis.services import records
from ui.pieces.seen import show_seen
from ui.pours import words as pour_words
from ui.records import words
from ui.records.edit import show_adding, show_editing, show_taken_out, take_out
from ui.widgets.notice import hint, plain, plain_lines
from ui.widgets.presses import act_button
from ui.widgets.record_fields import box, offers_of
from ui.widgets.record_words import facts
from ui.words import PIECE

if TYPE_CHECKING:
    from analysis.model.log_views import Casting
    from analysis.services.log import Log

_OF_PIECE = ("product_line_id",)


def show_kept(log: Log, casting: Casting) -> None:
    """Show and take in what became of a piece, then how it was made."""
    st.header(words.JUDGED, anchor=False)
    show_taken_out(log)
    with st.container():
        _judged(log, casting.piece.id or 0)
    show_seen(log, casting.piece.id or 0)
    with st.container():
        _side_by_side(log, casting.piece.id or 0)
    with box(words.FACTS, f"facts of {casting.piece.id}"):
        _facts(log, casting)
    show_editing(log, casting.piece, words.EDIT_PIECE)
    show_editing(log, casting.pour, words.EDIT_POUR)

    def out() -> None:
        take_out(log, casting.piece, f"{PIECE} {casting.piece.name}")
        st.query_params.clear()

    act_button(words.TAKE_OUT_PIECE, out, key=f"take out piece {casting.piece.id}")


def _judged(log: Log, piece_id: int) -> None:
    outcomes = records.list_all(log, Outcome, piece_id=piece_id)
    repairs = records.list_all(log, Repair, piece_id=piece_id)
    if not outcomes:
        st.write(words.NO_OUTCOME)
    for one in reversed(outcomes):
        _line(log, one, words.outcome_line(one))
    if repairs:
        plain(words.repairs_line(repairs))
    for repair in reversed(repairs):
        _line(log, repair, words.repair_line(repair))
    for figures in reversed(records.list_all(log, HandFigures, piece_id=piece_id)):
        _line(log, figures, words.by_hand_line(figures))
    hint(words.ADDS)
    again = words.JUDGE_AGAIN if outcomes else words.JUDGE
    show_adding(log, Outcome, again, piece_id=piece_id)
    today = records.today().isoformat()
    show_adding(log, Repair, words.ADD_REPAIR, piece_id=piece_id, repaired_on=today)
    show_adding(
        log, HandFigures, words.ADD_BY_HAND, piece_id=piece_id, measured_on=today
    )


def _line(log: Log, one: Outcome | Repair | HandFigures, said: str) -> None:
    with st.container(
        border=True,
        horizontal=True,
        wrap=False,
        vertical_alignment="center",
        horizontal_alignment="distribute",
    ):
        plain(said)
        st.button(
            words.TAKE_OUT,
            key=f"take out {type(one).__name__} {one.id}",
            on_click=take_out,
            args=(log, one, said),
        )


def _side_by_side(log: Log, piece_id: int) -> None:
    lines = log_service.list_readings(log, piece_id=piece_id)
    if len(lines) > 1:
        with box(words.SIDE_BY_SIDE, f"readings of {piece_id}"):
            cells = [words.reading_cells(line) for line in lines]
            table = pd.DataFrame(cells, columns=words.READING_COLUMNS)
            st.dataframe(table, hide_index=True)


def _facts(log: Log, casting: Casting) -> None:
    offers = offers_of(log)
    piece, pour = casting.piece, casting.pour
    offered = {name: offers(name) for name in ("product_line_id", "mix_id")}
    plain_lines([*facts(piece, _OF_PIECE, offered), *pour_words.made_lines(piece)])
    of_pour = (*pour_words.MIXED_HOW, *pour_words.WEATHER)
    lines = facts(pour, of_pour, offered)
    if lines:
        plain_lines([pour_words.OF_POUR, *lines])
    plain(words.not_known_line(((piece, pour_words.MADE), (pour, of_pour))))
