"""Which kind of face it is: as its form says, or as the person does."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import streamlit as st

from analysis.model.workshop import settings_of_form
from analysis.services import log as log_service
from analysis.vocabulary import RIBBED
from ui import cache
from ui.measure import words as said
from ui.measure.face_marks import form_of_piece
from ui.state import is_answer
from ui.widgets.fields import number, pick
from ui.widgets.notice import hint
from ui.widgets.record_words import CHOICES
from ui.words import literal

if TYPE_CHECKING:
    from analysis.model.workshop import Form

_KIND, _PITCH, _DEPTH = "face kind", "flute pitch", "flute depth"
_OF_FORM = "face kind of form"
_BY_PHOTO = ""


class Shaped(NamedTuple):
    """Kind of face, and pitch and depth of its flutes; None where not known."""

    face_kind: str | None
    pitch_mm: float | None
    depth_mm: float | None


def ask_kind(*, has_scale: bool) -> Shaped:
    """Show the kind of face that the piece's form has, to be changed for this photo.

    Raises
    ------
    InputError
        A pitch or depth is no number.
    """
    form_id = form_of_piece()
    form = None if form_id is None else log_service.form(cache.log(), form_id)
    told = settings_of_form(form)
    of_form = Shaped(told.face_kind, told.pitch_mm, told.depth_mm)
    _take_from_form(form, of_form)
    names = {_BY_PHOTO: said.KIND_BY_PHOTO, **CHOICES["face_kind"]}
    kind = pick(said.KIND, names, _KIND, index=0) or None
    pitch = depth = None
    if kind == RIBBED and has_scale:
        left, right = st.columns(2)
        with left:
            pitch = number(said.PITCH, _PITCH, unit="mm")
        with right:
            depth = number(said.DEPTH, _DEPTH, unit="mm")
    asked = Shaped(kind, pitch, depth)
    if form is not None and told.face_kind is not None:
        seen = of_form if has_scale else Shaped(told.face_kind, None, None)
        hint(literal(said.kind_line(form.name, CHOICES["face_kind"][told.face_kind])))
        if asked != seen:
            hint(said.KIND_CHANGED)
    return asked


def _take_from_form(form: Form | None, told: Shaped) -> None:
    """Answer as the form does, once for each form and whenever it is told otherwise."""
    source = "" if form is None else repr((form.id, *told))
    before = st.session_state.get(_OF_FORM, "")
    if before == source:
        return
    if source or before:
        st.session_state[_KIND] = told.face_kind or _BY_PHOTO
        for key, value in ((_PITCH, told.pitch_mm), (_DEPTH, told.depth_mm)):
            st.session_state[key] = "" if value is None else f"{value:g}"
    st.session_state[is_answer(_OF_FORM)] = source
