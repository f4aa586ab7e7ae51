"""The photo queue: many at once, checked one at a time, measured in the background."""

from __future__ import annotations

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import photo_queue
from ui import cache
from ui.photo_queue import words
from ui.photo_queue.check import check_step
from ui.photo_queue.done import show_all, show_done, show_progress
from ui.photo_queue.folder_progress import show_folders
from ui.photo_queue.give import give_step
from ui.widgets.notice import refuse


def render() -> None:
    """Draw the page."""
    st.title(words.PHOTO_QUEUE, anchor=False)
    try:
        log = cache.log()
        waiting = photo_queue.list_waiting(log)
        give_step(log, waiting)
        if any(one.state in {"given", "ready"} for one in waiting):
            photo_queue.start(log)  # goes on after the server was stopped
            waiting = photo_queue.list_waiting(log)
        show_progress(log)
        check_step(log, waiting)
        show_done(log, waiting)
        show_folders(log)
        show_all(log, waiting)
    except StruckfaceError as error:
        refuse(error)


if __name__ == "__main__":
    render()
