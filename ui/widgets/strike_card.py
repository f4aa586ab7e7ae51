"""The strike card: the result first, in or out, what differs, the next step."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import log as log_service
from analysis.services.strike import strike_card, strike_lines
from ui.cache import next_steps
from ui.widgets.next_step_card import show_step
from ui.words import literal

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.log import Piece, Pour
    from analysis.model.log_views import ReadingLine
    from analysis.services.log import Log


def show_strike(
    log: Log,
    piece: Piece,
    *,
    lines: Sequence[ReadingLine] | None = None,
    pour: Pour | None = None,
    with_step: bool = True,
) -> None:
    """Say how a piece lies to its target, what differs, and what to do next.

    Its share stands above: the verdict comes right below it.
    """
    try:
        card = strike_card(log, piece, lines=lines, pour=pour)
        first, *rest = strike_lines(card)
        with st.container(key=f"strike {piece.id or 'new'}", gap="small"):
            st.markdown(f"**{literal(first)}**")
            for line in rest:
                st.markdown(literal(line))
            if with_step and piece.form_id is not None:
                form = log_service.form(log, piece.form_id)
                show_step(next_steps.of_form(log, form.name))
    except StruckfaceError:
        return  # what is wrong with the log is said where it is opened


def lines_of_piece(log: Log, piece_id: int | None) -> tuple[str, ...]:
    """Return what a strike card says of a measured piece, for a row of a list."""
    if piece_id is None:
        return ()
    casting = log_service.casting(log, piece_id)
    card = strike_card(log, casting.piece, pour=casting.pour)
    return () if card.share is None else strike_lines(card)
