"""The steps that lead to a reading: photo, scale, face."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import streamlit as st

from analysis.errors import InputError, ScaleError, StruckfaceError
from analysis.model.points import xy
from analysis.services.log import digest, list_castings
from analysis.services.photos import scale_from_points, scale_typed
from analysis.services.samples import sample_bytes, samples
from ui import cache, state, words
from ui.capture import words as capture_words
from ui.measure import words as face_words
from ui.measure.face_found import ask_found
from ui.measure.face_marks import JOINTS, LEFT_OUT, NOW, SLOPED, offer_before
from ui.measure.scale_ways import EDGES, FOUR, Looked, by_corners, by_round, by_sheet
from ui.widgets.cards import tell_card
from ui.widgets.fields import number, segments
from ui.widgets.keeping import forget_new_piece
from ui.widgets.marks import marked, set_marks, write_points
from ui.widgets.notice import hint, plain, refuse

if TYPE_CHECKING:
    from collections.abc import Sequence

    from streamlit.runtime.uploaded_file_manager import UploadedFile

    from analysis.model.photo import Photo, Scale
    from analysis.model.points import Points
    from analysis.services.samples import Sample

FILE_KINDS = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif"]
_RULER = "ruler points"
CORNERS = "face corners"
_DISTANCE = "ruler distance"
_UNIT = "ruler unit"
_SCALE_WAY = "scale way"
_FACE_WAY = "face way"
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
    _tell_card(photo)
    for told in state.refused():
        refuse(InputError(told))
    with st.container(horizontal=True):
        st.button(words.CHANGE_PHOTO, on_click=_start_over)
        if waiting := state.waiting():
            st.button(words.next_photo(waiting), on_click=_next)
    return photo


def _tell_card(photo: Photo) -> None:
    try:
        tell_card(cache.log(), photo)
    except StruckfaceError as error:
        refuse(error)


def _ask_photo() -> None:
    given = st.file_uploader(
        words.UPLOAD, type=FILE_KINDS, key="upload", accept_multiple_files=True
    )
    if given:
        _take_all(given)
    st.page_link("capture/page.py", label=capture_words.CAPTURE)
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


def _take_all(given: Sequence[UploadedFile]) -> None:
    """Take the first photo in hand and let the others wait; tell of each bad file."""
    good, bad = [], []
    for file in given:
        data = file.getvalue()
        try:
            cache.photo(digest(data), file.name, data)
        except StruckfaceError as error:
            bad.append(error)
        else:
            good.append(state.Shot(data=data, name=file.name, sha256=digest(data)))
    if not good:
        for told in bad:
            refuse(told)
        return
    state.wait_in_line(good[1:], [str(error) for error in bad])
    state.set_shot(good[0])
    st.rerun()


def _next() -> None:
    _start_over()
    state.set_shot(state.next_in_line())


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
    set_marks(CORNERS, sample.outline_xy)
    answers = {
        _SCALE_WAY: "taps",
        _DISTANCE: f"{sample.ruler_mm:g}",
        _UNIT: "mm",
        _FACE_WAY: "corners",
        JOINTS: "\n".join(write_points(line) for line in sample.joints_xy),
        LEFT_OUT: "",
        SLOPED: "",
    }
    st.session_state.update(answers)


def _start_over() -> None:
    """Points belong to the photo; way, distance and sizes are kept for the next one."""
    forget_new_piece()
    state.set_shot(None)
    for key in (_RULER, CORNERS, FOUR, EDGES, NOW):
        set_marks(key, ())
    for key in (JOINTS, LEFT_OUT, SLOPED):
        st.session_state[key] = ""


def scale_step(photo: Photo) -> tuple[Looked | None, bool]:
    """Ask for the scale; return it, and whether the answer is complete."""
    st.header(words.STEP_SCALE, anchor=False)
    way = segments(words.SCALE_QUESTION, face_words.SCALE_WAYS, _SCALE_WAY)
    if way == "none":
        st.warning(words.NO_SCALE)
        return None, True
    ways = {"corners": by_corners, "sheet": by_sheet, "round": by_round}
    try:
        if way in ways:
            looked = ways[way](photo)
        else:
            scale = _scale_by_taps(photo) if way == "taps" else _scale_by_typing()
            looked = None if scale is None else Looked(scale)
    except StruckfaceError as error:
        refuse(error)
        return None, False
    return looked, looked is not None


def _scale_by_taps(photo: Photo) -> Scale | None:
    left, right = st.columns(_PICTURE_AND_FIELDS)
    with left:
        st.write(words.TAP_RULER)
        ends = marked(photo, words.RULER_POINTS, key=_RULER, most=2)
    with right:
        unit = segments(words.UNIT, {name: name for name in words.UNITS_MM}, _UNIT)
        distance = number(words.DISTANCE, _DISTANCE, unit=words.UNITS_SHORT[unit])
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
    value = number(words.MM_PER_PX, "mm per px", unit="mm/px")
    if value is None:
        hint(words.MM_PER_PX_MISSING)
        return None
    return scale_typed(value)


class Faced(NamedTuple):
    """Outline, left-out areas that go with it, and whether the answer is complete."""

    outline: Points | None
    left_out: tuple[Points, ...]
    is_complete: bool


def face_step(photo: Photo, looked: Looked | None) -> Faced:
    """Ask for the outline; no figure before it was found right, fixed or waived."""
    st.header(words.STEP_FACE, anchor=False)
    view = None if looked is None else looked.view
    ways, key, way_key = words.FACE_WAYS, CORNERS, _FACE_WAY
    if view is not None:  # marks of a view hold in no other
        ways = dict(words.FACE_WAYS)
        if view.kind == "unrolled":
            # The strip is what was tapped: it needs no finding.
            ways = {"whole": face_words.WHOLE_STRIP, "corners": ways["corners"]}
        if looked is not None and looked.outline is not None:
            ways = {"same": face_words.SAME_CORNERS, "corners": ways["corners"]}
        mark = digest(repr(view).encode())[:8]
        key, way_key = f"{CORNERS} {mark}", f"{_FACE_WAY} {view.kind} {len(ways)}"
    else:
        offer_before(photo, key)
    way = segments(words.FACE_QUESTION, ways, way_key)
    # Paper is never counted, whatever is said of the rest.
    is_left_out = looked is not None and bool(looked.left_out)
    papers = () if is_left_out else cache.printed(photo)
    if way == "same" and looked is not None:
        return Faced(looked.outline, papers, True)
    if way == "whole":
        return Faced(None, papers, True)
    if way == "found":
        found = ask_found(photo, corners_key=key, way_key=way_key)
        return Faced(None, (), False) if found is None else Faced(*found, True)
    left, right = st.columns(_PICTURE_AND_FIELDS)
    try:
        with left:
            st.write(words.TAP_CORNERS)
            corners = marked(photo, words.CORNER_POINTS, key=key, mode="polygon")
    except StruckfaceError as error:
        refuse(error)
        return Faced(None, (), False)
    with right:
        st.button(
            face_words.PROPOSE, on_click=_propose, args=(photo, key), width="stretch"
        )
        if len(corners) < 3:  # noqa: PLR2004  a polygon
            st.write(words.CORNERS_MISSING)
            return Faced(None, (), False)
    return Faced(corners, papers, True)


def _propose(photo: Photo, key: str) -> None:
    set_marks(key, xy(cache.face_found(photo).outline_px))
