"""A photo being measured and its answers, also kept in the log: servers restart."""

from __future__ import annotations

import json
from contextlib import suppress
from datetime import date
from typing import Any

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import records
from ui import cache, state

_KEPT = "draft as kept"
_KEY = "draft kept in the log"
_DAY = "day"
_PHOTO = "photo as kept"


def take_up() -> None:
    """Go on where a session or a server before this one was cut off."""
    state.take_up_draft()
    key = state.draft_key()
    if state.shot() is not None or not (key.isalnum() and key.isascii()):
        return
    # A log that cannot be read is told where something is saved into it.
    with suppress(StruckfaceError):
        log = cache.log()
        found = records.load_draft(log, _name(key))
        data = None if found is None else records.draft_photo(log, found["sha256"])
        if found is not None and data is not None:
            shot = state.Shot(data=data, name=found["name"], sha256=found["sha256"])
            state.resume(key, shot, {k: _read(v) for k, v in found["answers"].items()})


def keep() -> None:
    """Keep the photo at hand and what was answered, here and in the log."""
    state.keep_draft()
    shot, key = state.shot(), state.draft_key()
    _let_go(key if shot is not None else "")
    if shot is None or not key:
        return
    answers = {
        name: written
        for name, value in state.answers().items()
        if (written := _written(value)) is not NotImplemented
    }
    content = {"name": shot.name, "sha256": shot.sha256, "answers": answers}
    stands = json.dumps(content, sort_keys=True)
    if st.session_state.get(_KEPT) == stands:
        return
    # Measuring must not fail because a draft cannot be kept.
    with suppress(StruckfaceError):
        log = cache.log()
        if st.session_state.get(_PHOTO) != shot.sha256:
            records.keep_draft_photo(log, shot.data)
            st.session_state[_PHOTO] = shot.sha256
        records.save_draft(log, _name(key), content)
        st.session_state[_KEPT] = stands
        st.session_state[_KEY] = key


def _let_go(key: str) -> None:
    """Forget the draft of a photo that is no longer at hand."""
    before = st.session_state.get(_KEY, "")
    if before and before != key:
        with suppress(StruckfaceError):
            records.drop_draft(cache.log(), _name(before))
        del st.session_state[_KEY]
        st.session_state.pop(_KEPT, None)


def _name(key: str) -> str:
    return f"measure of {key}"


def _written(value: object) -> Any:  # noqa: ANN401  what JSON can hold
    """Return a value as the log's drafts hold it, NotImplemented if they cannot."""
    if isinstance(value, date):
        return {_DAY: value.isoformat()}
    if value is None or isinstance(value, str | int | float):
        return value
    return NotImplemented


def _read(value: Any) -> Any:  # noqa: ANN401  what JSON can hold
    return date.fromisoformat(value[_DAY]) if isinstance(value, dict) else value
