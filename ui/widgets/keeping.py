"""Saving a reading with the piece it shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import InputError, StruckfaceError
from analysis.model.log import PhotoUse
from analysis.services import log as log_service
from ui import cache, state, words
from ui.widgets.fields import number, pick, pick_word, segments
from ui.widgets.new_piece import ask_piece, build_piece
from ui.widgets.notice import plain, refuse

if TYPE_CHECKING:
    from analysis.model.log_views import Casting, Saved
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading
    from analysis.services.log import Log
    from ui.widgets.new_piece import Answers

_PIECE_WAY = "piece way"
_PIECE_KNOWN = "piece known"


def save_step(photo: Photo, reading: Reading, request: state.Request) -> None:
    """Ask which piece it is, and save once."""
    st.header(words.STEP_SAVE, anchor=False)
    try:
        log = cache.log()
        with st.container():
            _tell_known(log, photo.sha256)
        answers = _ask_which(log)
        use = _ask_use(log)
        pressed = st.button(words.SAVE, type="primary", width="stretch", key="save")
        token = state.save_token((request, answers, use))
        if pressed:
            saved = _save(log, photo, reading, answers, use, token)
            state.note_saved(token, saved.id)
            st.success(words.ALREADY_SAVED if saved.already_saved else words.SAVED)
        elif state.saved_as(token) is not None:
            st.success(words.SAVED)
        _link(log, photo.sha256, state.saved_as(token))
    except StruckfaceError as error:
        refuse(error)


def choose_piece(casting: Casting) -> None:
    """Let the next reading be of a piece in the log."""
    st.session_state[_PIECE_WAY] = "known"
    st.session_state[_PIECE_KNOWN] = casting.piece.id


def forget_new_piece() -> None:
    """After a new piece was saved, the next photo is asked to be of one in the log."""
    if state.any_saved() and st.session_state.get(_PIECE_WAY, "new") == "new":
        st.session_state[_PIECE_WAY] = "known"
        st.session_state[_PIECE_KNOWN] = None


def _tell_known(log: Log, sha256: str) -> None:
    for line in log_service.list_readings(log, sha256=sha256)[:1]:
        known = log_service.casting(log, line.piece_id)
        plain(f"{words.KNOWN_PHOTO} {words.casting_name(known)}.")


def _ask_which(log: Log) -> Answers | int | None:
    """Return the key of a piece in the log, or the answers for a new one."""
    known = {
        casting.piece.id: words.casting_name(casting)
        for casting in log_service.list_castings(log)
        if casting.piece.id is not None
    }
    way = "new"
    if known:
        way = segments(words.WHICH_PIECE, words.PIECE_WAYS, _PIECE_WAY)
    if way == "new":
        return ask_piece(log)
    return pick(words.PIECE, known, _PIECE_KNOWN)


def _ask_use(log: Log) -> PhotoUse:
    left, right = st.columns(2)
    with left:
        stage = pick(words.STAGE, words.STAGES, "stage", index=0)
        state_then = pick(words.SURFACE, words.SURFACES, "surface state", index=0)
        age = number(words.AGE, "hours since striking", unit="h")
    with right:
        purpose = pick(words.PURPOSE, words.PURPOSES, "purpose", index=0)
        unknown = {"": words.UNKNOWN}
        offered = log_service.words(log, "set_up")
        set_up = pick_word(words.SET_UP, offered, "set up", unknown)
    return PhotoUse(
        stage=stage,
        purpose=purpose or "representative",
        surface_state=state_then or None,
        set_up=set_up or None,
        age_h=age,
    )


def _save(
    log: Log,
    photo: Photo,
    reading: Reading,
    answers: Answers | int | None,
    use: PhotoUse,
    token: str,
) -> Saved:
    shot = state.shot()
    if answers is None or shot is None:
        raise InputError(words.PIECE_MISSING)
    second = _second_file(reading)
    if isinstance(answers, int):
        return log_service.save_reading(
            log,
            piece_id=answers,
            photo_bytes=shot.data,
            photo=photo,
            reading=reading,
            save_token=token,
            use=use,
            second=second,
        )
    piece, pour, form = build_piece(answers)
    return log_service.save_with_new_piece(
        log,
        piece=piece,
        pour=pour,
        form=form,
        photo_bytes=shot.data,
        photo=photo,
        reading=reading,
        save_token=token,
        use=use,
        second=second,
    )


def _second_file(reading: Reading) -> tuple[bytes, Photo] | None:
    """Return the second file of a pair with what it shows."""
    shot = state.second()
    if reading.second_light is None or shot is None:
        return None
    return shot.data, cache.photo(shot.sha256, shot.name, shot.data)


def _link(log: Log, sha256: str, reading_id: int | None) -> None:
    for line in log_service.list_readings(log, sha256=sha256):
        if line.id == reading_id:
            st.page_link(
                "pieces/page.py",
                label=words.OPEN_SAVED,
                query_params={"piece": str(line.piece_id)},
            )
