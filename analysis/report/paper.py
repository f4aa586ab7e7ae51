"""Sheets of paper as PDF: A4 or Letter, embedded fonts, page numbers, literal text.

Common ground of all printed sheets. Rooms hand plain values up to `analysis.services`,
which has `analysis.report` lay them out; no other room makes pages of its own.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

from fpdf import FPDF
from fpdf.fonts import FontFace

from analysis.checks import one_of
from analysis.model.writing import workshop_name
from analysis.report.typeface import (
    FONT,
    add_fonts,
    fitting,
    one_line,
    printable,
    shape,
)

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

PAGES_MM = {"A4": (210.0, 297.0), "Letter": (215.9, 279.4)}
MARGIN_MM = 15.0
TEXT_PT = 9.5
SMALL_PT = 8.0
_LINE = 1.35  # height of a line over the size of its letters
_MM_PER_PT = 25.4 / 72
_FOOT_MM = 12.0
_LONGEST_CELL = 400
_GREY = (90, 90, 90)
_RULE = (190, 190, 190)
_HEAD_FILL = (236, 236, 236)

Align = Literal["L", "R"]


class Paper(FPDF):
    """A sheet being laid out; each page ends in its title and number."""

    foot = ""


def new_paper(title: str, *, page: str = "A4", foot: str = "") -> Paper:
    """Begin a sheet with its title at the head of the first page.

    Parameters
    ----------
    title : str
        Any text, printed as written.
    page : str
        One of ``PAGES_MM``.
    foot : str
        Said at the foot of every page, cut to one line; the title by default.

    Returns
    -------
    Paper
        Lay it out with the functions here, then take `finished`.

    Raises
    ------
    InputError
        No such page.

    Examples
    --------
    >>> paper = new_paper("Piece 7", page="Letter")
    >>> lines(paper, ["0.42 % void area"])
    >>> finished(paper)[:5]
    b'%PDF-'
    """
    paper = _paper(title, page)
    paper.set_margin(MARGIN_MM)
    paper.set_auto_page_break(auto=True, margin=_FOOT_MM + 5)
    name = workshop_name()
    said = foot or title
    paper.foot = one_line(f"{name}, {said}" if name else said)
    paper.alias_nb_pages("")
    paper.add_page()
    if name:
        _write(paper, name, size_pt=SMALL_PT + 1)
    _write(paper, title, size_pt=17.0, bold=True)
    paper.ln(1.5)
    return paper


def bare_paper(title: str, *, page: str = "A4", landscape: bool = False) -> Paper:
    """Begin sheets of cards or labels: no margins, nothing at head or foot.

    Examples
    --------
    >>> paper = bare_paper("Cards", landscape=True)
    >>> round(paper.w), round(paper.h)
    (297, 210)
    """
    paper = _paper(title, page, "landscape" if landscape else "portrait")
    paper.set_margin(0.0)
    paper.set_auto_page_break(auto=False)
    return paper


def text_at(
    paper: Paper,
    text: str,
    place: tuple[float, float],
    width_mm: float,
    *,
    size_pt: float = TEXT_PT,
    bold: bool = False,
) -> None:
    """Print one line from a place on the page, cut to fit a width.

    Examples
    --------
    >>> paper = bare_paper("Cards")
    >>> paper.add_page()
    >>> text_at(paper, "Piece 7", (20.0, 30.0), 60.0, bold=True)
    """
    paper.set_font(FONT, "B" if bold else "", size_pt)
    shown = one_line(text)
    shape(paper, shown)
    paper.set_xy(*place)
    paper.cell(width_mm, size_pt * _MM_PER_PT * _LINE, fitting(paper, shown, width_mm))
    paper.set_text_shaping(False)


def _paper(
    title: str, page: str, turned: Literal["portrait", "landscape"] = "portrait"
) -> Paper:
    one_of(page, "Page", PAGES_MM)
    paper = Paper(orientation=turned, unit="mm", format=PAGES_MM[page])
    paper.c_margin = 0.0  # so that texts, pictures and rules begin at one edge
    add_fonts(paper)
    paper.set_title(printable(title))
    paper.set_creator("Struckface")
    return paper


def heading(paper: Paper, text: str) -> None:
    """Print a heading, never alone at the foot of a page.

    Examples
    --------
    >>> heading(new_paper("Piece 7"), "Judged by")
    """
    if paper.will_page_break(22):
        paper.add_page()
    paper.ln(2.5)
    _write(paper, text, size_pt=11.5, bold=True)
    paper.ln(0.8)


def lines(
    paper: Paper,
    texts: Iterable[str],
    *,
    small: bool = False,
    bold: bool = False,
    bullet: str = "",
) -> None:
    """Print paragraphs as written, however long.

    Examples
    --------
    >>> lines(new_paper("Piece 7"), ["=1+1 <b>stays</b> **as written**"], bullet="-")
    """
    size = SMALL_PT if small else TEXT_PT
    if small:
        paper.set_text_color(*_GREY)
    for text in texts:
        if bullet:
            paper.set_font(FONT, size=size)
            paper.cell(4, size * _LINE * _MM_PER_PT, bullet)
        _write(paper, text, size_pt=size, bold=bold, indent=4.0 if bullet else 0.0)
    paper.set_text_color(0)


def big(paper: Paper, text: str) -> None:
    """Print the answer, large.

    Examples
    --------
    >>> big(new_paper("Piece 7"), "0.42 % void area")
    """
    _write(paper, text, size_pt=14.0, bold=True)


def facts(paper: Paper, pairs: Iterable[tuple[str, str]]) -> None:
    """Print a name and a value on each row; rows without a value are left out.

    Examples
    --------
    >>> facts(new_paper("Piece 7"), [("Form", "Trough A"), ("Mix", "")])
    """
    rows = [(name, value) for name, value in pairs if value]
    if rows:
        table(paper, (), rows, widths=(1, 3), ruled=False)


def table(
    paper: Paper,
    header: Sequence[str],
    rows: Iterable[Sequence[str]],
    *,
    widths: Sequence[float],
    align: Sequence[Align] = (),
    ruled: bool = True,
) -> None:
    """Print a table; its header comes again on each page, long cells go on below.

    Parameters
    ----------
    paper : Paper
        The sheet.
    header : sequence of str
        Empty for none.
    rows : iterable of sequence of str
        One text per column.
    widths : sequence of float
        Shares of the columns.
    align : sequence of {"L", "R"}
        Left by default.
    ruled : bool
        With lines between the rows.

    Examples
    --------
    >>> table(new_paper("Pour 12"), ("Piece", "%"), [("7", "0.4")], widths=(3, 1))
    """
    paper.set_font(FONT, size=TEXT_PT)
    paper.set_draw_color(*_RULE)
    body = [part for row in rows for part in _in_parts(row)]
    shape(paper, " ".join(text for row in (header, *body) for text in row))
    with paper.table(
        col_widths=tuple(widths),
        text_align=tuple(align) or "LEFT",
        borders_layout="HORIZONTAL_LINES" if ruled else "NONE",
        first_row_as_headings=bool(header),
        headings_style=FontFace(emphasis="BOLD", fill_color=_HEAD_FILL),
        line_height=TEXT_PT * _LINE * _MM_PER_PT,
        padding=(0.6, 1.2) if ruled else (0.6, 1.2, 0.6, 0.0),
        markdown=False,
    ) as laid:
        for row in ([tuple(header)] if header else []) + body:
            laid.row(tuple(printable(text) or " " for text in row))
    paper.set_text_shaping(False)
    paper.set_draw_color(0)
    paper.ln(1)


def chart_text(
    paper: Paper, text: str, x_mm: float, y_mm: float, *, align: str = "C"
) -> None:
    """Print one small line about a place on the page, for a chart's axes.

    Examples
    --------
    >>> chart_text(new_paper("Piece 7"), "0.5 %", 30.0, 60.0, align="R")
    """
    paper.set_font(FONT, size=SMALL_PT)
    paper.set_text_color(*_GREY)
    shown = one_line(text)
    width = paper.get_string_width(shown) + 0.5
    left = x_mm - width * {"L": 0.0, "C": 0.5, "R": 1.0}[align]
    shape(paper, shown)
    paper.set_xy(left, y_mm - 2.0)
    paper.cell(width, 4.0, shown, align="C")
    paper.set_text_shaping(False)
    paper.set_text_color(0)


def finished(paper: Paper) -> bytes:
    """Return the sheet as a PDF file.

    Examples
    --------
    >>> finished(new_paper("Piece 7"))[:4]
    b'%PDF'
    """
    paper.set_auto_page_break(auto=False)
    # Not left to the library's placeholder for the number of pages, which a user's
    # text might hold too.
    for number in range(1, paper.pages_count + 1):
        if not paper.foot:  # cards and labels are cut apart
            break
        paper.page = number
        _print_foot(paper, f"{number} / {paper.pages_count}")
    return bytes(paper.output())


def _print_foot(paper: Paper, number: str) -> None:
    paper.set_y(-_FOOT_MM)
    # Asked for twice, since a font already chosen on the last page is not set again.
    for size in (TEXT_PT, SMALL_PT):
        paper.set_font(FONT, size=size)
    paper.set_text_color(*_GREY)
    width = paper.get_string_width(number) + 3.0
    room = paper.epw - width
    shape(paper, paper.foot)
    paper.cell(room, 4, fitting(paper, paper.foot, room))
    paper.set_text_shaping(False)
    paper.cell(width, 4, number, align="R")


def _write(
    paper: Paper, text: str, *, size_pt: float, bold: bool = False, indent: float = 0.0
) -> None:
    paper.set_font(FONT, "B" if bold else "", size_pt)
    shape(paper, text)
    options: dict[str, Any] = {"new_x": "LMARGIN", "new_y": "NEXT", "align": "L"}
    if indent:
        paper.set_x(paper.l_margin + indent)
    paper.multi_cell(0, size_pt * _LINE * _MM_PER_PT, printable(text), **options)
    paper.set_text_shaping(False)


def _in_parts(row: Sequence[str]) -> list[tuple[str, ...]]:
    """Part a row whose cells are too long for a page into rows that follow it."""
    # -(-a // b) rounds up.
    count = max(1, *(-(-len(text) // _LONGEST_CELL) for text in row))
    return [
        tuple(text[at * _LONGEST_CELL : (at + 1) * _LONGEST_CELL] for text in row)
        for at in range(count)
    ]
