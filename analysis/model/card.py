"""The printed card: where its markers and its code are, and what the code says.

A card carries one or two markers of `analysis.model.sheet.DICTIONARY` and a QR code
(ISO/IEC 18004) between or beside them. x runs to the right and y down, in mm, from the
top left corner of its left marker. The code is short, so that its modules are large:
layout, kind, number of the record, and the mark of the log it belongs to.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.checks import one_of
from analysis.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Mapping

PIECE, FORM, PLAN = "piece", "form", "plan"
KINDS = (PIECE, FORM, PLAN)
# Neither vowels, which would make words, nor signs that are taken for one another.
MARK_SIGNS = "23456789BCDFGHJKLMNPQRSTVWXYZ"
MARK_LENGTH = 6
_LETTERS = MappingProxyType({"P": PIECE, "F": FORM, "B": PLAN})
_CODE = re.compile(
    rf"(?:^|[=/ ])([ABC])([PFB])([0-9A-Z]{{1,16}}(?:\.[0-9]{{1,3}})?)"
    rf"-([{MARK_SIGNS}]{{{MARK_LENGTH}}})$"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Layout:
    """How a card of one kind is laid out, in mm.

    Attributes
    ----------
    marker_mm : float
        Side of its markers.
    markers : mapping of int to (float, float)
        Identity -> x, y of the marker's top left corner.
    code_at : (float, float)
        Top left corner of the QR code's first module.
    code_mm : float
        Side of the QR code without its white edge.
    block : (float, float, float, float)
        Left, top, right, bottom of all that is printed for the camera.
    """

    marker_mm: float
    markers: Mapping[int, tuple[float, float]]
    code_at: tuple[float, float]
    code_mm: float
    block: tuple[float, float, float, float]


LAYOUTS: Mapping[str, Layout] = MappingProxyType(
    {
        "A": Layout(
            marker_mm=40.0,
            markers=MappingProxyType({4: (0.0, 0.0), 5: (88.0, 0.0)}),
            code_at=(46.0, 2.0),
            code_mm=36.0,
            block=(0.0, 0.0, 128.0, 40.0),
        ),
        "B": Layout(
            marker_mm=24.0,
            markers=MappingProxyType({6: (0.0, 0.0), 7: (66.0, 0.0)}),
            code_at=(30.0, -3.0),
            code_mm=30.0,
            block=(0.0, -3.0, 90.0, 27.0),
        ),
        "C": Layout(
            marker_mm=24.0,
            markers=MappingProxyType({8: (0.0, 0.0)}),
            code_at=(29.0, -2.0),
            code_mm=28.0,
            block=(0.0, -2.0, 57.0, 26.0),
        ),
    }
)
LAYOUT_OF = MappingProxyType(
    {number: name for name, one in LAYOUTS.items() for number in one.markers}
)
# Paper left white round the block, all that a finder may count on.
EDGE_MM = 4.0
# The whole paper round the block: left, top, right, bottom, of the largest paper that
# the layout is printed on.
PAPER_MM: Mapping[str, tuple[float, float, float, float]] = MappingProxyType(
    {
        "A": (10.25, 7.0, 10.25, 61.0),
        "B": (5.8, 4.0, 5.8, 23.0),
        "C": (6.5, 4.0, 6.5, 18.8),
    }
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Code:
    """What a card's code says.

    Attributes
    ----------
    layout : str
        One of `LAYOUTS`.
    kind : str
        One of `KINDS`.
    number : str
        The record's key in its log; for a plan its short key, a dot and the pour.
    log_mark : str
        Of the log it was printed from.

    Examples
    --------
    >>> Code(layout="A", kind="piece", number="12", log_mark="7KQ4ZX").text
    'AP12-7KQ4ZX'
    """

    layout: str
    kind: str
    number: str
    log_mark: str

    def __post_init__(self) -> None:
        """Refuse what no card can say."""
        one_of(self.layout, "Layout of a card", LAYOUTS)
        one_of(self.kind, "Kind of card", KINDS)
        if _CODE.search(self.text) is None:
            msg = (
                f"A card cannot carry {self.number!r} of log {self.log_mark!r}: "
                "print it from the log."
            )
            raise InputError(msg)

    @property
    def text(self) -> str:
        """The text of the QR code."""
        letter = next(sign for sign, kind in _LETTERS.items() if kind == self.kind)
        return f"{self.layout}{letter}{self.number}-{self.log_mark}"


def code_of(text: str) -> Code | None:
    """Read a code, or the address of a page that ends in one.

    Returns
    -------
    Code or None
        None where the text is of no card.

    Examples
    --------
    >>> code_of("http://192.168.1.20:8501/card?c=BF3-7KQ4ZX").number
    '3'
    >>> code_of("hello") is None
    True
    """
    found = _CODE.search(text.strip())
    if found is None:
        return None
    layout, letter, number, mark = found.groups()
    return Code(layout=layout, kind=_LETTERS[letter], number=number, log_mark=mark)
