"""The scale sheet: as PDF to print, and found in a photo; faces straightened."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.imaging.card import find_cards
from analysis.imaging.pose import lens_of
from analysis.imaging.round_piece import unrolled
from analysis.imaging.sheet import find_markers, find_sheet, marker_cells, sheet_area
from analysis.imaging.straightening import (
    in_order,
    plane_from_corners,
    straightened,
)
from analysis.imaging.viewing import seen, to_photo, to_view
from analysis.model.points import xy
from analysis.model.sheet import SHEET_MARKERS
from analysis.report import scale_sheet as report

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from analysis.model.photo import Photo, Scale
    from analysis.model.points import Points
    from analysis.model.view import View


__all__ = [
    "find_markers",
    "find_sheet",
    "in_order",
    "marker_cells",
    "plane_from_corners",
    "points_of",
    "scale_sheet",
    "seen",
    "sheet_area",
    "straightened",
    "to_photo",
    "to_view",
    "unrolled",
    "view_by_edges",
    "view_by_sheet",
]


def view_by_sheet(
    photo: Photo, check_mm: float | None = None
) -> tuple[View, Scale, tuple[Points, ...]]:
    """Return the view straightened by the sheet or card in a photo.

    Parameters
    ----------
    photo : Photo
    check_mm : float, optional
        What a ruler says of the check length.

    Returns
    -------
    view : View
    scale : Scale
    areas : tuple of tuple of (float, float)
        (x, y) px of the view around the sheet and each card, to be left out of the
        face.

    Raises
    ------
    ScaleError
        As `find_sheet` and `straightened`.
    """
    plane, markers = find_sheet(
        photo.pixels, check_mm=check_mm, lens_35mm=photo.lens_35mm
    )
    view, scale = straightened(plane, (photo.height_px, photo.width_px))
    papers = [card.area_px for card in find_cards(photo.pixels, photo.lens_35mm)]
    if markers[0].number in SHEET_MARKERS:
        papers.append(sheet_area(plane))
    return view, scale, tuple(points_of(to_view(view, paper)) for paper in papers)


def view_by_edges(
    photo: Photo,
    edges_px: ArrayLike,
    diameters_mm: tuple[float, float],
    distance_mm: float | None = None,
) -> tuple[View, Scale]:
    """Return the view that unrolls a round piece by the edges tapped on its photo.

    Parameters
    ----------
    photo : Photo
        Where its file states the lens, the camera's distance follows from it.
    edges_px, diameters_mm, distance_mm
        As of `unrolled`.

    Raises
    ------
    StruckfaceError
        As `unrolled`.

    Examples
    --------
    >>> from analysis.model.photo import Photo
    >>> pixels = np.zeros((400, 300, 3), np.uint8)
    >>> photo = Photo(pixels=pixels, opaque=None, sha256="", name="", file_format="PNG")
    >>> edges = [[40, 50], [40, 250], [360, 50], [360, 250]]
    >>> view_by_edges(photo, edges, (100, 100), 300)[0].kind
    'unrolled'
    """
    # A usual phone's lens tells no distance, yet where the middle of the photo is.
    is_told = photo.lens_35mm is not None or distance_mm is not None
    lens = lens_of((photo.height_px, photo.width_px), photo.lens_35mm)
    return unrolled(
        edges_px,
        diameters_mm,
        distance_mm=distance_mm,
        lens=lens if is_told else None,
    )


def points_of(rows: NDArray[np.float64]) -> Points:
    """Turn (row, col) into (x, y), to a tenth of a px.

    Examples
    --------
    >>> points_of(np.array([[1.0, 2.04]]))
    ((2.0, 1.0),)
    """
    return xy(np.round(rows, 1))


def scale_sheet(page: str = "A4") -> bytes:
    """Return the scale sheet as PDF.

    Parameters
    ----------
    page : str
        ``"A4"`` or ``"Letter"``.

    Raises
    ------
    InputError
        No such page.

    Examples
    --------
    >>> scale_sheet("Letter")[:4]
    b'%PDF'
    """
    return report.scale_sheet(
        {number: marker_cells(number) for number in SHEET_MARKERS}, page=page
    )
