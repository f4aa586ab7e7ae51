"""What taps do to a review that is open: choose, add, join, decide, undo.

A page that is slow shows its controls for a while after the review was closed, by its
own button or on another device: what is tapped then does nothing.
"""

from __future__ import annotations

from functools import wraps
from typing import TYPE_CHECKING, Concatenate, ParamSpec

import numpy as np
import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import review as service
from analysis.services import review_outlines as outlines
from ui.pieces import review_edit
from ui.widgets.notice import refuse

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.model.review import Review
    from analysis.services.log import Log
    from analysis.services.review import ReviewCase, Spot
    from ui.widgets.picture import Tap

_Rest = ParamSpec("_Rest")
CASE, REVIEW, CHOSEN = "review case", "review", "review chosen"
TROUBLE, DRAWN = "review trouble", "review drawn"


def opened() -> tuple[ReviewCase, Review] | None:
    """Return the case that is open with its decisions, if one is."""
    case: ReviewCase | None = st.session_state.get(CASE)
    mine: Review | None = st.session_state.get(REVIEW)
    return None if case is None or mine is None else (case, mine)


def _on_open(
    tapped: Callable[Concatenate[ReviewCase, Review, Log, _Rest], None],
) -> Callable[Concatenate[Log, _Rest], None]:
    """Hand on the review that is open; without one do nothing."""

    @wraps(tapped)
    def told(log: Log, /, *args: _Rest.args, **kwargs: _Rest.kwargs) -> None:
        found = opened()
        if found is not None:
            tapped(*found, log, *args, **kwargs)

    return told


def show_trouble() -> None:
    """Show why the last tap did nothing."""
    trouble = st.session_state.pop(TROUBLE, None)
    if trouble is not None:
        refuse(trouble)


def take(log: Log, new: Review) -> None:
    """Go on with a changed review, kept against a closed browser."""
    found = opened()
    if found is None:
        return
    st.session_state[REVIEW] = new
    try:
        service.keep_begun(log, found[0], new)
    except StruckfaceError as error:
        st.session_state[TROUBLE] = error


@_on_open
def choose(case: ReviewCase, mine: Review, _log: Log, tap: Tap) -> None:
    """Choose the spot that was tapped, or none."""
    listed = service.spots(case, mine)
    if tap.spot is not None and tap.spot < len(listed):
        st.session_state[CHOSEN] = tap.spot
        return
    found = service.spot_at(listed, (tap.y, tap.x), tap.reach_px)
    st.session_state[CHOSEN] = None if found is None else found.number


@_on_open
def add(case: ReviewCase, mine: Review, log: Log, tap: Tap) -> None:
    """Add the missed void that was tapped."""
    try:
        new = outlines.find_missed(case, mine, (tap.y, tap.x), tap.reach_px)
    except StruckfaceError as error:
        st.session_state[TROUBLE] = error
        return
    take(log, new)


@_on_open
def join(case: ReviewCase, mine: Review, log: Log, tap: Tap) -> None:
    """Join the outline that is being changed with the one that was tapped."""
    listed = service.spots(case, mine)
    edit: review_edit.Edit | None = st.session_state.get(review_edit.EDIT)
    other = service.spot_at(listed, (tap.y, tap.x), tap.reach_px)
    if edit is None or edit.spot is None or other is None:
        return
    try:
        new = outlines.join(case, mine, listed[edit.spot], other)
    except StruckfaceError as error:
        st.session_state[TROUBLE] = error
        return
    take(log, new)
    st.session_state[CHOSEN] = None
    review_edit.leave()


@_on_open
def take_drawn(case: ReviewCase, mine: Review, log: Log) -> None:
    """Add the missed void that was drawn."""
    line = np.array(st.session_state.get(DRAWN, ()), dtype=np.float64)
    line = line.reshape(-1, 2)[:, ::-1]
    try:
        new = outlines.draw_missed(case, mine, line)
    except StruckfaceError as error:
        st.session_state[TROUBLE] = error
        return
    take(log, new)


@_on_open
def decide(
    _case: ReviewCase, mine: Review, log: Log, spot: Spot, reason: str | None
) -> None:
    """Turn a spot down for a reason, or count it."""
    take(log, service.decide(mine, spot, reason))


@_on_open
def say_seen(_case: ReviewCase, mine: Review, log: Log, key: str) -> None:
    """Say that nothing is left undecided, or that something is again."""
    now: bool | None = st.session_state.get(key)
    if now is not None:
        take(log, service.say_seen(mine, seen=now))


@_on_open
def step(_case: ReviewCase, mine: Review, log: Log, way: str) -> None:
    """Go one decision back, or forward again."""
    take(log, mine.undo() if way == "undo" else mine.redo())
