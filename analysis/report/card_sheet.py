"""Cards and labels to print: markers for the scale, a code, room for notes."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
import segno

from analysis.checks import one_of
from analysis.errors import InputError
from analysis.model.card import EDGE_MM, LAYOUTS
from analysis.report.paper import PAGES_MM, bare_paper, finished, text_at
from analysis.report.scale_sheet import cells_on

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from analysis.model.card import Code
    from analysis.report.paper import Paper

_LINE_GREY = 150
_NOTE_STEP_MM = 11.0
_ABOVE_NOTES_MM = 17.0
_EDGE_SLACK_MM = 3.0


@dataclass(frozen=True, slots=True, kw_only=True)
class CardPaper:
    """How cards or labels lie on a page, in mm.

    Attributes
    ----------
    page : str
        One of `analysis.report.paper.PAGES_MM`.
    landscape : bool
        The page lies on its long side.
    layout : str
        Of the card, one of `analysis.model.card.LAYOUTS`.
    across, down : int
        Cards in a row and in a column.
    size : (float, float)
        Width and height of one.
    first : (float, float)
        Left and top of the first one.
    pitch : (float, float)
        From one to the next, to the right and down.
    """

    page: str
    landscape: bool = False
    layout: str
    across: int
    down: int
    size: tuple[float, float]
    first: tuple[float, float] = (0.0, 0.0)
    pitch: tuple[float, float]


def _cards(page: str) -> CardPaper:
    """Return a page of four cards, each a quarter of it."""
    short, long = PAGES_MM[page]
    size = (long / 2, short / 2)
    return CardPaper(
        page=page, landscape=True, layout="A", across=2, down=2, size=size, pitch=size
    )


# Label sheets in common use; sizes and places from memory, so a test print comes first.
CARD_PAPERS: Mapping[str, CardPaper] = MappingProxyType(
    {
        "cards_a4": _cards("A4"),
        "cards_letter": _cards("Letter"),
        "labels_a4_10": CardPaper(
            page="A4",
            layout="B",
            across=2,
            down=5,
            size=(99.1, 57.0),
            first=(4.65, 6.0),
            pitch=(101.6, 57.0),
        ),
        "labels_a4_15": CardPaper(
            page="A4",
            layout="C",
            across=3,
            down=5,
            size=(70.0, 50.8),
            first=(0.0, 21.5),
            pitch=(70.0, 50.8),
        ),
        "labels_letter_10": CardPaper(
            page="Letter",
            layout="B",
            across=2,
            down=5,
            size=(101.6, 50.8),
            first=(3.97, 12.7),
            pitch=(106.36, 50.8),
        ),
        "labels_letter_15": CardPaper(
            page="Letter",
            layout="C",
            across=3,
            down=5,
            size=(66.7, 50.8),
            first=(4.76, 12.7),
            pitch=(69.85, 50.8),
        ),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Card:
    """What is printed on one card.

    Attributes
    ----------
    code : Code
        What the camera reads.
    title, line : str
        What a person reads: the name, and what it is.
    notes : tuple of str
        What is written in by hand, one ruled line each.
    """

    code: Code
    title: str
    line: str = ""
    notes: tuple[str, ...] = ()


def card_sheet(
    cards: Sequence[Card], cells: Mapping[int, NDArray[np.bool_]], *, paper: str
) -> bytes:
    """Return cards as PDF, as many pages as they need.

    Parameters
    ----------
    cards : sequence of Card
        In reading order.
    cells : mapping of int to ndarray of bool, (n, n)
        Cells of each marker, True where black.
    paper : str
        One of ``CARD_PAPERS``.

    Raises
    ------
    InputError
        No card, no such paper, or a card laid out for another one.

    Examples
    --------
    >>> from analysis.model.card import Code
    >>> code = Code(layout="A", kind="piece", number="7", log_mark="7KQ4ZX")
    >>> markers = {4: np.eye(7, dtype=bool), 5: np.eye(7, dtype=bool)}
    >>> card_sheet([Card(code=code, title="7")], markers, paper="cards_a4")[:4]
    b'%PDF'
    """
    one_of(paper, "Paper for cards", CARD_PAPERS)
    lies = CARD_PAPERS[paper]
    if not cards:
        msg = "There is no card to print: choose a piece or a form."
        raise InputError(msg)
    sheet = bare_paper("Cards", page=lies.page, landscape=lies.landscape)
    for number, card in enumerate(cards):
        if card.code.layout != lies.layout:
            msg = (
                f"A card laid out as {card.code.layout} does not go on {paper}, which "
                f"takes {lies.layout}: make it for that paper."
            )
            raise InputError(msg)
        place = number % (lies.across * lies.down)
        if place == 0:
            sheet.add_page()
        down, across = divmod(place, lies.across)
        corner = (
            lies.first[0] + across * lies.pitch[0],
            lies.first[1] + down * lies.pitch[1],
        )
        _card(sheet, card, cells, lies.size, corner)
    return finished(sheet)


def _card(
    sheet: Paper,
    card: Card,
    cells: Mapping[int, NDArray[np.bool_]],
    size: tuple[float, float],
    corner: tuple[float, float],
) -> None:
    layout = LAYOUTS[card.code.layout]
    left, top, right, bottom = layout.block
    x = corner[0] + (size[0] - (right - left)) / 2 - left
    # Labels are narrow: the block hangs from their top edge, what is read below it.
    above = EDGE_MM + (_EDGE_SLACK_MM if size[1] > 2 * (bottom - top) else 0.0)
    y = corner[1] + above - top
    for number, (marker_x, marker_y) in layout.markers.items():
        cells_on(sheet, cells[number], x + marker_x, y + marker_y, layout.marker_mm)
    made = segno.make(card.code.text, error="q", micro=False)
    modules = np.array([list(row) for row in made.matrix], dtype=bool)
    code_x, code_y = layout.code_at
    cells_on(sheet, modules, x + code_x, y + code_y, layout.code_mm)
    width = right - left
    below = y + bottom + EDGE_MM
    large = bool(card.notes) and size[1] > 2 * (bottom - top)
    text_at(
        sheet,
        card.title,
        (x + left, below),
        width,
        size_pt=16 if large else 9.5,
        bold=True,
    )
    text_at(
        sheet,
        card.line,
        (x + left, below + (8 if large else 4.6)),
        width,
        size_pt=10 if large else 7.5,
    )
    if large:
        _notes(sheet, card.notes, (x + left, below + _ABOVE_NOTES_MM), width)
        sheet.set_draw_color(_LINE_GREY)
        sheet.rect(*corner, *size)


def _notes(
    sheet: Paper, notes: Sequence[str], at: tuple[float, float], width: float
) -> None:
    """Rule a line for each note, two in a row."""
    half = width / 2 - 3
    sheet.set_draw_color(_LINE_GREY)
    for number, note in enumerate(notes):
        row, col = divmod(number, 2)
        x, y = at[0] + col * (half + 6), at[1] + row * _NOTE_STEP_MM
        text_at(sheet, note, (x, y), half, size_pt=7.5)
        sheet.line(x, y + 9.5, x + half, y + 9.5)
