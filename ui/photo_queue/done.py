"""What came of the photos of a batch."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.services import log as log_service
from analysis.services import photo_queue
from ui import reading_words, words
from ui.photo_queue import words as said
from ui.widgets.notice import plain, plain_lines, refusing
from ui.widgets.strike_card import lines_of_piece

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.waiting import WaitingPhoto
    from analysis.services.log import Log

_REFRESH_S = 2


def show_progress(log: Log) -> None:
    """Say how far the background is, and draw the page anew when it is through."""
    if photo_queue.is_working(log):
        st.fragment(_progress, run_every=_REFRESH_S)(log)


def _progress(log: Log) -> None:
    part, text = said.progress(photo_queue.list_waiting(log))
    st.progress(part, text)
    if not photo_queue.is_working(log):
        st.rerun()


def show_done(log: Log, waiting: Sequence[WaitingPhoto]) -> None:
    """List what was measured, with the share, and what could not be."""
    failed = [one for one in waiting if one.state == "failed"]
    if failed:
        st.header(said.FAILED, anchor=False)
    for one in failed:
        with st.container(border=True):
            plain_lines((one.name, one.problem))
            with st.container(horizontal=True):
                st.button(
                    said.AGAIN,
                    key=f"again {one.id}",
                    on_click=refusing(_again),
                    args=(log, one),
                )
                st.button(
                    said.ASIDE,
                    key=f"aside {one.id}",
                    on_click=refusing(photo_queue.put_aside),
                    args=(log, one.id),
                )
    # The second photo of a pair is told with its first.
    done = [
        one
        for one in waiting
        if one.state == "done" and one.reading_id and not one.asked.first_sha256
    ]
    if not done:
        return
    st.header(said.RESULTS, anchor=False)
    lines = {
        line.id: line
        for one in done
        for line in log_service.list_readings(log, sha256=one.sha256)
    }
    names = _names(log, {line.piece_id for line in lines.values()})
    for one in done:
        line = lines.get(one.reading_id or 0)
        if line is None:
            continue
        with st.container(border=True, horizontal=True, vertical_alignment="center"):
            told = (names.get(line.piece_id, ""), reading_words.reading_told(line))
            plain_lines((*told, *lines_of_piece(log, line.piece_id)))
            st.page_link(
                "pieces/page.py",
                label=said.OPEN,
                query_params={"piece": str(line.piece_id)},
            )
    st.button(
        said.CLEAR,
        on_click=refusing(photo_queue.clear_done),
        args=(log,),
        width="stretch",
    )


def _names(log: Log, piece_ids: set[int]) -> dict[int | None, str]:
    found = log_service.list_castings(log, piece_ids=piece_ids)
    return {one.piece.id: words.casting_name(one) for one in found}


def _again(log: Log, photo: WaitingPhoto) -> None:
    photo_queue.check_again(log, photo)
    photo_queue.start(log)


def show_all(log: Log, waiting: Sequence[WaitingPhoto]) -> None:
    """Show all photos with piece and state in a table."""
    if not waiting:
        plain(said.NOTHING_WAITS)
        return
    names = _names(log, {one.piece_id for one in waiting if one.piece_id})
    with st.expander(f"{said.ALL_PHOTOS} ({len(waiting)})"):
        st.dataframe(
            {
                "Photo": [one.name for one in waiting],
                "Taken": [said.taken(one) for one in waiting],
                "Piece": [names.get(one.piece_id, "") for one in waiting],
                "State": [said.STATES[one.state] for one in waiting],
            },
            hide_index=True,
            width="stretch",
        )
