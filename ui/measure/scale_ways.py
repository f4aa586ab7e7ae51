"""Scales that straighten or unroll the view: corners, printed sheet, round piece."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import streamlit as st

from analysis.services import sheets
from ui import cache, words
from ui.measure import words as said
from ui.measure.layout import SCALE
from ui.widgets.fields import file_button, number, segments
from ui.widgets.marks import marked
from ui.widgets.notice import hint

if TYPE_CHECKING:
    from analysis.model.photo import Photo, Scale
    from analysis.model.points import Points
    from analysis.model.view import View
    from ui.measure.layout import Canvas

FOUR = "scale corners"
EDGES = "round edges"
UNIT = "ruler unit"
_ALL_FOUR = 4


class Looked(NamedTuple):
    """A scale with the view it holds in, and what of the face follows from it."""

    scale: Scale
    view: View | None = None
    outline: Points | None = None
    left_out: tuple[Points, ...] = ()


def by_corners(photo: Photo, canvas: Canvas) -> Looked | None:
    """Ask for four corners, width and height; None while one is missing.

    Raises
    ------
    StruckfaceError
        No face that can be straightened.
    """
    st.write(said.FOUR_CORNERS)
    corners = marked(
        photo,
        said.CORNERS,
        key=FOUR,
        most=_ALL_FOUR,
        mode="polygon",
        place=canvas.place,
        is_shown=canvas.shows(SCALE),
    )
    unit, unit_mm = _unit()
    width = number(said.WIDTH, "face width", unit=unit)
    height = number(said.HEIGHT, "face height", unit=unit)
    if len(corners) != _ALL_FOUR or width is None or height is None:
        return None
    rows = np.array(corners)[:, ::-1]
    plane = sheets.plane_from_corners(rows, width * unit_mm, height * unit_mm)
    view, scale = sheets.straightened(plane, (photo.height_px, photo.width_px))
    scale = sheets.with_lens_doubt(photo, scale, rows, sheets.in_order(rows))
    return Looked(
        scale, view, sheets.points_of(sheets.to_view(view, sheets.in_order(rows)))
    )


def by_sheet(photo: Photo, _canvas: Canvas) -> Looked | None:
    """Look for the printed sheet.

    Raises
    ------
    StruckfaceError
        It is not found, or what is found is no sheet.
    """
    with st.expander(said.SHEET_MORE):
        check = number(said.CHECK, "sheet check", unit="mm")
        for page in ("A4", "Letter"):
            file_button(
                f"{said.PRINT_SHEET}, {page}",
                partial(sheets.scale_sheet, page),
                f"scale-sheet-{page}.pdf",
                f"take scale sheet {page}",
            )
    view, scale, areas = cache.by_sheet(photo, check)
    hint(f"{said.SHEET_FOUND} {said.SHEET_LEFT_OUT}")
    return Looked(scale, view, left_out=areas)


def by_round(photo: Photo, canvas: Canvas) -> Looked | None:
    """Ask for the edges and diameters of a round piece; None while one is missing.

    Raises
    ------
    StruckfaceError
        No strip that can be unrolled.
    """
    st.write(said.ROUND)
    edges = marked(
        photo,
        said.ROUND_EDGES,
        key=EDGES,
        most=_ALL_FOUR,
        place=canvas.place,
        is_shown=canvas.shows(SCALE),
    )
    unit, unit_mm = _unit()
    top = number(said.TOP_DIAMETER, "top diameter", unit=unit)
    bottom = number(said.BOTTOM_DIAMETER, "bottom diameter", unit=unit)
    distance = number(said.DISTANCE, "camera distance", unit=unit)
    if len(edges) != _ALL_FOUR or top is None:
        return None
    view, scale = sheets.view_by_edges(
        photo,
        np.array(edges)[:, ::-1],
        (top * unit_mm, (top if bottom is None else bottom) * unit_mm),
        None if distance is None else distance * unit_mm,
    )
    hint(said.STRIP)
    return Looked(scale, view)


def _unit() -> tuple[str, float]:
    """Ask for the unit; return its short name and its mm."""
    unit = segments(words.UNIT, {name: name for name in words.UNITS_MM}, UNIT)
    return words.UNITS_SHORT[unit], words.UNITS_MM[unit]
