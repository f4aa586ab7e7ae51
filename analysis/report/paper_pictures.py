"""Pictures on printed sheets: one, several in rows, and the scale bar below one."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

from PIL import Image

from analysis.report.paper import SMALL_PT
from analysis.report.typeface import FONT, fitting, one_line, shape
from analysis.report.void_map import bar_size

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.report.paper import Paper

IN_A_ROW = 3  # small pictures, side by side


def picture(
    paper: Paper,
    encoded: bytes,
    *,
    width_mm: float | None = None,
    tallest_mm: float = 240.0,
    at_mm: float | None = None,
    alt: str = "",
) -> tuple[float, float, float, float]:
    """Print a picture as large as it may be, and give the place it took.

    Parameters
    ----------
    paper : Paper
        The sheet.
    encoded : bytes
        PNG or JPEG.
    width_mm : float, optional
        At most this wide; the width of the text by default.
    tallest_mm : float
        At most this tall.
    at_mm : float, optional
        Distance from the left margin; by default it begins there. The next thing
        printed comes below the picture.
    alt : str
        Said to those who cannot see it.

    Returns
    -------
    tuple of float
        Left, top, width, height, mm from the page's corner.

    Examples
    --------
    >>> from analysis.report.paper import new_paper
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (40, 20)).save(file, "PNG")
    >>> picture(new_paper("Piece 7"), file.getvalue(), width_mm=40.0)[2:]
    (40.0, 20.0)
    """
    with Image.open(io.BytesIO(encoded)) as opened:
        cols, rows = opened.size
    widest = paper.epw if width_mm is None else min(width_mm, paper.epw)
    width = min(widest, tallest_mm * cols / rows)
    height = width * rows / cols
    if paper.will_page_break(height):
        paper.add_page()
    left, top = paper.l_margin + (at_mm or 0.0), paper.get_y()
    paper.image(io.BytesIO(encoded), x=left, y=top, w=width, h=height, alt_text=alt)
    paper.set_xy(paper.l_margin, top + height + 1.0)
    return left, top, width, height


def scale_bar(
    paper: Paper,
    place: tuple[float, float, float, float],
    *,
    mm_across: float,
    unit: str = "mm",
) -> None:
    """Draw a scale bar below a picture that shows `mm_across` from side to side.

    Examples
    --------
    >>> from analysis.report.paper import new_paper
    >>> paper = new_paper("Piece 7")
    >>> scale_bar(paper, (15.0, 20.0, 80.0, 60.0), mm_across=400.0)
    """
    left, top, width, height = place
    per_unit = 25.4 if unit == "inch" else 1.0
    size = bar_size(mm_across / per_unit)
    bar = size * per_unit / mm_across * width
    below = top + height + 2.0
    paper.set_line_width(0.8)
    paper.line(left, below, left + bar, below)
    paper.set_line_width(0.2)
    paper.set_xy(left + bar + 1.5, below - 2.0)
    paper.set_font(FONT, size=SMALL_PT)
    paper.cell(40, 4, f"{size:g} {'in' if unit == 'inch' else 'mm'}")
    paper.set_xy(paper.l_margin, max(below + 3.0, paper.get_y()))


def contact(paper: Paper, pictures: Sequence[tuple[bytes, str]]) -> None:
    """Print small pictures in rows, each with a line below it.

    Parameters
    ----------
    paper : Paper
        The sheet.
    pictures : sequence of (bytes, str)
        PNG or JPEG, and what it shows.

    Examples
    --------
    >>> from analysis.report.paper import new_paper
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (40, 20)).save(file, "PNG")
    >>> contact(new_paper("Pour 12"), [(file.getvalue(), "Piece 7")] * 4)
    """
    gap = 4.0
    width = (paper.epw - gap * (IN_A_ROW - 1)) / IN_A_ROW
    for start in range(0, len(pictures), IN_A_ROW):
        row = pictures[start : start + IN_A_ROW]
        if paper.will_page_break(width + 10):
            paper.add_page()
        top, foot = paper.get_y(), paper.get_y()
        for place, (encoded, _) in enumerate(row):
            paper.set_y(top)
            picture(
                paper,
                encoded,
                width_mm=width,
                tallest_mm=width,
                at_mm=place * (width + gap),
            )
            foot = max(foot, paper.get_y())
        paper.set_font(FONT, size=SMALL_PT)
        for place, (_, said) in enumerate(row):
            paper.set_xy(paper.l_margin + place * (width + gap), foot)
            shown = one_line(said)
            shape(paper, shown)
            paper.cell(width, 4.0, fitting(paper, shown, width))
            paper.set_text_shaping(False)
        paper.set_xy(paper.l_margin, foot + 7.0)
