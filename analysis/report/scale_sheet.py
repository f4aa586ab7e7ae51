"""The scale sheet to print and lay on a face."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.sheet import (
    BELOW_MM,
    CHECK_INCH,
    CHECK_MM,
    FRAME_MM,
    GREYS,
    MARKER_MM,
    SHEET_MARKERS,
    WHITE_EDGE_MM,
)
from analysis.report.paper import finished, lines, new_paper

if TYPE_CHECKING:
    from collections.abc import Mapping

    import numpy as np
    from numpy.typing import NDArray

    from analysis.report.paper import Paper

_TOP_MM = 70.0
_MM_PER_INCH = 25.4
_PATCH_MM = 14.0
_TICK_MM = 3.0
_CUT_GREY = 150
# Black cells reach into each other by this, or a viewer shows hairlines between.
_OVERLAP_MM = 0.02
_HOW = (
    f"1. Print at 100 %. The check length must be {CHECK_MM:g} mm; type it if not.",
    "2. Cut along the grey line and glue it to something flat and stiff.",
    "3. Lay it flat on the face, all of it in the photo, out of glare.",
)


def scale_sheet(cells: Mapping[int, NDArray[np.bool_]], *, page: str = "A4") -> bytes:
    """Return the scale sheet as PDF.

    Parameters
    ----------
    cells : mapping of int to ndarray of bool, (n, n)
        Cells of each of the sheet's markers, True where black.
    page : str
        ``"A4"`` or ``"Letter"``.

    Raises
    ------
    InputError
        No such page.

    Examples
    --------
    >>> import numpy as np
    >>> scale_sheet({n: np.eye(7, dtype=bool) for n in SHEET_MARKERS})[:4]
    b'%PDF'
    """
    paper = new_paper("Scale sheet", page=page)
    lines(paper, _HOW)
    left = (paper.w - FRAME_MM[0]) / 2
    for number, (x, y) in SHEET_MARKERS.items():
        cells_on(paper, cells[number], left + x, _TOP_MM + y)
    _greys(paper, left)
    below = _TOP_MM + FRAME_MM[1] + WHITE_EDGE_MM + 4
    _check_length(paper, left, below, CHECK_MM, f"check length {CHECK_MM:g} mm", 10.0)
    _check_length(
        paper,
        left,
        below + 12,
        CHECK_INCH * _MM_PER_INCH,
        f"{CHECK_INCH:g} inch",
        _MM_PER_INCH,
    )
    paper.set_draw_color(_CUT_GREY)
    paper.rect(
        left - WHITE_EDGE_MM,
        _TOP_MM - WHITE_EDGE_MM,
        FRAME_MM[0] + 2 * WHITE_EDGE_MM,
        FRAME_MM[1] + WHITE_EDGE_MM + BELOW_MM,
    )
    return finished(paper)


def cells_on(
    paper: Paper,
    cells: NDArray[np.bool_],
    left: float,
    top: float,
    side_mm: float = MARKER_MM,
) -> None:
    """Print a marker or a code with its top left corner at (left, top), mm.

    Leave white paper around it: ``WHITE_EDGE_MM`` for the sheet's markers.

    Examples
    --------
    >>> import numpy as np
    >>> cells_on(new_paper("Card"), np.ones((7, 7), bool), 20.0, 50.0)
    """
    side = side_mm / len(cells)
    paper.set_fill_color(0)
    for row, line in enumerate(cells):
        for col, black in enumerate(line):
            if black:
                x, y = left + col * side, top + row * side
                more_right = _OVERLAP_MM if col + 1 < len(line) else 0.0
                more_below = _OVERLAP_MM if row + 1 < len(cells) else 0.0
                paper.rect(x, y, side + more_right, side + more_below, style="F")
    # The overlap must not eat into white cells.
    paper.set_fill_color(255)
    for row, line in enumerate(cells):
        for col, black in enumerate(line):
            if not black:
                paper.rect(left + col * side, top + row * side, side, side, style="F")
    paper.set_fill_color(0)


def _greys(paper: Paper, left: float) -> None:
    x = left + (FRAME_MM[0] - len(GREYS) * _PATCH_MM) / 2
    y = _TOP_MM + (FRAME_MM[1] - _PATCH_MM) / 2
    for grey in GREYS:
        paper.set_fill_color(grey)
        paper.rect(x, y, _PATCH_MM, _PATCH_MM, style="F")
        x += _PATCH_MM
    paper.set_fill_color(0)


def _check_length(
    paper: Paper, left: float, y: float, length: float, text: str, step: float
) -> None:
    paper.set_draw_color(0)
    paper.set_line_width(0.25)
    paper.line(left, y, left + length, y)
    for tick in range(round(length / step) + 1):
        x = left + tick * step
        whole = tick in {0, round(length / step)}
        paper.line(x, y - (_TICK_MM if whole else _TICK_MM / 2), x, y)
    paper.set_xy(left, y + 0.5)
    paper.cell(length, 5, text, align="C")
