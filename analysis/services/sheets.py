"""The scale sheet: as PDF to print, and found in a photo; faces straightened."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.imaging.card import find_cards
from analysis.imaging.lens_bend import bend_by_plane, bent, scale_doubt, usual_bend
from analysis.imaging.markers import find_markers, marker_cells
from analysis.imaging.pose import lens_of
from analysis.imaging.round_piece import unrolled
from analysis.imaging.scale import less_sure
from analysis.imaging.sheet import find_sheet, sheet_area
from analysis.imaging.straightening import in_order, plane_from_corners, straightened
from analysis.imaging.viewing import seen, to_photo, to_view
from analysis.model.points import xy
from analysis.model.sheet import SHEET_MARKERS, corners_mm
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
    "with_lens_doubt",
]


def view_by_sheet(
    photo: Photo, check_mm: float | None = None
) -> tuple[View, Scale, tuple[Points, ...]]:
    """Return the view straightened by the sheet or card in a photo.

    Where the sheet's markers tell it, the lens's bend is taken out; else it stays in
    the uncertainty.

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
    shape = (photo.height_px, photo.width_px)
    bend = usual_bend(shape, photo.lens_35mm)
    seen_px = np.concatenate([marker.corners_px[:, ::-1] for marker in markers])
    is_sheet = markers[0].number in SHEET_MARKERS
    if is_sheet:  # a card is too small to tell
        drawn = [np.array(corners_mm(*SHEET_MARKERS[one.number])) for one in markers]
        bend = bend_by_plane(seen_px, np.concatenate(drawn), bend)
    is_bent = bool(bend.bend)
    if is_bent:
        plane, _ = find_sheet(
            photo.pixels, check_mm=check_mm, lens_35mm=photo.lens_35mm, bend=bend
        )
    view, scale = straightened(plane, shape, bend if is_bent else None)
    scale = less_sure(scale, scale_doubt(bend, seen_px))
    papers = [card.area_px for card in find_cards(photo.pixels, photo.lens_35mm)]
    if is_sheet:
        papers.append(bent(bend, sheet_area(plane)[:, ::-1])[:, ::-1])
    return view, scale, tuple(points_of(to_view(view, paper)) for paper in papers)


def with_lens_doubt(
    photo: Photo,
    scale: Scale,
    marks_px: ArrayLike,
    face_px: ArrayLike | None = None,
) -> Scale:
    """Return a scale less sure by what the photo's lens may do to straight lines.

    Parameters
    ----------
    photo : Photo
    scale : Scale
    marks_px : array_like of float, (n, 2)
        (row, col) of what the scale was had from, n of 2 or more.
    face_px : array_like of float, (m, 2), optional
        (row, col) around what is measured; without it the whole photo.

    Examples
    --------
    >>> from analysis.model.photo import Photo, Scale
    >>> pixels = np.zeros((300, 400, 3), np.uint8)
    >>> photo = Photo(pixels=pixels, opaque=None, sha256="", name="", file_format="PNG")
    >>> ruler = Scale(mm_per_px=1, relative_uncertainty=0.002, method="two_points")
    >>> with_lens_doubt(photo, ruler, [[150, 100], [150, 300]]).relative_uncertainty > (
    ...     0.005
    ... )
    True
    """
    bend = usual_bend((photo.height_px, photo.width_px), photo.lens_35mm)
    marks = np.asarray(marks_px, np.float64)[:, ::-1]
    face = None if face_px is None else np.asarray(face_px, np.float64)[:, ::-1]
    return less_sure(scale, scale_doubt(bend, marks, face))


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
