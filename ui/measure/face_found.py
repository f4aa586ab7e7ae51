"""The face as it was found, shown before any figure: right, to be fixed, or all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.points import xy
from ui import cache
from ui.measure import words as said
from ui.measure.face_marks import LEFT_OUT
from ui.widgets.marks import set_marks, write_points
from ui.widgets.notice import hint, plain
from ui.widgets.picture import picture

if TYPE_CHECKING:
    from analysis.model.face_proposal import FaceProposal
    from analysis.model.photo import Photo
    from analysis.model.points import Points

_ACCEPTED = "face accepted"
_DOUBTED_BELOW = 0.5


def ask_found(
    photo: Photo, *, corners_key: str, way_key: str
) -> tuple[Points, tuple[Points, ...]] | None:
    """Show the face as found; return outline and left-out areas once accepted."""
    found = cache.face_found(photo)
    accepted = st.session_state.get(_ACCEPTED) == photo.key
    picture(
        cache.photo_jpeg(photo.key, photo),
        width_px=photo.width_px,
        height_px=photo.height_px,
        key=f"found picture {photo.key[:12]}",
        label=said.FOUND_PICTURE,
        mode="view",
        lines=[xy(line) for line in (found.outline_px, *found.left_out_px)],
        version=photo.key,
    )
    plain(said.found_line(found))
    if found.sure < _DOUBTED_BELOW:
        st.warning(said.FOUND_UNSURE)
    with st.container(horizontal=True):
        st.button(
            said.FOUND_RIGHT,
            type="secondary" if accepted else "primary",
            on_click=_accept,
            args=(photo.key,),
        )
        st.button(said.FOUND_FIX, on_click=_fix, args=(found, corners_key, way_key))
        st.button(said.FOUND_ALL, on_click=_all, args=(way_key,))
    if not accepted:
        hint(said.FOUND_MISSING)
        return None
    return xy(found.outline_px), tuple(xy(area) for area in found.left_out_px)


def _accept(key: str) -> None:
    st.session_state[_ACCEPTED] = key


def _fix(found: FaceProposal, corners_key: str, way_key: str) -> None:
    """Hand outline and left-out areas over to be changed point by point."""
    set_marks(corners_key, xy(found.outline_px))
    before = st.session_state.get(LEFT_OUT, "").strip()
    areas = "\n".join(write_points(xy(area)) for area in found.left_out_px)
    st.session_state[LEFT_OUT] = f"{before}\n{areas}".strip()
    st.session_state[way_key] = "corners"


def _all(way_key: str) -> None:
    st.session_state[way_key] = "whole"
