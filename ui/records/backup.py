"""Backups of the log, and the way back from one."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from analysis.services import records
from ui import cache
from ui.records import exchange_words as words
from ui.widgets.notice import hint, plain, plain_lines
from ui.widgets.presses import act_button, done, pressed
from ui.words import BACKUPS, CHOOSE

if TYPE_CHECKING:
    from analysis.services.log import Log

_DONE = "restored"
_LARGE_BYTES = 100_000_000


def show_backup(log: Log) -> None:
    """Back the log up, fetch a backup, restore one."""
    _tell_restored()
    hint(words.BACK_UP_WHAT)
    if pressed(words.BACK_UP, key="back up", main=True, wide=True):
        path = records.back_up_whole(log)
        done("back up")
        plain(f"{words.BACKED_UP} {words.backup_line(path)}")
        _tell_lost(log, path)
    st.header(BACKUPS, anchor=False)
    backups = _backups(log)
    if not backups:
        st.write(words.NO_BACKUP)
    for path in backups:
        with st.container(
            border=True,
            horizontal=True,
            wrap=False,
            vertical_alignment="center",
            horizontal_alignment="distribute",
        ):
            plain(words.backup_line(path))
            _fetch(path)
    st.header(words.RESTORE, anchor=False)
    hint(words.RESTORE_WHAT)
    _choose_and_restore(log, backups)


def _fetch(path: Path) -> None:
    """Offer a file; a large one goes straight from the disk, not through memory."""
    if path.stat().st_size > _LARGE_BYTES and path.suffix == ".zip":
        # Served beside the pages: ui.sharing.serving.
        st.link_button(words.DOWNLOAD, f"/backups/{path.name}")
        return
    st.download_button(
        words.DOWNLOAD, path.read_bytes, path.name, key=f"fetch {path.name}"
    )


def _tell_lost(log: Log, path: Path) -> None:
    """List the photos that a backup had to leave out."""
    lost = records.lost_photos(path)
    if lost:
        st.warning(words.lost(len(lost)))
        plain_lines(records.photo_names(log, lost))


def show_rescue() -> None:
    """Lead from a log that cannot be opened to its last good state."""
    log = records.locate(os.environ.get("STRUCKFACE_DATA") or None)
    backups = _backups(log)
    good = _last_good(tuple((path, path.stat().st_mtime) for path in backups), log)
    st.header(words.RESCUE, anchor=False)
    st.write(words.RESCUE_WHAT)
    if good is not None:
        plain(words.backup_line(good))
        act_button(
            words.RESTORE_NOW,
            lambda: _restore(log, good),
            key="last",
            about=good,
            main=True,
            wide=True,
        )
    else:
        st.write(words.NO_RESCUE)
    _choose_and_restore(log, [path for path in backups if path != good])
    with st.expander(words.BEGIN_ANEW):
        st.write(words.BEGIN_ANEW_WHAT)
        sure = st.checkbox(words.SURE_ANEW)
        act_button(
            words.BEGIN_ANEW,
            lambda: _begin_anew(log),
            key="begin anew",
            disabled=not sure,
            wide=True,
        )


@st.cache_data(show_spinner=words.LOOKING_FOR_GOOD, max_entries=4)
def _last_good(found: tuple[tuple[Path, float], ...], _log: Log) -> Path | None:  # noqa: ARG001  the key
    return records.last_good(_log)


def _begin_anew(log: Log) -> None:
    if log.file is None:
        return
    records.begin_anew(log.file.parent)
    cache.reopen()
    st.session_state.clear()


def _backups(log: Log) -> list[Path]:
    """Return all that the log can be put back from, latest first."""
    return list(records.restorable(log))


def _choose_and_restore(log: Log, backups: list[Path]) -> None:
    chosen = None
    if backups:
        chosen = st.selectbox(
            words.CHOOSE_BACKUP,
            backups,
            index=None,
            format_func=words.backup_line,
            placeholder=CHOOSE,
            key="backup chosen",
        )
    file = st.file_uploader(words.OTHER_BACKUP, key="backup file")
    if chosen is None and file is None:
        return
    sure = st.checkbox(words.SURE)

    def restore() -> None:
        if file is None:
            _restore(log, chosen)
            return
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "backup.zip"
            path.write_bytes(file.getvalue())
            _restore(log, path)

    act_button(
        words.RESTORE_NOW,
        restore,
        key="restore chosen",
        about=chosen if file is None else file.file_id,
        disabled=not sure,
        wide=True,
    )


def _restore(log: Log, path: Path | None) -> None:
    """Put a backup in the place of the log and say what is in it."""
    if path is None or log.file is None:
        return
    restored = records.restore(path, log.file.parent, replace=True)
    cache.reopen()
    count = len(records.list_castings(restored))
    # What was begun belongs to the log before.
    st.session_state.clear()
    st.session_state[_DONE] = f"{words.RESTORED} {count} pieces."
    st.session_state["show"] = "backup"


def _tell_restored() -> None:
    if _DONE in st.session_state:
        st.success(st.session_state[_DONE])
