"""The bar at the lower edge: one main button, and why it waits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import photo_queue
from ui import cache, state, words
from ui.measure import words as said
from ui.measure.face_found import accept, fix
from ui.measure.layout import FACE, RESULT, SAVE, SCALE, go_to
from ui.measure.measuring import measured
from ui.measure.photo_choice import next_photo
from ui.measure.saving import SAVED_OF
from ui.widgets.keeping import save
from ui.widgets.notice import hint, plain, refuse
from ui.widgets.presses import act_on, pressed

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.model.photo import Photo
    from analysis.model.reading import Reading
    from ui.measure.face_found import Faced
    from ui.measure.scale import Sized
    from ui.widgets.keeping import Keeping


def before_bar(
    photo: Photo, step: str, faced: Faced, sized: Sized, request: state.Request | None
) -> None:
    """Lead to a figure: accept the face, go on to the scale, measure."""
    if not faced.is_complete and faced.found is not None:
        if step == FACE:
            hint(faced.waits)
            shown = cache.seen(
                photo, None if sized.looked is None else sized.looked.view
            )
            _two(
                (said.FOUND_FIX, fix, (faced.found, faced.keys)),
                (said.FOUND_RIGHT, accept, (shown,)),
            )
        else:
            _go(said.FACE_NOT_YET, said.LOOK_AT_FACE, FACE)
    elif not faced.is_complete:
        _wait(faced.waits or said.FACE_REFUSED)
    elif not sized.is_complete and step == FACE:
        _go("", said.GO_ON, SCALE)
    elif request is None:
        _wait(sized.waits)
    else:
        _measure(photo, request, sized)


def _measure(photo: Photo, request: state.Request, sized: Sized) -> None:
    if state.has_readings():
        st.warning(words.STALE)
    elif sized.looked is not None:
        shown = cache.seen(photo, sized.looked.view)
        unit = st.session_state.get("ruler unit") or "mm"
        hint(words.literal(said.shows_line(shown, sized.looked.scale, unit)))
    place = st.empty()
    if place.button(words.MEASURE_NOW, type="primary", width="stretch"):
        place.empty()
        try:
            state.remember_reading(request, measured(photo, request))
        except StruckfaceError as error:
            refuse(error)
            return
        go_to(RESULT)
        st.rerun()


def after_bar(
    photo: Photo, reading: Reading, step: str, keeping: Keeping | None
) -> None:
    """Lead from a figure into the log, and to the next photo."""
    if step not in {RESULT, SAVE}:
        _go("", said.SHOW_RESULT, RESULT)
        return
    if keeping is None:
        _wait(words.PIECE_MISSING)
        return
    if keeping.saved_id is not None:
        st.success(f"{words.SAVED} {words.literal(keeping.said)}.")
        if waiting := state.waiting():
            st.button(
                words.next_photo(waiting),
                type="primary",
                width="stretch",
                on_click=next_photo,
            )
        elif step == RESULT:
            _go("", said.NEXT, SAVE)
        return
    plain(keeping.said)
    with st.container(horizontal=True, wrap=False):
        if step == RESULT:
            st.button(said.CHANGE, on_click=go_to, args=(SAVE,), width="stretch")
        asked = pressed(
            words.SAVE, key="save", about=photo.sha256, main=True, wide=True
        )
    if asked:
        act_on("save", lambda: _save(photo, reading, keeping))


def _save(photo: Photo, reading: Reading, keeping: Keeping) -> None:
    saved = save(cache.log(), photo, reading, keeping)
    photo_queue.note_measured(cache.log(), photo.sha256)
    st.session_state["already saved"] = saved.already_saved
    st.session_state[state.is_answer(SAVED_OF)] = photo.sha256
    go_to(SAVE)


def _two(
    second: tuple[str, Callable[..., None], tuple[object, ...]],
    main: tuple[str, Callable[..., None], tuple[object, ...]],
) -> None:
    with st.container(horizontal=True, wrap=False):
        for (label, act, args), kind in ((second, "secondary"), (main, "primary")):
            st.button(
                label,
                on_click=act,
                args=args,
                type="primary" if kind == "primary" else "secondary",
                width="stretch",
            )


def _go(why: str, label: str, step: str) -> None:
    if why:
        hint(why)
    st.button(label, type="primary", width="stretch", on_click=go_to, args=(step,))


def _wait(why: str) -> None:
    hint(words.literal(why))
    st.button(words.MEASURE_NOW, type="primary", width="stretch", disabled=True)
