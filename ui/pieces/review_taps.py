"""What taps do to a review that is open: choose, add, join, decide, undo."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from analysis.errors import StruckfaceError
from analysis.services import review as service
from analysis.services import review_outlines as outlines
from ui.pieces import review_edit
from ui.widgets.notice import refuse

if TYPE_CHECKING:
    from analysis.model.review import Review
    from analysis.services.log import Log
    from analysis.services.review import Spot
    from ui.widgets.picture import Tap

CASE, REVIEW, CHOSEN = "review case", "review", "review chosen"
TROUBLE, DRAWN = "review trouble", "review drawn"


def show_trouble() -> None:
    """Show why the last tap did nothing."""
    trouble = st.session_state.pop(TROUBLE, None)
    if trouble is not None:
        refuse(trouble)


def take(log: Log, new: Review) -> None:
    """Go on with a changed review, kept against a closed browser."""
    st.session_state[REVIEW] = new
    try:
        service.keep_begun(log, st.session_state[CASE], new)
    except StruckfaceError as error:
        st.session_state[TROUBLE] = error


def choose(_log: Log, tap: Tap) -> None:
    """Choose the spot that was tapped, or none."""
    case, mine = st.session_state[CASE], st.session_state[REVIEW]
    listed = service.spots(case, mine)
    if tap.spot is not None and tap.spot < len(listed):
        st.session_state[CHOSEN] = tap.spot
        return
    found = service.spot_at(listed, (tap.y, tap.x), tap.reach_px)
    st.session_state[CHOSEN] = None if found is None else found.number


def add(log: Log, tap: Tap) -> None:
    """Add the missed void that was tapped."""
    case, mine = st.session_state[CASE], st.session_state[REVIEW]
    try:
        new = outlines.find_missed(case, mine, (tap.y, tap.x), tap.reach_px)
    except StruckfaceError as error:
        st.session_state[TROUBLE] = error
        return
    take(log, new)


def join(log: Log, tap: Tap) -> None:
    """Join the outline that is being changed with the one that was tapped."""
    case, mine = st.session_state[CASE], st.session_state[REVIEW]
    listed = service.spots(case, mine)
    edit = st.session_state[review_edit.EDIT]
    other = service.spot_at(listed, (tap.y, tap.x), tap.reach_px)
    if other is None:
        return
    try:
        new = outlines.join(case, mine, listed[edit.spot], other)
    except StruckfaceError as error:
        st.session_state[TROUBLE] = error
        return
    take(log, new)
    st.session_state[CHOSEN] = None
    review_edit.leave()


def take_drawn(log: Log) -> None:
    """Add the missed void that was drawn."""
    case, mine = st.session_state[CASE], st.session_state[REVIEW]
    line = np.array(st.session_state.get(DRAWN, ()), dtype=np.float64)
    line = line.reshape(-1, 2)[:, ::-1]
    try:
        new = outlines.draw_missed(case, mine, line)
    except StruckfaceError as error:
        st.session_state[TROUBLE] = error
        return
    take(log, new)


def decide(log: Log, spot: Spot, reason: str | None) -> None:
    """Turn a spot down for a reason, or count it."""
    take(log, service.decide(st.session_state[REVIEW], spot, reason))


def step(log: Log, way: str) -> None:
    """Go one decision back, or forward again."""
    mine: Review = st.session_state[REVIEW]
    take(log, mine.undo() if way == "undo" else mine.redo())
