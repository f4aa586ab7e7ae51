"""Counts points by one tap each; answers come back after every tap."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.point_count import ANSWERS
from ui.widgets.component import component_beside

if TYPE_CHECKING:
    from collections.abc import Callable


_shown = component_beside(__file__)


def counter(
    jpeg: bytes,
    *,
    tile_px: int,
    smallest_px: float,
    points: int,
    answers: str,
    before: int,
    key: str,
    version: str,
    words: Mapping[str, str],
    on_taps: Callable[[str], None],
) -> None:
    """Show the points of a field one after the other.

    Parameters
    ----------
    jpeg : bytes
        The points' surroundings, five in a row.
    tile_px : int
        Side of each.
    smallest_px : float
        Diameter of the smallest counted void, px of a tile.
    points : int
        How many there are.
    answers : str
        Given before; looked at again only when `version` changes.
    before : int
        Points of the fields before this one.
    key : str
        Names the counter in the session.
    version : str
        Another one is another field.
    words : mapping
        ``label``, ``where`` (``%`` stands for the point's number) and ``next``.
    on_taps : callable
        Told all answers of the field after each tap.
    """
    data = {
        "version": version,
        "image": f"data:image/jpeg;base64,{base64.b64encode(jpeg).decode('ascii')}",
        "tile": tile_px,
        "across": 5,
        "smallest": smallest_px,
        "count": points,
        "answers": answers,
        "before": before,
        **words,
    }

    def changed() -> None:
        taken = taps(st.session_state.get(key), version, points)
        if taken is not None:
            on_taps(taken)

    _shown(key=key, data=data, on_taps_change=changed)


def taps(state: object, version: str, points: int) -> str | None:
    """Take the browser's answers if they are of this field and can be answers.

    Examples
    --------
    >>> taps({"taps": {"version": "1", "answers": "vs"}}, "1", 25)
    'vs'
    >>> taps({"taps": {"version": "1", "answers": "vx"}}, "1", 25) is None
    True
    """
    sent = state.get("taps") if isinstance(state, Mapping) else None
    if not isinstance(sent, Mapping) or sent.get("version") != version:
        return None
    answers = sent.get("answers")
    if not isinstance(answers, str) or len(answers) > points:
        return None
    return answers if set(answers) <= set(ANSWERS) else None
