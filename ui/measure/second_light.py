"""The same face again, the lamp on its other side: one more photo, one tap."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services.log import digest
from analysis.services.pairing import measure_pair, second_on_first
from ui import cache, state, words
from ui.measure import second_words
from ui.measure.camera import camera
from ui.measure.measuring import face_of, settings_of
from ui.measure.photo_choice import FILE_KINDS
from ui.widgets.notice import hint, plain, refuse

if TYPE_CHECKING:
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading

_GHOST_PX = 900
_PROBLEM = "photo of the camera refused"
_DRAWING = Path(__file__).resolve().parents[1] / "pictures" / "photo_second_light.svg"


def second_step(
    photo: Photo, request: state.Request, reading: Reading
) -> tuple[state.Request, Reading]:
    """Offer a second photo; return the pair's reading once both were measured."""
    with st.expander(second_words.STEP, expanded=state.second() is not None):
        second = _ask(photo)
        if second is None:
            return request, reading
        both = replace(request, second_sha256=second.sha256)
        try:
            other = cache.photo(second.sha256, second.name, second.data)
            plain(f"{second.name}, {other.width_px} x {other.height_px} px")
            if state.reading_for(both) is None:
                _measure_both(photo, other, both)
        except StruckfaceError as error:
            refuse(error)
        found = state.reading_for(both)
        _change(second_words.ANOTHER if found is None else second_words.NONE)
        if found is None or found.second_light is None:
            return request, reading
        hint(second_words.lined_up(found.second_light))
        if found.second_light.to_second:
            lined = second_on_first(photo, other, found, longest_px=_GHOST_PX)
            st.image(lined, caption=second_words.LAID, alt=second_words.LAID)
        return both, found


def _measure_both(photo: Photo, other: Photo, both: state.Request) -> None:
    """Show how the second photo was framed; measure once that is found right."""
    before = st.empty()
    with before.container():
        ghost = cache.ghost(photo.sha256, photo, both.second_sha256, other)
        st.image(ghost, caption=second_words.GHOST, alt=second_words.GHOST)
        pressed = st.button(second_words.MEASURE_BOTH, type="primary", width="stretch")
    if pressed:
        state.remember_reading(both, _measured(photo, other, both))
        before.empty()


def _ask(photo: Photo) -> state.Shot | None:
    """Return the second photo at hand, or ask for one."""
    if state.second() is not None:
        return state.second()
    st.write(second_words.WHY)
    how, stand = second_words.HOW, second_words.STAND
    st.image(str(_DRAWING), caption=how, width=320, alt=how)
    jpeg = cache.photo_jpeg(photo.key, photo)
    st.image(jpeg, caption=stand, width=240, alt=stand)
    if state.waiting():
        st.button(second_words.NEXT_WAITING, on_click=_take_waiting, width="stretch")
    _ask_camera(photo)
    given = st.file_uploader(
        second_words.UPLOAD, type=FILE_KINDS, key=f"second of {photo.sha256}"
    )
    if given is not None:
        data = given.getvalue()
        try:
            cache.photo(digest(data), given.name, data)
        except StruckfaceError as error:
            refuse(error)
        else:
            _take(given.name, data)
            st.rerun()
    return None


def _ask_camera(photo: Photo) -> None:
    """Offer to line the second photo up over the live camera, where there is one."""
    if problem := st.session_state.pop(_PROBLEM, None):
        refuse(problem)
    camera(
        cache.ghost_alone(photo.sha256, photo),
        across=photo.width_px / photo.height_px,
        key=f"camera over {photo.sha256}",
        version=photo.sha256,
        words=second_words.CAMERA,
        on_photo=_take_live,
    )


def _take_live(data: bytes) -> None:
    try:
        cache.photo(digest(data), second_words.LIVE, data)
    except StruckfaceError as error:
        st.session_state[_PROBLEM] = error
    else:
        _take(second_words.LIVE, data)


def _take(name: str, data: bytes) -> None:
    state.set_second(state.Shot(data=data, name=name, sha256=digest(data)))


def _take_waiting() -> None:
    state.set_second(state.next_in_line())


def _change(said: str) -> None:
    st.button(said, on_click=state.set_second, args=(None,), width="stretch")


def _measured(photo: Photo, other: Photo, request: state.Request) -> Reading:
    bar = st.progress(0.0, words.STARTING)

    def tell(part: float, what: str) -> None:
        bar.progress(part, what)

    try:
        reading, _ = measure_pair(
            photo,
            other,
            scale=request.scale,
            face=face_of(request),
            settings=settings_of(request),
            progress=tell,
        )
    finally:
        bar.empty()
    return reading
