"""A piece beside an approved reference, and the approval itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import references
from ui import state, words
from ui.paper import words as said
from ui.widgets.fields import file_button, pick, segments
from ui.widgets.notice import hint, plain, refuse, refusing
from ui.widgets.presses import act_button
from ui.widgets.record_fields import box

if TYPE_CHECKING:
    from analysis.model.log_views import Casting
    from analysis.services.log import Log


def show_beside(log: Log, casting: Casting) -> None:
    """Show the face beside an approved one at the same scale."""
    piece_id = casting.piece.id or 0
    with box(said.BESIDE, f"beside {piece_id}"):
        others = {one.piece.id or 0: one for one in references.references(log, casting)}
        try:
            if others:
                names = {key: words.casting_name(one) for key, one in others.items()}
                key = f"reference for {piece_id}"
                chosen = pick(said.REFERENCE, names, key, index=0)
                _pair(log, casting, others[chosen or next(iter(others))])
            else:
                hint(said.NO_REFERENCE)
            _approval(log, casting)
        except StruckfaceError as error:
            refuse(error)


def _pair(log: Log, casting: Casting, reference: Casting) -> None:
    pair = references.beside(log, casting, reference)
    if pair is None:
        hint(said.NO_PAIR)
        return
    # Columns would lie one below the other on a phone.
    with st.container(horizontal=True, wrap=False):
        for face in pair.faces:
            with st.container():
                st.image(face.picture, width="stretch", alt=face.title)
                plain(f"{face.title}: {face.says}")
    hint(said.same_scale(pair.side_mm))
    page = segments(said.PAPER, said.PAPERS, f"paper beside {casting.piece.id}")
    file_button(
        said.BESIDE_SHEET,
        lambda: references.beside_pdf(log, casting, reference, page=page),
        "beside.pdf",
        f"take beside {casting.piece.id}",
    )


def _approval(log: Log, casting: Casting) -> None:
    """Offer to approve this piece, or to take its approval back."""
    piece_id = casting.piece.id or 0
    found = references.approval(log, piece_id)
    if found is not None:
        plain(said.approved_line(found.approved_on))
        st.button(
            said.TAKE_BACK,
            key=f"take approval back {piece_id}",
            on_click=refusing(references.take_back),
            args=(log, found),
        )
        return
    # After an approval was taken back, the next one is another save.
    token = state.save_token((piece_id, references.times_approved(log, piece_id)))
    act_button(
        said.APPROVE,
        lambda: references.approve(log, casting, save_token=token),
        key=f"approve {piece_id}",
    )
