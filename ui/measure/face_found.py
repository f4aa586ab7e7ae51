"""The face, shown as found before any figure: right, fixed, or all of the photo."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.points import xy
from analysis.services.faces import by_few_points
from analysis.services.log import digest
from ui import cache, words
from ui.measure import words as said
from ui.measure.face_marks import CORNERS, FACE_WAY, hand_over, is_marking, offer_before
from ui.measure.layout import FACE, SCALE, Canvas, go_to
from ui.widgets.fields import segments
from ui.widgets.marks import marked, set_marks
from ui.widgets.notice import hint, plain, refuse

if TYPE_CHECKING:
    from analysis.model.face_proposal import FaceProposal
    from analysis.model.photo import Photo
    from analysis.model.points import Points
    from ui.measure.scale_ways import Looked

_ACCEPTED = "face accepted"
_DOUBTED_BELOW = 0.5
_LEAST_CORNERS = 3
# As many as a phone's picture holds apart.
_HANDLES = 24


class Faced(NamedTuple):
    """Outline, areas that go with it, whether it is complete, what it waits for.

    `found` is what is still to be looked at and accepted; `lines` are drawn on the
    photo; `draws` tells whether the step draws it by itself.
    """

    outline: Points | None
    left_out: tuple[Points, ...]
    is_complete: bool
    waits: str = ""
    found: FaceProposal | None = None
    keys: tuple[str, str] = (CORNERS, FACE_WAY)
    lines: tuple[Points, ...] = ()
    draws: bool = False


NO_FACE = Faced(None, (), is_complete=False, waits=said.FACE_REFUSED, draws=True)


def face_step(photo: Photo, looked: Looked | None, canvas: Canvas) -> Faced:
    """Ask for the outline; no figure before it was found right, fixed or waived."""
    st.header(words.STEP_FACE, anchor=False)
    view = None if looked is None else looked.view
    ways, key, way_key = words.FACE_WAYS, CORNERS, FACE_WAY
    if view is not None:  # marks of a view hold in no other
        ways = dict(words.FACE_WAYS)
        if view.kind == "unrolled":
            # The strip is what was tapped: it needs no finding.
            ways = {"whole": said.WHOLE_STRIP, "corners": ways["corners"]}
        if looked is not None and looked.outline is not None:
            ways = {"same": said.SAME_CORNERS, "corners": ways["corners"]}
        mark = digest(repr(view).encode())[:8]
        key, way_key = f"{CORNERS} {mark}", f"{FACE_WAY} {view.kind} {len(ways)}"
    else:
        offer_before(photo, key)
    way = segments(words.FACE_QUESTION, ways, way_key)
    # Paper is never counted, whatever is said of the rest.
    is_left_out = looked is not None and bool(looked.left_out)
    papers = () if is_left_out else cache.printed(photo)
    if way == "same" and looked is not None:
        outline = looked.outline or ()
        return Faced(outline, papers, True, lines=(outline, *papers))
    if way == "whole":
        return Faced(None, papers, True, lines=papers)
    if way == "found":
        return _found(photo, (key, way_key))
    return _corners(photo, (key, way_key), papers, canvas)


def _found(photo: Photo, keys: tuple[str, str]) -> Faced:
    found = cache.face_found(photo)
    lines = tuple(xy(line) for line in (found.outline_px, *found.left_out_px))
    plain(said.found_line(found))
    if found.sure < _DOUBTED_BELOW:
        st.warning(said.FOUND_UNSURE)
    st.button(said.FOUND_ALL, on_click=_all, args=(keys[1],), width="stretch")
    if st.session_state.get(_ACCEPTED) != photo.key:
        return Faced(None, (), False, said.FOUND_MISSING, found, keys, lines)
    return Faced(lines[0], lines[1:], True, lines=lines)


def _corners(
    photo: Photo, keys: tuple[str, str], papers: tuple[Points, ...], canvas: Canvas
) -> Faced:
    try:
        st.write(words.TAP_CORNERS)
        corners = marked(
            photo,
            words.CORNER_POINTS,
            key=keys[0],
            mode="polygon",
            place=canvas.place,
            is_shown=canvas.shows(FACE) and not is_marking(),
            lines=papers,
        )
    except StruckfaceError as error:
        refuse(error)
        return NO_FACE
    st.button(said.PROPOSE, on_click=_propose, args=(photo, keys[0]), width="stretch")
    if len(corners) < _LEAST_CORNERS:
        hint(words.CORNERS_MISSING)
        return NO_FACE._replace(waits=words.CORNERS_MISSING)
    return Faced(corners, papers, True, lines=(corners, *papers), draws=True)


def accept(photo: Photo) -> None:
    """Take the face as it was found, and go on to the scale."""
    st.session_state[_ACCEPTED] = photo.key
    go_to(SCALE)


def fix(found: FaceProposal, keys: tuple[str, str]) -> None:
    """Hand outline and left-out areas over to be changed point by point."""
    set_marks(keys[0], by_few_points(xy(found.outline_px), most=_HANDLES))
    hand_over(found.left_out_px)
    st.session_state[keys[1]] = "corners"


def _all(way_key: str) -> None:
    st.session_state[way_key] = "whole"
    go_to(SCALE)


def _propose(photo: Photo, key: str) -> None:
    set_marks(key, xy(cache.face_found(photo).outline_px))
