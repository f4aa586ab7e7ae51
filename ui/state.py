"""What a session remembers between reruns, and after a locked phone or a reload.

A session ends when its connection does. What was begun is therefore kept as a draft in
the server's memory too, under a key in the page's address, and taken up from there.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import streamlit as st

if TYPE_CHECKING:
    from analysis.model.photo import Scale
    from analysis.model.points import Points
    from analysis.model.reading import Reading
    from analysis.model.view import View

_SHOT = "shot"
_SECOND = "second shot"
_READINGS = "readings"
_TOKENS = "save tokens"
_SAVED = "saved"
_ANSWERS = "answers"
_DRAFT = "draft"
_WAITING = "waiting photos"
_REFUSED = "refused files"
_DRAFTS_KEPT = 8
_READINGS_KEPT = 4


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """The photo at hand: its bytes, its name for display, the sha256 of the bytes."""

    data: bytes
    name: str
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Request:
    """All that a reading depends on, comparable. Points are (x, y) px."""

    sha256: str
    scale: Scale | None
    outline: Points | None
    left_out: tuple[Points, ...]
    joints: tuple[tuple[str, Points], ...]
    smallest_mm: float | None
    sloped: tuple[Points, ...] = ()
    band_mm: float = 15.0
    view: View | None = None
    up: str = ""
    face_name: str = ""
    second_sha256: str = ""
    face_kind: str | None = None
    pitch_mm: float | None = None
    depth_mm: float | None = None


def shot() -> Shot | None:
    """Return the photo at hand."""
    found: Shot | None = st.session_state.get(_SHOT)
    return found


def set_shot(new: Shot | None) -> None:
    """Take another photo in hand, or none; readings of the one before are let go."""
    st.session_state[_SHOT] = new
    st.session_state.pop(_SECOND, None)
    st.session_state.pop(_READINGS, None)
    _drafts().pop(st.session_state.pop(_DRAFT, ""), None)
    st.query_params.pop(_DRAFT, None)


def second() -> Shot | None:
    """Return the photo with the lamp on the other side, if one is at hand."""
    found: Shot | None = st.session_state.get(_SECOND)
    return found


def set_second(new: Shot | None) -> None:
    """Take a second photo of the face in hand, or none."""
    st.session_state[_SECOND] = new


def wait_in_line(shots: list[Shot], refused: list[str]) -> None:
    """Let photos of one upload wait their turn; keep what was said of bad files."""
    st.session_state[_WAITING] = shots
    st.session_state[_REFUSED] = refused


def waiting() -> int:
    """Return how many photos wait."""
    return len(st.session_state.get(_WAITING, ()))


def next_in_line() -> Shot | None:
    """Take the next photo that waits."""
    shots: list[Shot] = st.session_state.get(_WAITING, [])
    st.session_state.pop(_REFUSED, None)
    return shots.pop(0) if shots else None


def refused() -> list[str]:
    """Return what was said of the files of this upload that were no photos."""
    found: list[str] = st.session_state.get(_REFUSED, [])
    return found


def remember_reading(request: Request, reading: Reading) -> None:
    """Keep a reading under what it depends on, and only the latest few."""
    kept: dict[Request, Reading] = st.session_state.setdefault(_READINGS, {})
    kept.pop(request, None)
    kept[request] = reading
    for old in list(kept)[:-_READINGS_KEPT]:
        del kept[old]


def reading_for(request: Request) -> Reading | None:
    """Return the reading made with exactly this, never one made with anything else."""
    kept: dict[Request, Reading] = st.session_state.get(_READINGS, {})
    return kept.get(request)


def has_readings() -> bool:
    """Tell whether this photo was measured in any way."""
    return bool(st.session_state.get(_READINGS))


def save_token(content: object) -> str:
    """Return the token of a form as it is filled in now; the same again for the same.

    A second press brings the same token, so that nothing is saved twice.
    """
    tokens: dict[str, str] = st.session_state.setdefault(_TOKENS, {})
    return tokens.setdefault(repr(content), uuid4().hex)


def note_saved(token: str, reading_id: int) -> None:
    """Remember what a token was saved as."""
    st.session_state.setdefault(_SAVED, {})[token] = reading_id


def any_saved() -> bool:
    """Tell whether anything was saved in this session."""
    return bool(st.session_state.get(_SAVED))


def saved_as(token: str) -> int | None:
    """Return the reading this token was saved as, None when it was not."""
    saved: dict[str, int] = st.session_state.get(_SAVED, {})
    return saved.get(token)


def is_answer(key: str) -> str:
    """Note that a field's value belongs into the draft; give its key back."""
    st.session_state.setdefault(_ANSWERS, set()).add(key)
    return key


@st.cache_resource(show_spinner=False)
def _drafts() -> dict[str, dict[str, Any]]:
    return {}


def keep_draft() -> None:
    """Keep the photo at hand and all that was answered about it."""
    if shot() is None:
        return
    key = st.session_state.setdefault(_DRAFT, uuid4().hex)
    kept = {_SHOT, _SECOND, _READINGS, _TOKENS, _SAVED, _ANSWERS, _DRAFT}
    kept |= st.session_state.get(_ANSWERS, set())
    drafts = _drafts()
    drafts.pop(key, None)
    drafts[key] = {
        name: st.session_state[name] for name in kept if name in st.session_state
    }
    for old in list(drafts)[:-_DRAFTS_KEPT]:
        drafts.pop(old, None)
    st.query_params[_DRAFT] = key


def draft_key() -> str:
    """Return the key of the draft that the address names, empty without one."""
    return st.query_params.get(_DRAFT, "")


def answers() -> dict[str, Any]:
    """Return what was answered about the photo at hand."""
    given = st.session_state.get(_ANSWERS, set())
    return {key: st.session_state[key] for key in given if key in st.session_state}


def resume(key: str, photo: Shot, given: dict[str, Any]) -> None:
    """Take up a photo and what was answered about it under a draft's key."""
    st.session_state.update(given)
    st.session_state.update({_SHOT: photo, _ANSWERS: set(given), _DRAFT: key})


def take_up_draft() -> None:
    """Go on where a session before this one was cut off."""
    draft = _drafts().get(st.query_params.get(_DRAFT, ""))
    if shot() is None and draft is not None:
        st.session_state.update(draft)
