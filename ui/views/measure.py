"""Measure a face: photo, scale, outline, reading, save."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from analysis.desk.measuring import measure
from analysis.errors import StruckfaceError
from analysis.model.photo import Face, JointLine
from analysis.model.reading import MeasureSettings
from ui import state, words
from ui.parts.keeping import save_step
from ui.parts.notice import refuse
from ui.parts.result import show_reading
from ui.parts.steps import face_step, photo_step, scale_step, settings_step

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Photo
    from analysis.model.reading import Reading


def render() -> None:
    """Draw the page."""
    st.title(words.MEASURE, anchor=False)
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
        st.header(words.STEP_RESULT, anchor=False)
        show_reading(photo, reading)
    with st.container():
        save_step(photo, reading, request)


def _ask(photo: Photo) -> state.Request | None:
    """Return what to measure with; None while an answer is missing."""
    scale, has_scale = scale_step(photo)
    outline, has_outline = face_step(photo)
    try:
        left_out, joints, smallest_mm = settings_step()
    except StruckfaceError as error:
        refuse(error)
        return None
    if not (has_scale and has_outline):
        return None
    return state.Request(
        sha256=photo.sha256,
        scale=scale,
        outline=outline,
        left_out=left_out,
        joints=joints,
        smallest_mm=smallest_mm,
    )


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
            state.remember_reading(request, _measured(photo, request))
        except StruckfaceError as error:
            refuse(error)
            return None
    reading = state.reading_for(request)
    if reading is None and state.has_readings():
        st.warning(words.STALE)
    return reading


def _measured(photo: Photo, request: state.Request) -> Reading:
    bar = st.progress(0.0, words.STARTING)

    def tell(part: float, what: str) -> None:
        bar.progress(part, what)

    try:
        reading, _ = measure(
            photo,
            scale=request.scale,
            face=Face(
                outline_px=None if request.outline is None else _rows(request.outline),
                left_out_px=tuple(_rows(area) for area in request.left_out),
                joints=tuple(JointLine(line_px=_rows(line)) for line in request.joints),
            ),
            settings=MeasureSettings(smallest_mm=request.smallest_mm),
            progress=tell,
        )
    finally:
        bar.empty()
    return reading


def _rows(points: state.Points) -> NDArray[np.float64]:
    """Turn (x, y) into (row, col)."""
    return np.array(points, dtype=np.float64)[:, ::-1]


if __name__ == "__main__":
    render()
