"""The scale sheet: as PDF to print, and found in a photo; faces straightened."""

from __future__ import annotations

from analysis.imaging.sheet import find_markers, find_sheet, marker_cells, sheet_area
from analysis.imaging.straightening import plane_from_corners, straightened
from analysis.imaging.viewing import seen, to_photo, to_view
from analysis.model.sheet import SHEET_MARKERS
from analysis.report import scale_sheet as report

__all__ = [
    "find_markers",
    "find_sheet",
    "marker_cells",
    "plane_from_corners",
    "scale_sheet",
    "seen",
    "sheet_area",
    "straightened",
    "to_photo",
    "to_view",
]


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
