"""How far the measuring of a folder is, with the photos measured last."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services.folders.told import is_going, lately
from ui import cache
from ui.photo_queue import words as said
from ui.widgets.notice import plain
from ui.words import PHOTO

if TYPE_CHECKING:
    from analysis.model.folder import FolderRun
    from analysis.services.log import Log

_REFRESH_S = 2
_THUMB_PX = 120


def show_folders(log: Log) -> None:
    """Show the folders measured lately, and go on while one is being measured."""
    runs = lately(log)
    if any(is_going(one) for one in runs):
        st.fragment(_folders, run_every=_REFRESH_S)(log)
    elif runs:
        _folders(log)


def _folders(log: Log) -> None:
    for one in lately(log):
        st.header(said.folder_title(one.folder), anchor=False)
        through = one.measured + one.skipped + one.failed
        st.progress(min(1.0, through / max(one.photos, 1)))
        plain(said.folder_line(one, going=is_going(one)))
        _thumbs(log, one)


def _thumbs(log: Log, run: FolderRun) -> None:
    with st.container(horizontal=True):
        for sha256, name in run.latest:
            try:
                jpeg = cache.thumb_jpeg(log, sha256, name)
                st.image(jpeg, width=_THUMB_PX, alt=f"{PHOTO} {name}")
            except StruckfaceError:
                plain(name)  # its original is gone; the figure stands
