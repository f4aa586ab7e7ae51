"""From one piece to the next: buttons, arrow keys, a swipe."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from ui import words
from ui.widgets.component import component_beside

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.model.library import Neighbours

_listening = component_beside(__file__, html="<span hidden></span>")


def show_turning(
    beside: Neighbours, go: Callable[[int], None], back: Callable[[], None]
) -> None:
    """Offer the way back to all pieces, and the pieces before and after one.

    Parameters
    ----------
    beside : Neighbours
        Which those are.
    go : callable
        Called with the key of the piece that is gone to.
    back : callable
        Called on the way back to all of them.
    """
    with st.container(
        horizontal=True,
        wrap=False,
        vertical_alignment="center",
        horizontal_alignment="distribute",
    ):
        st.button(words.BACK, on_click=back)
        if beside.place is None:
            return
        _turn("before", words.BEFORE, beside.before, go)
        st.markdown(words.place_of(beside.place + 1, beside.count))
        _turn("after", words.AFTER, beside.after, go)
    _listening(key="turning")


def _turn(
    way: str, label: str, piece_id: int | None, go: Callable[[int], None]
) -> None:
    st.button(
        label,
        key=f"turn-{way}",
        disabled=piece_id is None,
        on_click=go,
        args=(piece_id or 0,),
    )
