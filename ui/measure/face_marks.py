"""What is marked on a face beside its outline, and marks of earlier photos."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import streamlit as st

from analysis.model.points import xy
from analysis.services import log as log_service
from analysis.services import marking
from ui import cache, words
from ui.measure import words as said
from ui.state import is_answer
from ui.widgets.fields import lines, number, pick, pick_word, segments
from ui.widgets.marks import (
    marked,
    read_lines,
    read_named_lines,
    set_marks,
    write_named,
    write_points,
)

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from analysis.model.photo import Face, Photo
    from analysis.model.points import Points
    from analysis.services.log import Log

JOINTS, LEFT_OUT, SLOPED = "joint lines", "left-out areas", "sloped parts"
UP, FACE_NAME, NOW = "up in the form", "face name", "mark now"
SMALLEST, BAND, FORM = "smallest", "joint band", "marks of form"
_TEXTS = {"left_out": LEFT_OUT, "joint": JOINTS, "sloped": SLOPED}
_USUAL_BAND_MM = 15.0


class Marks(NamedTuple):
    """All that is marked or asked beside the outline."""

    left_out: tuple[Points, ...]
    joints: tuple[tuple[str, Points], ...]
    sloped: tuple[Points, ...]
    band_mm: float
    smallest_mm: float | None
    up: str
    face_name: str


def offer_before(photo: Photo, outline_key: str) -> None:
    """Offer the marks of the latest photo of a form; one tap takes them all."""
    log = cache.log()
    forms = {
        form.id: form.name for form in log_service.forms(log) if form.id is not None
    }
    if not forms:
        return
    form_id = pick(said.FORM, forms, FORM, index=_form_at(list(forms)))
    if form_id is None:
        return
    for name, face in marking.remembered_faces(log, form_id, photo).items():
        st.button(
            f"{said.USE_MARKS} {forms[form_id]} {name}".strip(),
            key=f"use marks {form_id} {name}",
            on_click=_take_over,
            args=(face, outline_key),
            width="stretch",
        )


def _form_at(forms: list[int]) -> int | None:
    """Return the place of the form of the piece that was chosen, if one was."""
    known = st.session_state.get("piece known")
    if known is None or st.session_state.get("piece way") != "known":
        return None
    form_id = log_service.casting(cache.log(), known).piece.form_id
    return forms.index(form_id) if form_id in forms else None


def _take_over(face: Face, outline_key: str) -> None:
    if face.outline_px is not None:
        set_marks(outline_key, xy(face.outline_px))
    st.session_state["face way"] = "corners"
    st.session_state[LEFT_OUT] = _text(face.left_out_px)
    st.session_state[SLOPED] = _text(face.sloped_px)
    st.session_state[JOINTS] = "\n".join(
        write_named(joint.name, xy(joint.line_px)) for joint in face.joints
    )
    st.session_state[UP] = face.up or None
    st.session_state[FACE_NAME] = face.name


def ask_up() -> str:
    """Ask which side of the photo was up in the form: one tap."""
    up: str | None = st.pills(
        said.UP,
        list(said.UPS),
        format_func=lambda side: said.UPS[side],
        key=is_answer(UP),
        width="stretch",
        persist_state="session",
    )
    return up or ""


def ask_marks(photo: Photo) -> Marks:
    """Ask for what is seldom needed, on the photo or in writing.

    Raises
    ------
    InputError
        A text is not points.
    """
    up = ask_up()
    with st.expander(words.MORE):
        if st.toggle(said.ON_PHOTO, key="marking"):
            _mark(photo)
        joints = lines(
            words.JOINTS,
            JOINTS,
            example=words.POINTS_EXAMPLE,
            help_text=words.POINTS_HELP,
        )
        left_out = lines(
            words.LEFT_OUT,
            LEFT_OUT,
            example=words.AREA_EXAMPLE,
            help_text=words.LEFT_OUT_HELP,
        )
        sloped = lines(
            said.SLOPED,
            SLOPED,
            example=words.AREA_EXAMPLE,
            help_text=words.POINTS_HELP,
        )
        band = number(said.BAND, BAND, unit="mm")
        smallest = number(
            words.SMALLEST, SMALLEST, unit="mm", help_text=words.SMALLEST_HELP
        )
        name: str = st.text_input(
            said.FACE_NAME, key=is_answer(FACE_NAME), persist_state="session"
        )
    return Marks(
        left_out=read_lines(left_out, words.LEFT_OUT),
        joints=read_named_lines(joints, words.JOINTS),
        sloped=read_lines(sloped, said.SLOPED),
        band_mm=_USUAL_BAND_MM if band is None else band,
        smallest_mm=smallest,
        up=up,
        face_name=" ".join((name or "").split()),
    )


def _mark(photo: Photo) -> None:
    what = segments(said.MARK_WHAT, said.MARKS, "mark what")
    name = ""
    if what == "joint":
        name = pick_word(said.JOINT_NAME, _joint_names(cache.log()), "joint name", {})
    st.write(said.TAP_MARK[what])
    mode: Literal["line", "polygon"] = "line" if what == "joint" else "polygon"
    points = marked(photo, said.MARKS[what], key=NOW, mode=mode)
    least = 2 if what == "joint" else 3
    st.button(
        said.KEEP_MARK,
        disabled=len(points) < least,
        on_click=_keep,
        args=(_TEXTS[what], write_named(name or "", points)),
        width="stretch",
    )


def _joint_names(log: Log) -> list[str]:
    chosen = st.session_state.get(FORM)
    found = [
        joint.name
        for form in log_service.forms(log)
        if chosen in {None, form.id}
        for joint in form.joints
    ]
    return list(dict.fromkeys(found)) or ["left", "right"]


def _keep(key: str, line: str) -> None:
    before = st.session_state.get(key, "").strip()
    st.session_state[key] = f"{before}\n{line}".strip()
    set_marks(NOW, ())


def _text(areas: tuple[NDArray[np.float64], ...]) -> str:
    return "\n".join(write_points(xy(area)) for area in areas)
