"""Measuring, with words on how far it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.photo import Face, JointLine
from analysis.model.points import row_col
from analysis.model.reading import MeasureSettings
from analysis.services.measuring import measure
from ui import cache, words
from ui.measure import words as face_words
from ui.widgets.held_set_up import tell_held_set_up
from ui.widgets.notice import hint

if TYPE_CHECKING:
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading
    from ui.state import Request


def measured(photo: Photo, request: Request) -> Reading:
    """Measure a photo as asked, telling what is being done."""
    bar = st.progress(0.0, words.STARTING)
    # Pressing it runs the page anew, which ends this run at its next word.
    stop = st.empty()
    stop.button(words.STOP, key="stop measuring", width="stretch")

    def tell(part: float, what: str) -> None:
        bar.progress(part, what)

    try:
        reading, _ = measure(
            photo,
            scale=request.scale,
            face=face_of(request),
            settings=settings_of(request),
            progress=tell,
        )
    finally:
        bar.empty()
        stop.empty()
    return reading


def settings_of(request: Request) -> MeasureSettings:
    """Return what was asked beside scale and face."""
    return MeasureSettings(
        smallest_mm=request.smallest_mm,
        face_kind=request.face_kind,
        pitch_mm=request.pitch_mm,
        depth_mm=request.depth_mm,
    )


def look_first(photo: Photo, request: Request) -> None:
    """Say before measuring what is wrong with the photo, and what to do."""
    try:
        flags = cache.first_look(
            photo, request.scale, face_of(request), request.smallest_mm
        )
    except StruckfaceError:
        return  # measuring says it
    for line in face_words.looks(flags):
        st.warning(line)
    if not flags:
        hint(face_words.LOOK_FINE)


def tell_set_up(photo: Photo, request: Request, form_id: int | None) -> None:
    """Say whether the photo was taken as its form's face asks, or what differs."""
    if form_id is None:
        return
    try:
        shown = cache.seen(photo, request.view)
    except StruckfaceError:
        return  # measuring says it
    tell_held_set_up(shown, request.scale, face_of(request), form_id)


def face_of(request: Request) -> Face:
    """Return the face as it is marked."""
    return Face(
        outline_px=None if request.outline is None else row_col(request.outline),
        left_out_px=tuple(row_col(area) for area in request.left_out),
        sloped_px=tuple(row_col(area) for area in request.sloped),
        joints=tuple(
            JointLine(line_px=row_col(line), name=name) for name, line in request.joints
        ),
        joint_band_mm=request.band_mm,
        view=request.view,
        up=request.up,
        name=request.face_name,
    )
