"""Giving many photos at once: each kept at once, each bad file told by name."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import photo_queue
from ui import words
from ui.photo_queue import words as said
from ui.widgets.fields import pick
from ui.widgets.notice import hint, refuse

if TYPE_CHECKING:
    from collections.abc import Sequence

    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from analysis.model.waiting import WaitingPhoto
    from analysis.services.log import Log

_ROUND, _BAD, _KEPT = "photo queue round", "photo queue bad files", "photo queue kept"
_FOLDED = "photo queue field folded"
_TO_LOOK_AT = ("given", "check")
_FILE_KINDS = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif"]


def give_step(log: Log, waiting: Sequence[WaitingPhoto]) -> None:
    """Ask for photos, and keep each before anything is done with it.

    Folded away where others wait: what is asked of those stands first.
    """
    if waiting and _is_folded(waiting):
        with st.expander(said.GIVE_MORE):
            _ask(log)
    else:
        st.header(said.GIVE, anchor=False)
        _ask(log)
    for told in st.session_state.get(_BAD, ()):
        refuse(told)
    if st.session_state.get(_KEPT) and photo_queue.is_working(log):
        st.success(said.KEPT)


def _is_folded(waiting: Sequence[WaitingPhoto]) -> bool:
    """Decide once for each field: one that is moved would lose what it is sending."""
    turn = st.session_state.setdefault(_ROUND, 0)
    asked = any(one.state in _TO_LOOK_AT for one in waiting)
    folded: bool = st.session_state.setdefault(f"{_FOLDED} {turn}", asked)
    return folded


def _ask(log: Log) -> None:
    hint(said.GIVE_HINT)
    stage = pick(said.STAGE, words.STAGES, "photo queue stage", index=0) or "as_struck"
    turn = st.session_state.setdefault(_ROUND, 0)
    given = st.file_uploader(
        said.UPLOAD,
        type=_FILE_KINDS,
        key=f"photo queue upload {turn}",
        accept_multiple_files=True,
    )
    if given:
        _keep(log, given, stage)
        # A fresh field, or a rerun would take the same files once more.
        st.session_state[_ROUND] = turn + 1
        photo_queue.start(log)
        st.rerun()


def _keep(log: Log, given: Sequence[UploadedFile], stage: str) -> None:
    bar = st.progress(0.0, said.KEEPING)
    bad = []
    for number, file in enumerate(given):
        bar.progress(number / len(given), f"{said.KEEPING}: {number} of {len(given)}")
        try:
            photo_queue.give(log, file.getvalue(), file.name, stage=stage)
        except StruckfaceError as error:
            bad.append(error)
    bar.empty()
    st.session_state[_BAD] = bad
    st.session_state[_KEPT] = len(bad) < len(given)
