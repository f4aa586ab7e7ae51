"""Measure a face: photo, face, scale, result, save; on a phone one thing at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from ui import cache, state, words
from ui.measure import draft
from ui.measure.bar import after_bar, before_bar
from ui.measure.face_found import NO_FACE, face_step
from ui.measure.face_marks import ask_marks, form_of_piece, is_marking
from ui.measure.kind import ask_kind
from ui.measure.layout import FACE, SCALE, Canvas, ask_step, lay_out
from ui.measure.measuring import look_first, tell_set_up
from ui.measure.photo_choice import photo_foot, photo_step
from ui.measure.saving import result_step, save_box
from ui.measure.scale import scale_step, tell_size
from ui.measure.second_light import second_step
from ui.widgets.notice import refuse
from ui.widgets.result import show_tables

if TYPE_CHECKING:
    from streamlit.delta_generator import DeltaGenerator

    from analysis.model.photo import Photo
    from ui.measure.face_found import Faced
    from ui.measure.scale import Sized


def render() -> None:
    """Draw the page."""
    draft.take_up()
    with st.container(key="measure title" if state.shot() else "title"):
        st.title(words.MEASURE, anchor=False)
    _steps()
    draft.keep()


def _steps() -> None:
    # Each step in a container of its own: what comes and goes in one must not move
    # the fields of the next, or what is being typed there is lost.
    with st.container():
        photo = photo_step()
    if photo is None:
        return
    step = ask_step(has_reading=state.has_readings())
    lay_out(step)
    with st.container(key="measure desk"):
        left, right = st.columns((3, 2))
    with left:
        canvas = Canvas(place=st.container(key="measure picture"), step=step)
    with right, st.container(key="measure steps"):
        boxes = {
            one: st.container(key=f"step {one}")
            for one in ("result", "save", "face", "scale")
        }
    faced, sized, request = _ask(photo, canvas, boxes)
    more = st.container(key="measure more")
    photo_foot(photo)
    bar = st.container(key="measure bar")
    reading = None if request is None else state.reading_for(request)
    if reading is None or request is None:
        with bar:
            before_bar(photo, step, faced, sized, request)
        return
    with more:
        request, reading = second_step(photo, request, reading)
        show_tables(reading)
    with boxes["save"]:
        keeping = save_box(photo, request)
    with boxes["result"]:
        result_step(photo, reading, keeping, canvas)
    with bar:
        after_bar(photo, reading, step, keeping)


def _ask(
    photo: Photo, canvas: Canvas, boxes: dict[str, DeltaGenerator]
) -> tuple[Faced, Sized, state.Request | None]:
    """Return face and scale, and what to measure with once both are answered."""
    with boxes["scale"]:
        sized = scale_step(photo, canvas)
    looked = sized.looked
    scale, view = (None, None) if looked is None else (looked.scale, looked.view)
    with boxes["face"]:
        try:
            shown = cache.seen(photo, view)
            faced = face_step(shown, looked, canvas)
            shaped = ask_kind(has_scale=scale is not None)
            marks = ask_marks(shown, faced.lines, canvas)
        except StruckfaceError as error:
            refuse(error)
            canvas.look(photo, (), words.PHOTO)
            return NO_FACE, sized, None
    if not (canvas.shows(SCALE) and sized.draws) and not (
        canvas.shows(FACE) and (faced.draws or is_marking())
    ):
        canvas.rest(shown, [*faced.lines, *marks.drawn], words.PHOTO)
    if looked is not None:
        with boxes["scale"]:
            tell_size(shown, looked)
    if not (sized.is_complete and faced.is_complete):
        return faced, sized, None
    before = () if looked is None else looked.left_out
    areas = (*before, *faced.left_out, *marks.left_out)
    marks = marks._replace(left_out=tuple(dict.fromkeys(areas)))
    request = state.Request(
        sha256=photo.sha256,
        scale=scale,
        outline=faced.outline,
        view=view,
        **marks._asdict(),
        **shaped._asdict(),
    )
    if state.reading_for(request) is None:
        with boxes["scale"]:
            look_first(photo, request)
            tell_set_up(photo, request, form_of_piece())
    return faced, sized, request


if __name__ == "__main__":
    render()
