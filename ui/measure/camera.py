"""The live camera with the edges of a photo over it, where the browser gives one."""

from __future__ import annotations

import base64
import binascii
from collections.abc import Mapping
from typing import TYPE_CHECKING

import streamlit as st

from ui.widgets.component import component_beside

if TYPE_CHECKING:
    from collections.abc import Callable


_shown = component_beside(__file__)


def camera(
    ghost_png: bytes,
    *,
    across: float,
    key: str,
    version: str,
    words: Mapping[str, str],
    on_photo: Callable[[bytes], None],
) -> None:
    """Offer the live camera, edges laid over it; nothing where the browser has none.

    Parameters
    ----------
    ghost_png : bytes
        Transparent but for the edges.
    across : float
        Width over height of the photo they are of.
    key : str
        Names the camera in the session.
    version : str
        Another one is another photo to line up with.
    words : mapping
        ``open``, ``take``, ``close``, ``how`` and ``refused``.
    on_photo : callable
        Told the file that was taken.
    """
    data = {
        "version": version,
        "ghost": f"data:image/png;base64,{base64.b64encode(ghost_png).decode('ascii')}",
        "across": across,
        **words,
    }

    def changed() -> None:
        photo = taken(st.session_state.get(key), version)
        if photo is not None:
            on_photo(photo)

    _shown(key=key, data=data, on_photo_change=changed)


def taken(state: object, version: str) -> bytes | None:
    """Take the browser's photo if it is one for this picture.

    Examples
    --------
    >>> url = "data:image/jpeg;base64,aGVsbG8="
    >>> taken({"photo": {"version": "1", "url": url}}, "1")
    b'hello'
    >>> taken({"photo": {"version": "2", "url": url}}, "1") is None
    True
    """
    sent = state.get("photo") if isinstance(state, Mapping) else None
    if not isinstance(sent, Mapping) or sent.get("version") != version:
        return None
    url = sent.get("url")
    if not isinstance(url, str):
        return None
    head, _, body = url.partition(",")
    if not (head.startswith("data:image/") and head.endswith(";base64")):
        return None
    try:
        return base64.b64decode(body, validate=True)
    except binascii.Error:
        return None
