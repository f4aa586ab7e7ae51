"""What is marked on a face beside its outline, and marks of earlier photos."""

from __future__ import annotations

from typing import TYPE_CHECKING, Literal, NamedTuple

import streamlit as st

from analysis.model.points import xy
from analysis.services import log as log_service
from analysis.services import marking
from ui import cache, words
from ui.measure import words as said
from ui.measure.layout import FACE, SCALE, Canvas, go_to
from ui.state import is_answer
from ui.widgets.fields import line, lines, number, pick, pick_word, segments
from ui.widgets.marks import (
    marked,
    read_lines,
    read_named_lines,
    set_marks,
    write_named,
    write_points,
)
from ui.widgets.picture import picture

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    import numpy as np
    from numpy.typing import NDArray

    from analysis.model.photo import Face, Photo
    from analysis.model.points import Points
    from analysis.services.log import Log
    from ui.widgets.picture import Tap

CORNERS, FACE_WAY = "face corners", "face way"
JOINTS, LEFT_OUT, SLOPED = "joint lines", "left-out areas", "sloped parts"
UP, FACE_NAME, NOW = "up in the form", "face name", "mark now"
SMALLEST, BAND, FORM = "smallest", "joint band", "marks of form"
_WHAT = "mark what"
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

    @property
    def drawn(self) -> list[Points]:
        """The lines of all of them."""
        return [*self.left_out, *self.sloped, *(there for _, there in self.joints)]


def is_marking() -> bool:
    """Tell whether the picture is for something beside the outline now."""
    return bool(st.session_state.get(_WHAT, said.OUTLINE) != said.OUTLINE)


def ask_marks(photo: Photo, outline: Sequence[Points], canvas: Canvas) -> Marks:
    """Ask for what is seldom needed, on the photo.

    Raises
    ------
    InputError
        A text is not points.
    """
    with st.expander(words.MORE, expanded=is_marking()):
        what = segments(said.MARK_WHAT, said.MARKS, _WHAT)
        name = ""
        if what == "joint":
            offered = _joint_names(cache.log())
            name = pick_word(said.JOINT_NAME, offered, "joint name", {})
        if what in said.TAP_MARK:
            st.write(said.TAP_MARK[what])
        before = _read()
        if what == "up":
            _mark_up(photo, outline, canvas)
        elif what in _TEXTS:
            _mark(photo, what, name, [*outline, *before.drawn], canvas)
        _kept(before)
        up = _ask_up()
        band = number(said.BAND, BAND, unit="mm")
        smallest = number(
            words.SMALLEST, SMALLEST, unit="mm", help_text=words.SMALLEST_HELP
        )
        face_name = line(said.FACE_NAME, FACE_NAME)
        if st.toggle(words.TYPE_POINTS, key="type marks"):
            _ask_texts()
    return _read()._replace(
        band_mm=_USUAL_BAND_MM if band is None else band,
        smallest_mm=smallest,
        up=up,
        face_name=" ".join((face_name or "").split()),
    )


def _read() -> Marks:
    """Read what is kept as text.

    Raises
    ------
    InputError
        It is not points.
    """

    def text(key: str) -> str:
        return st.session_state.get(is_answer(key)) or ""

    return Marks(
        left_out=read_lines(text(LEFT_OUT), words.LEFT_OUT),
        joints=read_named_lines(text(JOINTS), words.JOINTS),
        sloped=read_lines(text(SLOPED), said.SLOPED),
        band_mm=_USUAL_BAND_MM,
        smallest_mm=None,
        up="",
        face_name="",
    )


def _ask_texts() -> None:
    lines(
        words.JOINTS, JOINTS, example=words.POINTS_EXAMPLE, help_text=words.POINTS_HELP
    )
    lines(
        words.LEFT_OUT,
        LEFT_OUT,
        example=words.AREA_EXAMPLE,
        help_text=words.LEFT_OUT_HELP,
    )
    lines(said.SLOPED, SLOPED, example=words.AREA_EXAMPLE, help_text=words.POINTS_HELP)


def _ask_up() -> str:
    """Say which side of the photo was up in the form: one tap."""
    up: str | None = st.pills(
        said.UP,
        list(said.UPS),
        format_func=lambda side: said.UPS[side],
        key=is_answer(UP),
        width="stretch",
        persist_state="session",
    )
    return up or ""


def _mark_up(photo: Photo, outline: Sequence[Points], canvas: Canvas) -> None:
    """Take the side of the photo that is tapped."""
    if not canvas.shows(FACE):
        return

    def tapped(tap: Tap) -> None:
        st.session_state[UP] = marking.side_of((tap.x, tap.y), photo)

    with canvas.place:
        picture(
            cache.photo_jpeg(photo.key, photo),
            width_px=photo.width_px,
            height_px=photo.height_px,
            key="up picture",
            label=said.TAP_MARK["up"],
            mode="pick",
            lines=outline,
            version=photo.key,
            hint=said.TAP_MARK["up"],
            on_tap=tapped,
        )


def _mark(
    photo: Photo, what: str, name: str, drawn: Sequence[Points], canvas: Canvas
) -> None:
    mode: Literal["line", "polygon"] = "line" if what == "joint" else "polygon"
    points = marked(
        photo,
        said.MARKS[what],
        key=NOW,
        mode=mode,
        place=canvas.place,
        is_shown=canvas.shows(FACE),
        lines=drawn,
    )
    least = 2 if what == "joint" else 3
    st.button(
        said.KEEP_MARK,
        disabled=len(points) < least,
        on_click=_keep,
        args=(_TEXTS[what], write_named(name or "", points)),
        width="stretch",
    )


def _kept(marks: Marks) -> None:
    """List what is marked, each with a way to take it away."""
    kept = [(LEFT_OUT, said.MARKS["left_out"]) for _ in marks.left_out]
    kept += [
        (JOINTS, f"{said.MARKS['joint']} {name}".strip()) for name, _ in marks.joints
    ]
    kept += [(SLOPED, said.MARKS["sloped"]) for _ in marks.sloped]
    places: dict[str, int] = {}
    for key, told in kept:
        place = places[key] = places.get(key, -1) + 1
        st.button(
            f"{said.REMOVE} {place + 1}: {words.literal(told)}",
            key=f"remove {key} {place}",
            on_click=_remove,
            args=(key, place),
            width="stretch",
        )


def _remove(key: str, place: int) -> None:
    written: str = st.session_state.get(key, "")
    kept = [one for one in written.splitlines() if one.strip()]
    # A second tap before the page is drawn anew may mean one that is gone.
    del kept[place : place + 1]
    st.session_state[key] = "\n".join(kept)


def _keep(key: str, written: str) -> None:
    before = st.session_state.get(key, "").strip()
    st.session_state[key] = f"{before}\n{written}".strip()
    set_marks(NOW, ())


def _joint_names(log: Log) -> list[str]:
    chosen = st.session_state.get(FORM)
    found = [
        joint.name
        for form in log_service.forms(log)
        if chosen in {None, form.id}
        for joint in form.joints
    ]
    return list(dict.fromkeys(found)) or ["left", "right"]


def offer_before(photo: Photo, outline_key: str) -> None:
    """Offer the marks of the latest photo of a form; one tap takes them all."""
    log = cache.log()
    forms = {
        form.id: form.name for form in log_service.forms(log) if form.id is not None
    }
    if not forms:
        return
    form_id = form_of_piece()
    if form_id is None or form_id not in forms:
        form_id = pick(said.FORM, forms, FORM)
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


def form_of_piece() -> int | None:
    """Return the form of the piece that the photo is to be saved with."""
    if st.session_state.get("piece way") == "known":
        known = st.session_state.get("piece known")
        if known is None:
            return None
        return log_service.casting(cache.log(), known).piece.form_id
    chosen = st.session_state.get("form")
    return chosen if isinstance(chosen, int) and chosen > 0 else None


def _take_over(face: Face, outline_key: str) -> None:
    if face.outline_px is not None:
        set_marks(outline_key, xy(face.outline_px))
    st.session_state[FACE_WAY] = "corners"
    st.session_state[LEFT_OUT] = _text(face.left_out_px)
    st.session_state[SLOPED] = _text(face.sloped_px)
    st.session_state[JOINTS] = "\n".join(
        write_named(joint.name, xy(joint.line_px)) for joint in face.joints
    )
    st.session_state[UP] = face.up or None
    st.session_state[FACE_NAME] = face.name
    go_to(SCALE)


def hand_over(areas: Iterable[NDArray[np.float64]]) -> None:
    """Add left-out areas that were found, to be changed by hand."""
    before = st.session_state.get(LEFT_OUT, "").strip()
    st.session_state[LEFT_OUT] = f"{before}\n{_text(areas)}".strip()


def forget_marks() -> None:
    """Let go of what is marked: it belongs to its photo."""
    set_marks(CORNERS, ())
    set_marks(NOW, ())
    for key in (JOINTS, LEFT_OUT, SLOPED):
        st.session_state[key] = ""
    st.session_state.pop(_WHAT, None)


def show_joints(outline: Points, joints: Iterable[Points]) -> None:
    """Mark a sample as it was drawn."""
    set_marks(CORNERS, outline)
    st.session_state.update(
        {
            FACE_WAY: "corners",
            JOINTS: "\n".join(write_points(there) for there in joints),
            LEFT_OUT: "",
            SLOPED: "",
        }
    )


def _text(areas: Iterable[NDArray[np.float64]]) -> str:
    return "\n".join(write_points(xy(area)) for area in areas)
