"""How the size is known: by the ruler, the print, sides of the face, or typed."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import streamlit as st

from analysis.errors import ScaleError, StruckfaceError
from analysis.services.photos import scale_from_points, scale_typed
from analysis.services.sheets import with_lens_doubt
from ui import reading_words, words
from ui.measure import words as said
from ui.measure.layout import SCALE
from ui.measure.scale_ways import (
    EDGES,
    FOUR,
    UNIT,
    Looked,
    by_corners,
    by_round,
    by_sheet,
)
from ui.widgets.fields import number, segments
from ui.widgets.marks import marked, set_marks, zooms_of_marks
from ui.widgets.notice import hint, plain, refuse

if TYPE_CHECKING:
    from analysis.model.photo import Photo, Scale
    from analysis.model.points import Points
    from ui.measure.layout import Canvas

RULER, WAY = "ruler points", "scale way"
_DISTANCE = "ruler distance"
_TWO = 2
_MARKED = frozenset({"taps", "corners", "round"})


class Sized(NamedTuple):
    """The scale with its view, whether the answer is complete, and what it waits for.

    `draws` tells whether the step draws the photo by itself.
    """

    looked: Looked | None
    is_complete: bool
    waits: str = ""
    draws: bool = False


def scale_step(photo: Photo, canvas: Canvas) -> Sized:
    """Ask for the scale."""
    st.header(words.STEP_SCALE, anchor=False)
    # What has to be answered comes first: on a phone little room is left for it.
    answers = st.container()
    way = segments(words.SCALE_QUESTION, said.SCALE_WAYS, WAY)
    if way == "none":
        answers.warning(words.NO_SCALE)
        return Sized(None, True)
    ways = {
        "corners": (by_corners, said.FOUR_MISSING),
        "sheet": (by_sheet, said.SHEET_MISSING),
        "round": (by_round, said.ROUND_MISSING),
        "taps": (_by_taps, words.TWO_POINTS_MISSING),
        "typed": (_by_typing, words.MM_PER_PX_MISSING),
    }
    ask, missing = ways[way]
    draws = way in _MARKED
    try:
        with answers:
            looked = ask(photo, canvas)
    except StruckfaceError as error:
        with answers:
            refuse(error)
        return Sized(None, False, said.SCALE_REFUSED, draws)
    return Sized(looked, looked is not None, missing, draws)


def tell_size(shown: Photo, looked: Looked) -> None:
    """Say in plain words how much the photo shows, before anything is measured."""
    unit = st.session_state.get(UNIT) or "mm"
    plain(said.shows_line(shown, looked.scale, unit))
    hint(reading_words.scale_line(looked.scale))


def _by_taps(photo: Photo, canvas: Canvas) -> Looked | None:
    with st.container(horizontal=True, vertical_alignment="bottom"):
        with st.container(width=200):
            # The unit is read first: the distance is in it.
            unit = st.session_state.get(UNIT) or "mm"
            distance = number(words.DISTANCE, _DISTANCE, unit=words.UNITS_SHORT[unit])
        with st.container(width=130):
            unit = segments(words.UNIT, {name: name for name in words.UNITS_MM}, UNIT)
    hint(words.TAP_RULER)
    ends = marked(
        photo,
        words.RULER_POINTS,
        key=RULER,
        most=_TWO,
        mode="line",
        place=canvas.place,
        is_shown=canvas.shows(SCALE),
    )
    if len(ends) != _TWO:
        return None
    if distance is None:
        hint(words.DISTANCE_MISSING)
        return None
    _check_inside(photo, ends)
    ends_px = [[y, x] for x, y in ends]
    distance_mm = distance * words.UNITS_MM[unit]
    scale = scale_from_points(ends_px, distance_mm, zooms=zooms_of_marks(RULER))
    return Looked(with_lens_doubt(photo, scale, ends_px))


def _check_inside(photo: Photo, ends: Points) -> None:
    for x, y in ends:
        if not (0 <= x + 0.5 <= photo.width_px and 0 <= y + 0.5 <= photo.height_px):
            msg = (
                f"The point {x:g},{y:g} lies outside the photo of {photo.width_px} x "
                f"{photo.height_px} px: mark it on the photo."
            )
            raise ScaleError(msg)


def _by_typing(_photo: Photo, _canvas: Canvas) -> Looked | None:
    value = number(words.MM_PER_PX, "mm per px", unit="mm/px")
    if value is None:
        return None
    scale: Scale = scale_typed(value)
    return Looked(scale)


def sample_scale(ruler_mm: float) -> None:
    """Answer for a sample, whose ruler is marked already."""
    st.session_state.update({WAY: "taps", _DISTANCE: f"{ruler_mm:g}", UNIT: "mm"})


def forget_ruler() -> None:
    """Let the points of a photo go; way, distance and unit stay."""
    for key in (RULER, FOUR, EDGES):
        set_marks(key, ())
