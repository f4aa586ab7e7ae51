"""Two photos that look like one face in two lights: one tap takes them together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.services import photo_queue, queue_pairs
from ui import cache, words
from ui.photo_queue import words as said
from ui.widgets.notice import plain
from ui.widgets.presses import act_button

if TYPE_CHECKING:
    from analysis.model.points import Points
    from analysis.model.waiting import WaitingPhoto
    from analysis.services.log import Log

    Pair = tuple[WaitingPhoto, WaitingPhoto]


def pair_step(
    log: Log, pair: Pair, piece_id: int | None, outline: Points | None
) -> None:
    """Show both photos beside each other and ask whether they are one face."""
    st.write(said.SAME_FACE)
    for place, photo in zip(st.columns(2), pair, strict=True):
        with place:
            jpeg = cache.outlined_jpeg(log, photo)
            st.image(jpeg, width="stretch", alt=f"{words.PHOTO} {photo.name}")
            plain(photo.name)
    act_button(
        said.RIGHT_BOTH,
        lambda: _right(log, pair, piece_id or 0, outline),
        key=f"photo queue both right {pair[0].id}",
        main=True,
        wide=True,
        disabled=piece_id is None,
    )
    act_button(
        said.NOT_A_PAIR,
        lambda: queue_pairs.part_pair(log, pair),
        key=f"photo queue no pair {pair[0].id}",
        wide=True,
    )


def _right(log: Log, pair: Pair, piece_id: int, outline: Points | None) -> None:
    queue_pairs.confirm_pair(log, pair, piece_id, outline)
    photo_queue.start(log)
