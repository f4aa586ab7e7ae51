"""The steps that lead to a reading: photo, scale, face, settings."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.desk.log import digest, list_castings
from analysis.desk.photos import scale_from_points, scale_typed
from analysis.desk.samples import sample_bytes, samples
from analysis.errors import ScaleError, StruckfaceError
from ui import cache, state, words
from ui.parts.fields import lines, number, segments
from ui.parts.marks import marked, read_lines, set_marks, write_points
from ui.parts.notice import hint, plain, refuse

if TYPE_CHECKING:
    from analysis.desk.samples import Sample
    from analysis.model.photo import Photo, Scale
    from ui.state import Points

_FILE_KINDS = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif"]
_RULER = "ruler points"
_CORNERS = "face corners"
_DISTANCE = "ruler distance"
_UNIT = "ruler unit"
_SCALE_WAY = "scale way"
_FACE_WAY = "face way"
_JOINTS = "joint lines"
_LEFT_OUT = "left-out areas"
_SMALLEST = "smallest"
_PICTURE_AND_FIELDS = (3, 2)


def photo_step() -> Photo | None:
    """Ask for a photo; return the one at hand."""
    st.header(words.STEP_PHOTO, anchor=False)
    shot = state.shot()
    if shot is None:
        _ask_photo()
        return None
    photo = cache.photo(shot.sha256, shot.name, shot.data)
    plain(f"{shot.name}, {photo.width_px} x {photo.height_px} px")
    st.button(words.CHANGE_PHOTO, on_click=_start_over)
    return photo


def _ask_photo() -> None:
    given = st.file_uploader(words.UPLOAD, type=_FILE_KINDS, key="upload")
    if given is not None:
        data = given.getvalue()
        try:
            cache.photo(digest(data), given.name, data)
        except StruckfaceError as error:
            refuse(error)
        else:
            _take(data, given.name)
            st.rerun()
    with st.expander(words.SAMPLES, expanded=_is_empty_log()):
        hint(words.SAMPLES_HINT)
        for sample in samples():
            st.button(
                sample.title,
                key=f"sample {sample.file}",
                on_click=_take_sample,
                args=(sample,),
                width="stretch",
            )


def _is_empty_log() -> bool:
    try:
        return not list_castings(cache.log())
    except StruckfaceError as error:
        refuse(error)
        return False


def _take(data: bytes, name: str) -> None:
    state.set_shot(state.Shot(data=data, name=name, sha256=digest(data)))


def _take_sample(sample: Sample) -> None:
    _take(sample_bytes(sample), sample.file)
    set_marks(_RULER, sample.ruler_xy)
    set_marks(_CORNERS, sample.outline_xy)
    answers = {
        _SCALE_WAY: "taps",
        _DISTANCE: sample.ruler_mm,
        _UNIT: "mm",
        _FACE_WAY: "corners",
        _JOINTS: "\n".join(write_points(line) for line in sample.joints_xy),
        _LEFT_OUT: "",
    }
    st.session_state.update(answers)


def _start_over() -> None:
    """Points belong to the photo; way, distance and sizes are kept for the next one."""
    state.set_shot(None)
    for key in (_RULER, _CORNERS):
        set_marks(key, ())
    for key in (_JOINTS, _LEFT_OUT):
        st.session_state[key] = ""


def scale_step(photo: Photo) -> tuple[Scale | None, bool]:
    """Ask for the scale; return it, and whether the answer is complete."""
    st.header(words.STEP_SCALE, anchor=False)
    way = segments(words.SCALE_QUESTION, words.SCALE_WAYS, _SCALE_WAY)
    if way == "none":
        st.warning(words.NO_SCALE)
        return None, True
    try:
        scale = _scale_by_taps(photo) if way == "taps" else _scale_by_typing()
    except StruckfaceError as error:
        refuse(error)
        return None, False
    return scale, scale is not None


def _scale_by_taps(photo: Photo) -> Scale | None:
    left, right = st.columns(_PICTURE_AND_FIELDS)
    with left:
        st.write(words.TAP_RULER)
        ends = marked(photo, words.RULER_POINTS, key=_RULER, most=2)
    with right:
        distance = number(words.DISTANCE, _DISTANCE)
        unit = segments(words.UNIT, {name: name for name in words.UNITS_MM}, _UNIT)
        if len(ends) != 2:  # noqa: PLR2004  two ends
            hint(words.TWO_POINTS_MISSING)
            return None
        if distance is None:
            hint(words.DISTANCE_MISSING)
            return None
        _check_inside(photo, ends)
        ends_px = [[y, x] for x, y in ends]
        scale = scale_from_points(ends_px, distance * words.UNITS_MM[unit])
        hint(words.scale_line(scale))
        return scale


def _check_inside(photo: Photo, ends: Points) -> None:
    for x, y in ends:
        if not (0 <= x + 0.5 <= photo.width_px and 0 <= y + 0.5 <= photo.height_px):
            msg = (
                f"The point {x:g},{y:g} lies outside the photo of {photo.width_px} x "
                f"{photo.height_px} px: mark it on the photo."
            )
            raise ScaleError(msg)


def _scale_by_typing() -> Scale | None:
    value = number(words.MM_PER_PX, "mm per px", fine=True)
    if value is None:
        hint(words.MM_PER_PX_MISSING)
        return None
    return scale_typed(value)


def face_step(photo: Photo) -> tuple[Points | None, bool]:
    """Ask for the outline; return it, and whether the answer is complete."""
    st.header(words.STEP_FACE, anchor=False)
    way = segments(words.FACE_QUESTION, words.FACE_WAYS, _FACE_WAY)
    if way == "whole":
        return None, True
    left, right = st.columns(_PICTURE_AND_FIELDS)
    try:
        with left:
            st.write(words.TAP_CORNERS)
            corners = marked(photo, words.CORNER_POINTS, key=_CORNERS, mode="polygon")
    except StruckfaceError as error:
        refuse(error)
        return None, False
    if len(corners) < 3:  # noqa: PLR2004  a polygon
        right.write(words.CORNERS_MISSING)
        return None, False
    return corners, True


def settings_step() -> tuple[tuple[Points, ...], tuple[Points, ...], float | None]:
    """Ask for what is seldom needed: left-out areas, joint lines, smallest size.

    Raises
    ------
    InputError
        A text is not points.
    """
    with st.expander(words.MORE):
        joints = lines(
            words.JOINTS,
            _JOINTS,
            example=words.POINTS_EXAMPLE,
            help_text=words.POINTS_HELP,
        )
        left_out = lines(
            words.LEFT_OUT,
            _LEFT_OUT,
            example=words.AREA_EXAMPLE,
            help_text=words.LEFT_OUT_HELP,
        )
        smallest = number(words.SMALLEST, _SMALLEST, help_text=words.SMALLEST_HELP)
    return (
        read_lines(left_out, words.LEFT_OUT),
        read_lines(joints, words.JOINTS),
        smallest,
    )
