"""Saving a reading with the piece it shows: names filled in, changed, kept once."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import streamlit as st

from analysis.errors import InputError, StruckfaceError
from analysis.model.log import PhotoUse, Piece
from analysis.services import log as log_service
from analysis.services.proposing import proposed_piece
from ui import cache, state, words
from ui.widgets.fields import number, pick, pick_word, segments
from ui.widgets.new_piece import ask_piece, build_piece, fill_in_new, said_as

if TYPE_CHECKING:
    from analysis.model.log_views import Casting, Saved
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading
    from analysis.services.log import Log
    from ui.widgets.new_piece import PieceAnswers

_PIECE_WAY = "piece way"
_PIECE_KNOWN = "piece known"
_SET_UP = "set up"
_FILLED, _CHOSEN = "names filled in for", "piece was chosen"


class Keeping(NamedTuple):
    """What a reading is to be saved with, in words too, and what it was saved as."""

    answers: PieceAnswers | int | None
    use: PhotoUse
    token: str
    said: str
    saved_id: int | None


def fill_in(log: Log, sha256: str) -> None:
    """Fill in the piece a photo most likely shows, once a photo; all can be changed."""
    if st.session_state.get(state.is_answer(_FILLED)) == sha256:
        return
    st.session_state[_FILLED] = sha256
    if st.session_state.pop(_CHOSEN, False):
        return
    found = proposed_piece(log, sha256=sha256)
    _go_on_with_set_up(log, found.form_id)
    if found.piece_id is None:
        st.session_state[_PIECE_WAY] = "new"
        fill_in_new(found)
    else:
        _choose(found.piece_id)


def _go_on_with_set_up(log: Log, form_id: int | None) -> None:
    """Begin a session with the place and light of the last photo of this form."""
    if form_id is None or _SET_UP in st.session_state:
        return
    for casting in log_service.list_castings(log, form_id=form_id)[:1]:
        for line in log_service.list_readings(log, piece_id=casting.piece.id)[:1]:
            if line.use.set_up:
                st.session_state[_SET_UP] = line.use.set_up


def choose_piece(casting: Casting) -> None:
    """Let the next reading be of a piece in the log."""
    st.session_state[_CHOSEN] = True
    _choose(casting.piece.id)


def _choose(piece_id: int | None) -> None:
    st.session_state[_PIECE_WAY] = "known"
    st.session_state[_PIECE_KNOWN] = piece_id


def ask_keeping(log: Log, request: state.Request) -> Keeping:
    """Show what it will be saved with; nothing of it has to be touched."""
    known = {
        key: words.casting_called(name)
        for key, name in log_service.casting_names(log).items()
    }
    way = "new"
    if known:
        way = segments(words.WHICH_PIECE, words.PIECE_WAYS, _PIECE_WAY)
    answers: PieceAnswers | int | None
    if way == "new":
        answers = ask_piece(log)
        said = said_as(log, answers)
    else:
        answers = pick(words.PIECE, known, _PIECE_KNOWN)
        said = words.PIECE_MISSING
        if answers is not None:
            said = f"{words.PIECE} {known[answers]}"
    use = _ask_use(log)
    token = state.save_token((request, answers, use))
    return Keeping(answers, use, token, said, state.saved_as(token))


def _ask_use(log: Log) -> PhotoUse:
    with st.expander(words.ABOUT_PHOTO):
        stage = pick(words.STAGE, words.STAGES, "stage", index=0)
        purpose = pick(words.PURPOSE, words.PURPOSES, "purpose", index=0)
        state_then = pick(words.SURFACE, words.SURFACES, "surface state", index=0)
        unknown = {"": words.UNKNOWN}
        offered = log_service.words(log, "set_up")
        set_up = pick_word(words.SET_UP, offered, _SET_UP, unknown)
        age = number(words.AGE, "hours since striking", unit="h")
    return PhotoUse(
        stage=stage,
        purpose=purpose or "representative",
        surface_state=state_then or None,
        set_up=set_up or None,
        age_h=age,
    )


def piece_of(log: Log, keeping: Keeping) -> Piece:
    """Return the piece a reading is to be saved with, as far as it is answered."""
    answers = keeping.answers
    if isinstance(answers, int):
        return log_service.casting(log, answers).piece
    if answers is None:
        return Piece(name=words.BLANK, pour_id=0)
    try:
        return build_piece(answers)[0]
    except StruckfaceError:  # said once it is saved
        return Piece(name=words.BLANK, pour_id=0)


def save(log: Log, photo: Photo, reading: Reading, keeping: Keeping) -> Saved:
    """Keep a reading once.

    Raises
    ------
    StruckfaceError
        No piece, a name in use, or what the log refuses.
    """
    shot = state.shot()
    if keeping.answers is None or shot is None:
        raise InputError(words.PIECE_MISSING)
    second = _second_file(reading)
    if isinstance(keeping.answers, int):
        saved = log_service.save_reading(
            log,
            piece_id=keeping.answers,
            photo_bytes=shot.data,
            photo=photo,
            reading=reading,
            save_token=keeping.token,
            use=keeping.use,
            second=second,
        )
    else:
        piece, pour, form = build_piece(keeping.answers)
        saved = log_service.save_with_new_piece(
            log,
            piece=piece,
            pour=pour,
            form=form,
            photo_bytes=shot.data,
            photo=photo,
            reading=reading,
            save_token=keeping.token,
            use=keeping.use,
            second=second,
        )
    state.note_saved(keeping.token, saved.id)
    return saved


def _second_file(reading: Reading) -> tuple[bytes, Photo] | None:
    """Return the second file of a pair with what it shows."""
    shot = state.second()
    if reading.second_light is None or shot is None:
        return None
    return shot.data, cache.photo(shot.sha256, shot.name, shot.data)


def piece_of_saved(log: Log, sha256: str, reading_id: int | None) -> int | None:
    """Return the piece that a reading was saved with."""
    for line in log_service.list_readings(log, sha256=sha256):
        if line.id == reading_id:
            return line.piece_id
    return None
