"""The photo: taken, chosen, or a drawn sample; what is known of it before marking."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import InputError, StruckfaceError
from analysis.services.log import casting, digest, has_pieces, list_readings
from analysis.services.samples import sample_bytes, samples
from ui import cache, state, words
from ui.capture import words as capture_words
from ui.measure import words as said
from ui.measure.face_marks import forget_marks, show_joints
from ui.measure.layout import FACE, PHOTO_STYLE, go_to
from ui.measure.scale import RULER, WAY, forget_ruler, sample_scale
from ui.widgets.cards import tell_card
from ui.widgets.hands import camera
from ui.widgets.keeping import choose_piece, fill_in
from ui.widgets.marks import set_marks
from ui.widgets.notice import hint, plain, refuse

if TYPE_CHECKING:
    from collections.abc import Sequence

    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from analysis.model.photo import Photo
    from analysis.services.log import Log
    from analysis.services.samples import SamplePhoto

FILE_KINDS = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif"]
_BEGUN = "begun for"
_AGAIN = "same piece again"
_GIVEN = "photos given"


def photo_step() -> Photo | None:
    """Ask for a photo; return the one at hand."""
    _take_given()
    shot = state.shot()
    if shot is None:
        ask_photo()
        _offer_samples()
        return None
    photo = cache.photo(shot.sha256, shot.name, shot.data)
    for told in state.refused():
        refuse(InputError(told))
    try:
        log = cache.log()
        tell_card(log, photo)
        _tell_known(log, photo)
        if st.session_state.get(state.is_answer(_BEGUN)) != photo.sha256:
            st.session_state[_BEGUN] = photo.sha256
            _scale_by_print(photo)
        fill_in(log, photo.sha256)
    except StruckfaceError as error:
        refuse(error)
    return photo


def _tell_known(log: Log, photo: Photo) -> None:
    """Say before anything is marked that the log has this photo."""
    for line in list_readings(log, sha256=photo.sha256)[:1]:
        if not state.any_saved():
            known = casting(log, line.piece_id)
            st.warning(
                words.literal(f"{words.KNOWN_PHOTO} {words.casting_name(known)}.")
            )


def _scale_by_print(photo: Photo) -> None:
    """Take the scale from a sheet or card, where one can be used."""
    if not cache.printed(photo):
        return
    try:
        cache.by_sheet(photo, None)
    except StruckfaceError:
        return
    st.session_state[WAY] = "sheet"


def photo_foot(photo: Photo) -> None:
    """Name the photo, with the way to another one."""
    with st.container(key="measure foot"):
        plain(f"{photo.name}, {photo.width_px} x {photo.height_px} px")
        with st.container(horizontal=True):
            st.button(words.CHANGE_PHOTO, on_click=start_over)
            if waiting := state.waiting():
                st.button(words.next_photo(waiting), on_click=next_photo)


def ask_photo(saved: int | None = None) -> None:
    """Offer to take or to choose a photo; after a save, of the same piece too."""
    if saved is not None:
        name = words.literal(casting(cache.log(), saved).piece.name)
        st.toggle(f"{said.SAME_PIECE} {name}", key=_AGAIN)
    st.html(PHOTO_STYLE)
    with st.container(key="ask photo"):
        with st.container(key="choose photo"):
            given = st.file_uploader(
                said.CHOOSE,
                type=FILE_KINDS,
                key="upload",
                accept_multiple_files=True,
                label_visibility="collapsed",  # the button says it
            )
        with camera():
            taken = st.file_uploader(
                said.TAKE, type=FILE_KINDS, key="take", label_visibility="collapsed"
            )
    if given or taken:
        _take_all([*(given or ()), *((taken,) if taken else ())], saved)
    st.page_link("capture/page.py", label=capture_words.CAPTURE)


def _offer_samples() -> None:
    with st.expander(words.SAMPLES, expanded=_is_empty_log()):
        hint(words.SAMPLES_HINT)
        for sample in samples():
            st.button(
                sample.title,
                key=f"sample {sample.file}",
                on_click=_take_sample,
                args=(sample,),
                width="stretch",
            )


def _take_all(given: Sequence[UploadedFile], saved: int | None) -> None:
    """Take the first photo in hand and let the others wait; tell of each bad file."""
    good, bad = [], []
    for file in given:
        data = file.getvalue()
        try:
            cache.photo(digest(data), file.name, data)
        except StruckfaceError as error:
            bad.append(error)
        else:
            good.append(state.Shot(data=data, name=file.name, sha256=digest(data)))
    if not good:
        for told in bad:
            refuse(told)
        return
    of = saved if st.session_state.get(_AGAIN) else None
    st.session_state[_GIVEN] = (good, [str(error) for error in bad], of)
    st.rerun()


def _take_given() -> None:
    """Take what was given in hand, before any field of the page holds its value."""
    if _GIVEN not in st.session_state:
        return
    good, bad, of = st.session_state.pop(_GIVEN)
    start_over()
    state.wait_in_line(good[1:], bad)
    state.set_shot(good[0])
    if of is not None:
        choose_piece(casting(cache.log(), of))


def next_photo() -> None:
    """Take the next photo that waits, or ask for one."""
    start_over()
    state.set_shot(state.next_in_line())


def _is_empty_log() -> bool:
    try:
        return not has_pieces(cache.log())
    except StruckfaceError as error:
        refuse(error)
        return False


def _take_sample(sample: SamplePhoto) -> None:
    data = sample_bytes(sample)
    state.set_shot(state.Shot(data=data, name=sample.file, sha256=digest(data)))
    st.session_state[_BEGUN] = digest(data)
    set_marks(RULER, sample.ruler_xy)
    sample_scale(sample.ruler_mm)
    show_joints(sample.outline_xy, sample.joints_xy)
    go_to(FACE)


def start_over() -> None:
    """Points belong to the photo; way, distance and sizes are kept for the next one."""
    state.set_shot(None)
    forget_ruler()
    forget_marks()
    go_to(FACE)
