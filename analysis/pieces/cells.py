"""Cells to values: nothing is guessed that could mean two things."""

from __future__ import annotations

import re
from datetime import date
from typing import TYPE_CHECKING

from analysis.checks import FIRST_DAY, LAST_DAY, composed, odd_sign
from analysis.errors import TableError

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.pieces.grid import Cell

_NUL = "\0"
FORMULA = f"{_NUL}formula"
DATE_ORDERS = ("ymd", "dmy", "mdy")
MARKS = (",", ".")
_NUMBER = re.compile(r"[+-]?\d+([.,]\d+)?([eE][+-]?\d+)?")
# A leading nought starts no thousands.
_MAYBE_THOUSANDS = re.compile(r"[+-]?[1-9]\d{0,2}[.,]\d{3}")
_ISO = re.compile(
    r"(\d{4})-(\d{2})-(\d{2})"
    r"(?:[T ]([01]\d|2[0-3]):[0-5]\d(?::[0-5]\d(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?"
)
# A year has four digits, or two where its century is left out.
_DATE = re.compile(r"(\d{4}|\d{1,2})[./-](\d{1,2})[./-](\d{4}|\d{1,2})")
_SPOILT_ID = re.compile(r"\d([.,]\d+)?E\+\d+")
_OTHER_CENTURY = (
    f"is not in the years {FIRST_DAY.year} to {LAST_DAY.year}: correct the year"
)


class YearError(TableError):
    """A day of another century."""


def decimal_mark(cells: Iterable[Cell], *, separator: str = "") -> str | None:
    """Return the decimal mark a file's numbers use, None when they do not tell.

    Parameters
    ----------
    cells : iterable of Cell
        Of the columns that hold numbers.
    separator : str
        What parts the file's cells: where commas do, a lone point parts no thousands.

    Examples
    --------
    >>> decimal_mark(["1,25", "1.200"])
    ','
    >>> decimal_mark(["1.200"]), decimal_mark(["1.200"], separator=",")
    (None, '.')
    """
    told: set[str] = set()
    met: set[str] = set()
    for cell in cells:
        if not isinstance(cell, str) or told.issuperset(MARKS):
            continue
        mark = "," if "," in cell else "." if "." in cell else ""
        if not mark or mark in told:
            continue
        text = cell.strip()
        if not _NUMBER.fullmatch(text):
            continue
        met.add(mark)
        if not _MAYBE_THOUSANDS.fullmatch(text):
            told.add(mark)
    if not told and separator == "," and met == {"."}:
        return "."
    return told.pop() if len(told) == 1 else None


def to_number(cell: Cell, decimal: str | None) -> float | None:
    """Return a cell's number; blank is None.

    Parameters
    ----------
    cell : str, float, date or None
        The cell.
    decimal : str or None
        The file's decimal mark; None when nothing told it.

    Raises
    ------
    TableError
        No number, or one that could be read in two ways.

    Examples
    --------
    >>> to_number("1,25", ",")
    1.25
    """
    if cell is None or isinstance(cell, float):
        return cell
    text = str(cell).strip()
    found = _NUMBER.fullmatch(text)
    if not found:
        msg = "is not a number"
        raise TableError(msg)
    mark = found[1][0] if found[1] else None
    if mark is not None and mark != decimal:
        if decimal is None and not _MAYBE_THOUSANDS.fullmatch(text):
            msg = "has another decimal mark than other numbers: say which mark is used"
            raise TableError(msg)
        whole = re.sub("[.,]", "", text)
        part = text.replace(mark, decimal or mark)
        msg = f"could be {whole} or {part}: write it without doubt"
        raise TableError(msg)
    return float(text.replace(",", "."))


def to_day(cell: Cell, order: str | None) -> date | None:
    """Return a cell's day; blank is None.

    Parameters
    ----------
    cell : str, float, date or None
        The cell. Year-month-day with dashes needs no order; a time behind it is
        passed over.
    order : str or None
        One of `DATE_ORDERS`; None when nobody has said.

    Raises
    ------
    TableError
        No date in that order, or no order.
    YearError
        The year is of another century.

    Examples
    --------
    >>> to_day("01.02.2026", "dmy")
    datetime.date(2026, 2, 1)
    """
    if cell is None:
        return None
    day = cell if isinstance(cell, date) else _day_of(str(cell).strip(), order)
    if not FIRST_DAY <= day <= LAST_DAY:
        raise YearError(_OTHER_CENTURY)
    return day


def _day_of(text: str, order: str | None) -> date:
    iso = _ISO.fullmatch(text)
    if iso:
        year, month, day = (int(part) for part in iso.groups()[:3])
    else:
        parts = _DATE.fullmatch(text)
        if not parts:
            msg = "is not a date"
            raise TableError(msg)
        if order is None:
            msg = "could be two dates: say whether the day or the month comes first"
            raise TableError(msg)
        by = dict(zip(order, parts.groups(), strict=True))
        year, month, day = int(by["y"]), int(by["m"]), int(by["d"])
        if len(by["y"]) <= 2:  # noqa: PLR2004 - a year without its century
            year += 2000
    try:
        return date(year, month, day)
    except ValueError:
        msg = "is not a date in that order"
        raise TableError(msg) from None


def to_text(cell: Cell) -> str | None:
    """Return a cell's text: 'None' and 'NA' are words, 7 is '7', '007' stays.

    Raises
    ------
    TableError
        A spreadsheet has turned the text into something else, or it holds a control
        character.

    Examples
    --------
    >>> to_text(7.0), to_text("007"), to_text("NA")
    ('7', '007', 'NA')
    """
    if cell is None:
        return None
    if cell == FORMULA:
        msg = "is a formula: paste its value"
        raise TableError(msg)
    if isinstance(cell, date):
        msg = "was turned into a date by a spreadsheet: type it as text"
        raise TableError(msg)
    if isinstance(cell, float):
        return f"{cell:.15g}"
    odd = odd_sign(cell)
    if odd:
        msg = f"holds {odd}, which no name or note has: type it anew"
        raise TableError(msg)
    if "E+" in cell and _SPOILT_ID.fullmatch(cell.strip()):
        msg = "looks like a name a spreadsheet turned into a number: type it as text"
        raise TableError(msg)
    return composed(cell)
