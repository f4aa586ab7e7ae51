"""The result beside its picture, and what it is saved as."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.pieces.standing import REPRESENTATIVE
from analysis.services.strike import as_line
from ui import cache, state, words
from ui.measure import words as said
from ui.measure.layout import RESULT, SAVE, Canvas
from ui.measure.photo_choice import ask_photo
from ui.widgets.keeping import ask_keeping, piece_of, piece_of_saved
from ui.widgets.notice import refuse
from ui.widgets.picture import picture
from ui.widgets.result import show_counts, show_doubts, show_share
from ui.widgets.strike_card import show_strike

if TYPE_CHECKING:
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading
    from ui.widgets.keeping import Keeping

SAVED_OF = "saved of photo"
_OUTLINED = "voids outlined"


def result_step(
    photo: Photo, reading: Reading, keeping: Keeping | None, canvas: Canvas
) -> None:
    """Show the result, large and first, and what it means for the piece."""
    st.header(words.STEP_RESULT, anchor=False)
    show_share(reading.summary, in_step=True)
    ordinary = keeping is None or keeping.use.purpose == REPRESENTATIVE
    if keeping is not None:
        log = cache.log()
        piece = piece_of(log, keeping)
        lines = (as_line(reading, keeping.use),) if ordinary else ()
        show_strike(log, piece, lines=lines, with_step=canvas.step in {RESULT, SAVE})
    show_doubts(reading)
    show_counts(reading.summary, stands_for_all=ordinary)
    if canvas.step in {RESULT, SAVE}:
        with canvas.place:
            _picture(photo, reading)


def _picture(photo: Photo, reading: Reading) -> None:
    """Show the photo once, its voids outlined or not."""
    on = st.session_state.get(_OUTLINED, True)
    seen = cache.seen(photo, reading.face.view)
    picture(
        cache.overlay_jpeg(photo, reading) if on else cache.photo_jpeg(seen.key, seen),
        width_px=seen.width_px,
        height_px=seen.height_px,
        key=f"result of {photo.sha256}",
        label=words.OVERLAY if on else words.PHOTO,
        mode="view",
    )
    st.toggle(said.VOIDS_SHOWN, value=True, key=_OUTLINED)


def save_box(photo: Photo, request: state.Request) -> Keeping | None:
    """Show what the reading is saved as; once it is, ask for the next photo."""
    st.header(words.STEP_SAVE, anchor=False)
    try:
        log = cache.log()
        first = st.container()
        with _fields(photo):
            keeping = ask_keeping(log, request)
        piece_id = piece_of_saved(log, photo.sha256, keeping.saved_id)
        if piece_id is not None:
            with first:
                _saved(piece_id)
    except StruckfaceError as error:
        refuse(error)
        return None
    return keeping


def _fields(photo: Photo) -> st.delta_generator.DeltaGenerator:
    """Return where the names are asked for; folded away once the photo was saved."""
    if st.session_state.get(SAVED_OF) != photo.sha256:
        return st.container()
    return st.expander(said.SAVED_WITH, key=f"saved with {photo.sha256}")


def _saved(piece_id: int) -> None:
    """Lead on from a reading that was saved."""
    if st.session_state.get("already saved", False):
        st.success(words.ALREADY_SAVED)
    if not state.waiting():
        st.subheader(said.NEXT, anchor=False)
        ask_photo(piece_id)
    st.page_link(
        "pieces/page.py",
        label=words.OPEN_SAVED,
        query_params={"piece": str(piece_id)},
    )
    st.divider()
