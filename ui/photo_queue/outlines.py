"""Outlines of a batch's faces: looked at side by side, taken as found, or changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.services import log as log_service
from analysis.services.faces import by_few_points
from analysis.services.set_up import keeps_set_ups, unlike_kept
from ui import cache, words
from ui.photo_queue import words as said
from ui.widgets.marks import marked, set_marks
from ui.widgets.notice import hint, plain
from ui.widgets.picture import picture

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.photo import Photo
    from analysis.model.points import Points
    from analysis.model.waiting import WaitingPhoto
    from analysis.services.log import Log

_LEAST_CORNERS = 3
# Side by side on a phone too: the button that takes them all is not far below.
_STYLE = """
<style>
.st-key-contact-sheet { display: grid; gap: 0.6rem; align-items: start;
  grid-template-columns: repeat(auto-fill, minmax(min(10rem, 45%), 1fr)); }
[class*="st-key-contact-"] p { overflow-wrap: anywhere; }
</style>
"""


def contact_sheet(log: Log, photos: Sequence[WaitingPhoto]) -> None:
    """Show each photo with its outline: they are accepted by looking, never blind."""
    st.write(said.LOOK_AT_ALL)
    st.html(_STYLE)
    keeps = keeps_set_ups(log)
    pieces = log_service.casting_names(log)
    with st.container(key="contact sheet"):
        for one in photos:
            with st.container(key=f"contact {one.id}"):
                jpeg = cache.outlined_jpeg(log, one)
                st.image(jpeg, width="stretch", alt=f"{words.PHOTO} {one.name}")
                whose = pieces.get(one.piece_id or 0)
                plain(one.name if whose is None else said.is_of(one.name, whose.piece))
                if keeps and (told := _unlike_kept(log, one)):
                    hint(told)


def _unlike_kept(log: Log, photo: WaitingPhoto) -> str:
    """Say what differs from what its form keeps; empty where nothing does."""
    if photo.piece_id is None:
        return ""
    form = log_service.form_of_piece(log, photo.piece_id)
    now = cache.waiting_set_up(log, photo)
    return unlike_kept(log, None if form is None else form.id, "", now)


def outline_of(
    shown: Photo, waiting: WaitingPhoto, way: str, areas: Sequence[Points] = ()
) -> Points | None:
    """Return where the face lies, as found or as changed; None where it is all.

    `areas`, which are left out of it either way, are drawn beside it.
    """
    found = waiting.asked.outline
    if way == "whole" or (way == "outline" and found is not None):
        lines = [*areas] if way == "whole" or found is None else [found, *areas]
        picture(
            cache.photo_jpeg(shown.key, shown),
            width_px=shown.width_px,
            height_px=shown.height_px,
            key=f"photo queue looked at {waiting.id}",
            label=said.FACE_LINE,
            mode="view",
            lines=lines,
        )
        return None if way == "whole" else found
    key = f"photo queue outline {waiting.id}"
    if key not in st.session_state and found is not None:
        set_marks(key, by_few_points(found))
    points = marked(shown, said.FACE_LINE, key=key, mode="polygon", lines=areas)
    return points if len(points) >= _LEAST_CORNERS else None
