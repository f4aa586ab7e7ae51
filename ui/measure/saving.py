"""The result beside its picture, and what it is saved as."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from ui import cache, state, words
from ui.measure import words as said
from ui.measure.layout import RESULT, SAVE, Canvas
from ui.measure.photo import ask_photo
from ui.measure.second_light import second_step
from ui.widgets.keeping import ask_keeping, piece_of_saved
from ui.widgets.notice import refuse
from ui.widgets.picture import picture
from ui.widgets.result import show_doubts, show_figures, show_tables

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator

    from analysis.model.photo import Photo
    from analysis.model.reading import Reading
    from ui.widgets.keeping import Keeping

_OUTLINED = "voids outlined"


def result_step(
    photo: Photo,
    request: state.Request,
    reading: Reading,
    canvas: Canvas,
    more: DeltaGenerator,
) -> tuple[state.Request, Reading]:
    """Show the result, large and first; a second light may make it another."""
    st.header(words.STEP_RESULT, anchor=False)
    with more:
        request, reading = second_step(photo, request, reading)
        show_tables(reading)
    show_figures(reading.summary)
    show_doubts(reading)
    if canvas.step in {RESULT, SAVE}:
        with canvas.place:
            _picture(photo, reading)
    return request, reading


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
        keeping = ask_keeping(log, request)
        piece_id = piece_of_saved(log, photo.sha256, keeping.saved_id)
        if piece_id is not None:
            with first:
                _saved(piece_id)
    except StruckfaceError as error:
        refuse(error)
        return None
    return keeping


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
