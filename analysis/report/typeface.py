"""Letters of the printed sheets: the fonts, and which signs they carry.

The fonts are DejaVu Sans (free licence beside them): Latin with all accents, Greek,
Cyrillic, Hebrew, Arabic. A sign they lack is printed as its code point, so that
nothing a user wrote is lost.
"""

from __future__ import annotations

import io
import unicodedata
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from fontTools.ttLib import TTFont

if TYPE_CHECKING:
    from fpdf import FPDF

FONT = "DejaVu Sans"
_FOLDER = Path(__file__).parent / "fonts"
_FILES = {"": "DejaVuSans.ttf", "B": "DejaVuSans-Bold.ttf"}
_RIGHT_TO_LEFT = frozenset({"R", "AL", "AN"})


def printable(text: str) -> str:
    r"""Return a text that prints: controls go, what the font lacks shows its code.

    Examples
    --------
    >>> printable("a\x00b\tc")
    'ab c'
    >>> printable("\U0001f9f1")
    '[U+1F9F1]'
    """
    signs = _signs()
    return "".join(
        _sign(sign, signs) for sign in unicodedata.normalize("NFC", text).expandtabs(1)
    )


def one_line(text: str) -> str:
    r"""Return a text on one line.

    Examples
    --------
    >>> one_line("a\n b")
    'a b'
    """
    return " ".join(printable(text).split())


def _sign(sign: str, signs: frozenset[int]) -> str:
    if sign == "\n" or ord(sign) in signs:
        return sign
    if unicodedata.category(sign) in {"Cc", "Cf", "Cs", "Zl", "Zp"}:
        return ""
    return f"[U+{ord(sign):04X}]"


@cache
def _signs() -> frozenset[int]:
    """Signs that both fonts have, without those that steer the direction of text."""
    shared: set[int] | None = None
    for file in _FILES.values():
        with TTFont(_FOLDER / file) as font:
            found = set(font.getBestCmap())
        shared = found if shared is None else shared & found
    return frozenset(
        code for code in shared or () if unicodedata.category(chr(code)) != "Cf"
    )


def add_fonts(paper: FPDF) -> None:
    """Give a sheet the fonts, each read into memory."""
    for style, file in _FILES.items():
        paper.add_font(FONT, style, _FOLDER / file)
    for font in paper.fonts.values():
        _close(font)


def _close(font: Any) -> None:  # noqa: ANN401  fpdf2 gives no narrower type
    """Read a font from memory on: its file would stay open with the sheet."""
    reader = font.ttfont.reader
    reader.file.seek(0)
    kept = io.BytesIO(reader.file.read())
    reader.file.close()
    reader.file = kept


def shape(paper: FPDF, text: str) -> None:
    """Order and join letters where some run from right to left."""
    found = any(unicodedata.bidirectional(sign) in _RIGHT_TO_LEFT for sign in text)
    paper.set_text_shaping(found)


def fitting(paper: FPDF, text: str, room_mm: float) -> str:
    """Return as much of a text as has room, in the font that is set."""
    while text and paper.get_string_width(text) > room_mm:
        text = text[: max(0, min(len(text) - 2, int(len(text) * 0.9)))] + "…"
        if text == "…":
            break
    return text
