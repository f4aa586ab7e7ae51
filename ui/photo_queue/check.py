"""Checking the photos of a batch, one at a time: whose it is, and where its face is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.photo import Face
from analysis.model.points import row_col
from analysis.services import log as log_service
from analysis.services import photo_queue, queue_pairs
from ui import cache, state, words
from ui.photo_queue import words as said
from ui.photo_queue.outlines import contact_sheet, outline_of
from ui.photo_queue.pair import pair_step
from ui.widgets.fields import pick, segments
from ui.widgets.held_set_up import tell_held_set_up
from ui.widgets.keeping import choose_piece
from ui.widgets.notice import hint, plain, refuse, refusing
from ui.widgets.presses import act_button

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.points import Points
    from analysis.model.waiting import WaitingPhoto
    from analysis.services.log import Log
    from ui.photo_queue.pair import Pair

_LATER = "photo queue later"
_SURE = ("card", "form_card")


def check_step(log: Log, waiting: Sequence[WaitingPhoto]) -> None:
    """Show the next photo to be checked, with all that is proposed."""
    later: list[int] = st.session_state.setdefault(_LATER, [])
    to_check = [one for one in waiting if one.state == "check"]
    if not to_check:
        return
    st.header(said.CHECK, anchor=False)
    sure = [
        one
        for one in to_check
        if one.why in _SURE
        and one.asked.has_scale
        and queue_pairs.pair_of(one, to_check) is None
    ]
    if sure:
        contact_sheet(log, sure)
        act_button(
            said.all_right(len(sure)),
            lambda: _all_right(log, sure),
            key="photo queue all right",
            about=[one.id for one in sure],
            main=True,
            wide=True,
        )
    photo = min(to_check, key=lambda one: one.id in later and later.index(one.id) + 1)
    pair = queue_pairs.pair_of(photo, to_check)
    if pair is not None:
        photo = pair[0]  # the one with the card, or the earlier one
    plain(f"{said.place(1, len(to_check))}: {photo.name}")
    try:
        _check(log, photo, pair, is_main=not sure)
    except StruckfaceError as error:
        refuse(error)
    with st.container(horizontal=True):
        # Named after their photo: a second tap must not reach the next one.
        st.button(
            said.LATER,
            key=f"photo queue later {photo.id}",
            on_click=_later,
            args=(photo.id,),
        )
        st.button(
            said.ASIDE,
            key=f"photo queue aside {photo.id}",
            on_click=refusing(photo_queue.put_aside),
            args=(log, photo.id),
        )


def _check(
    log: Log, waiting: WaitingPhoto, pair: Pair | None, *, is_main: bool
) -> None:
    shown, scale, areas = cache.waiting_view(log, waiting)
    if waiting.problem:
        st.warning(words.literal(waiting.problem))
    left, right = st.columns((3, 2))
    with right:
        names = {
            key: words.casting_called(name)
            for key, name in log_service.casting_names(log).items()
        }
        at = list(names).index(waiting.piece_id) if waiting.piece_id in names else None
        piece_id = pick(said.WHICH, names, _key(waiting), index=at)
        hint(said.WHYS[waiting.why])
        ways = said.FACES if waiting.asked.outline else said.FACES_UNKNOWN
        way = segments(said.FACE, ways, f"photo queue face {waiting.id}")
    with left:
        outline = outline_of(shown, waiting, way, areas)
    if scale is None:
        st.warning(said.NO_SCALE)
    ready = piece_id is not None and (way == "whole" or outline is not None)
    if ready and piece_id is not None:
        form = log_service.form_of_piece(log, piece_id)
        face = Face(outline_px=None if outline is None else row_col(outline))
        tell_held_set_up(shown, scale, face, None if form is None else form.id)
    if pair is not None:
        pair_step(log, pair, piece_id if ready else None, outline)
        return
    act_button(
        said.RIGHT,
        lambda: _right(log, waiting, piece_id or 0, outline),
        key=f"photo queue right {waiting.id}",
        main=is_main,
        wide=True,
        disabled=not ready,
    )
    if st.button(said.BY_HAND, key=f"by hand {waiting.id}", width="stretch"):
        _by_hand(log, waiting, piece_id)


def _all_right(log: Log, sure: Sequence[WaitingPhoto]) -> None:
    for one in sure:
        photo_queue.confirm(log, one, one.piece_id or 0, one.asked.outline)
    photo_queue.start(log)


def _right(
    log: Log, waiting: WaitingPhoto, piece_id: int, outline: Points | None
) -> None:
    photo_queue.confirm(log, waiting, piece_id, outline)
    photo_queue.start(log)


def _key(waiting: WaitingPhoto) -> str:
    """Name the field so that another proposal begins it anew."""
    return f"photo queue piece {waiting.id} {waiting.piece_id}"


def _by_hand(log: Log, waiting: WaitingPhoto, piece_id: int | None) -> None:
    """Take the photo to where all of it can be marked; it is noted once saved."""
    data = log_service.photo_bytes(log, waiting.sha256)
    state.set_shot(state.Shot(data=data, name=waiting.name, sha256=waiting.sha256))
    if piece_id is not None:
        choose_piece(log_service.casting(log, piece_id))
    st.switch_page("measure/page.py")


def _later(photo_id: int) -> None:
    later: list[int] = st.session_state.setdefault(_LATER, [])
    if photo_id in later:
        later.remove(photo_id)
    later.append(photo_id)
