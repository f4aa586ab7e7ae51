"""Measure a face: photo, scale, outline, reading, save."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from ui import cache, state, words
from ui.measure import draft
from ui.measure.face_marks import ask_marks
from ui.measure.measuring import look_first, measured
from ui.measure.second_light import second_step
from ui.measure.steps import face_step, photo_step, scale_step
from ui.widgets.keeping import save_step
from ui.widgets.notice import refuse
from ui.widgets.result import show_reading

if TYPE_CHECKING:
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading


def render() -> None:
    """Draw the page."""
    st.title(words.MEASURE, anchor=False)
    draft.take_up()
    _steps()
    draft.keep()


def _steps() -> None:
    # Each step in a container of its own: what comes and goes in one must not move
    # the fields of the next, or what is being typed there is lost.
    with st.container():
        photo = photo_step()
    if photo is None:
        return
    with st.container():
        request = _ask(photo)
    with st.container():
        reading = _measure_step(photo, request)
    if request is None or reading is None:
        return
    with st.container():
        request, reading = second_step(photo, request, reading)
    with st.container():
        st.header(words.STEP_RESULT, anchor=False)
        show_reading(photo, reading)
    with st.container():
        save_step(photo, reading, request)


def _ask(photo: Photo) -> state.Request | None:
    """Return what to measure with; None while an answer is missing."""
    looked, has_scale = scale_step(photo)
    scale, view = (None, None) if looked is None else (looked.scale, looked.view)
    try:
        shown = cache.seen(photo, view)
        faced = face_step(shown, looked)
        marks = ask_marks(shown)
    except StruckfaceError as error:
        refuse(error)
        return None
    if not (has_scale and faced.is_complete):
        return None
    before = () if looked is None else looked.left_out
    areas = (*before, *faced.left_out, *marks.left_out)
    marks = marks._replace(left_out=tuple(dict.fromkeys(areas)))
    request = state.Request(
        sha256=photo.sha256,
        scale=scale,
        outline=faced.outline,
        view=view,
        **marks._asdict(),
    )
    look_first(photo, request)
    return request


def _measure_step(photo: Photo, request: state.Request | None) -> Reading | None:
    """Measure when asked; return the reading of exactly this request."""
    st.header(words.STEP_MEASURE, anchor=False)
    pressed = st.button(
        words.MEASURE_NOW, type="primary", width="stretch", disabled=request is None
    )
    if request is None:
        return None
    if pressed:
        try:
            state.remember_reading(request, measured(photo, request))
        except StruckfaceError as error:
            refuse(error)
            return None
    reading = state.reading_for(request)
    if reading is None and state.has_readings():
        st.warning(words.STALE)
    return reading


if __name__ == "__main__":
    render()
