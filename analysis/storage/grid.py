"""Tables as people hand them over: CSV of any make, or a spreadsheet, to cells."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import Any

import openpyxl
from openpyxl.cell.cell import ILLEGAL_CHARACTERS_RE

from analysis.errors import TableError

Cell = str | float | date | None
FORMULA = "\0formula"
_SEPARATORS = ";,\t|"
_GUARDED = ("=", "+", "-", "@", "\t", "\r", "'")
_LARGEST_XLSX = 300_000_000
_LARGEST_ROWS = 200_000


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table's cells.

    Attributes
    ----------
    header : tuple of str
        As written.
    rows : tuple of tuple of Cell
        Text, numbers and dates where the file has types; None is blank.
    lines : tuple of int
        Line of each row in the file, from 1.
    encoding, separator : str
        As found; empty for a spreadsheet.
    """

    header: tuple[str, ...]
    rows: tuple[tuple[Cell, ...], ...]
    lines: tuple[int, ...]
    encoding: str
    separator: str


def read_grid(data: bytes) -> Grid:
    r"""Return the cells of a CSV or xlsx file.

    Parameters
    ----------
    data : bytes
        The file. UTF-8 or UTF-16 with or without a byte order mark, else cp1252.

    Returns
    -------
    Grid
        The cells.

    Raises
    ------
    TableError
        It is neither, or empty.

    Examples
    --------
    >>> read_grid(b"piece;note\r\n007;1,5\r\n").rows
    (('007', '1,5'),)
    """
    if not data.strip():
        msg = "The table is empty: choose a CSV or xlsx file with a header line."
        raise TableError(msg)
    if data.startswith(b"PK\x03\x04"):
        return _xlsx(data)
    text, encoding = _decoded(data)
    first, _, rest = text.partition("\n")
    if first.strip().lower().startswith("sep="):
        separator, text, skipped = first.strip()[4:5] or ",", rest, 1
    else:
        separator, skipped = _separator(first), 0
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        found = [
            (reader.line_num + skipped, cells)
            for cells in reader
            if any(cell.strip() for cell in cells)
        ]
    except csv.Error as error:
        msg = f"Line {reader.line_num} of the table cannot be read ({error}): mend it."
        raise TableError(msg) from None
    return _grid(
        [(line, [_unguarded(cell) for cell in cells]) for line, cells in found],
        encoding=encoding,
        separator=separator,
    )


def _decoded(data: bytes) -> tuple[str, str]:
    """Return the text and how it was encoded."""
    tries = ["utf-8-sig", "cp1252"]
    if data[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        tries = ["utf-16"]
    elif data[1:2] == b"\0":
        tries = ["utf-16-le"]
    elif data[:1] == b"\0":
        tries = ["utf-16-be"]
    for encoding in tries:
        try:
            return data.decode(encoding), encoding
        except UnicodeDecodeError:
            continue
    msg = "The table is not text: save it as CSV (UTF-8) or xlsx and choose it again."
    raise TableError(msg)


def _separator(first: str) -> str:
    """Return what parts the header's cells."""
    bare = re.sub(r'"[^"]*"', "", first)
    return max(_SEPARATORS, key=bare.count) if bare else ","


def _grid(rows: list[tuple[int, list[Any]]], *, encoding: str, separator: str) -> Grid:
    """Take the first row as the header."""
    if not rows:
        msg = "The table has no header line: the first line must name the columns."
        raise TableError(msg)
    if len(rows) > _LARGEST_ROWS:
        msg = f"The table has {len(rows)} lines: split it at {_LARGEST_ROWS}."
        raise TableError(msg)
    header = tuple(str(cell or "").strip() for cell in rows[0][1])
    return Grid(
        header=header,
        rows=tuple(
            tuple(
                None if isinstance(cell, str) and not cell.strip() else cell
                for cell in cells
            )
            for _, cells in rows[1:]
        ),
        lines=tuple(line for line, _ in rows[1:]),
        encoding=encoding,
        separator=separator,
    )


def _xlsx(data: bytes) -> Grid:
    """Return the cells of a spreadsheet's first sheet."""
    unreadable = "The spreadsheet cannot be read: save it again as xlsx or as CSV."
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as parts:
            size = sum(part.file_size for part in parts.infolist())
    except zipfile.BadZipFile as error:
        raise TableError(unreadable) from error
    if size > _LARGEST_XLSX:
        msg = f"The spreadsheet unpacks to {size / 1e6:.0f} MB: keep only the table."
        raise TableError(msg)
    try:
        book = openpyxl.load_workbook(io.BytesIO(data))
        sheet = book.worksheets[0]
    except Exception as error:  # a broken file brings up any kind
        raise TableError(unreadable) from error
    rows = [
        (line, [_cell(cell) for cell in cells])
        for line, cells in enumerate(sheet.iter_rows(), start=1)
    ]
    filled = [row for row in rows if any(cell is not None for cell in row[1])]
    return _grid(filled, encoding="", separator="")


def _cell(cell: Any) -> Cell:  # noqa: ANN401 - openpyxl has no types
    """Return one spreadsheet cell."""
    value = cell.value
    if cell.data_type == "f":
        return FORMULA
    if isinstance(value, bool):
        return str(value)
    if isinstance(value, datetime):
        return value.date() if value.time() == time(0) else value.isoformat(" ")
    if isinstance(value, (int, float)):
        return float(value)
    if value is None or isinstance(value, date):
        return value
    return str(value)


def guarded(text: str) -> str:
    """Return text that no spreadsheet takes for a formula; `read_grid` undoes it.

    Examples
    --------
    >>> guarded("=1+1"), guarded("oil")
    ("'=1+1", 'oil')
    """
    return f"'{text}" if text.startswith(_GUARDED) else text


def _unguarded(text: str) -> str:
    """Undo `guarded`."""
    if text[:1] == "'" and text[1:].startswith(_GUARDED):
        return text[1:]
    return text


def write_csv(
    header: tuple[str, ...],
    rows: list[list[str | float | None]],
    *,
    separator: str,
    decimal: str,
    encoding: str,
) -> bytes:
    """Return a CSV file; numbers with 12 digits, text guarded."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=separator, lineterminator="\r\n")
    writer.writerow([guarded(name) for name in header])
    for row in rows:
        writer.writerow(
            [
                guarded(cell) if isinstance(cell, str) else _digits(cell, decimal)
                for cell in row
            ]
        )
    return out.getvalue().encode(encoding, "replace")


def _digits(value: float | None, decimal: str) -> str:
    """Return a number as text; never such that its mark could part thousands."""
    if value is None:
        return ""
    text = f"{value:.12g}"
    if re.fullmatch(r"-?\d{1,3}\.\d{3}", text):
        text += "0"
    return text.replace(".", decimal)


def write_xlsx(
    header: tuple[str, ...],
    rows: list[list[str | float | None]],
    *,
    title: str = "pieces",
) -> tuple[bytes, tuple[str, ...]]:
    """Return a spreadsheet with text as text, and what had to be left out of it."""
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = title
    remarks: list[str] = []
    lines: list[list[str | float | None]] = [list(header), *rows]
    for line, row in enumerate(lines, start=1):
        for column, given in enumerate(row, start=1):
            if given is None:
                continue
            value = given
            if isinstance(given, str):
                value = ILLEGAL_CHARACTERS_RE.sub("", given)
                if value != given:
                    name = header[column - 1]
                    remarks.append(
                        f"Line {line}, {name}: a control character was left out."
                    )
            cell = sheet.cell(row=line, column=column, value=value)
            if isinstance(value, str):
                cell.data_type = "s"
                cell.number_format = "@"
    sheet.freeze_panes = "A2"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue(), tuple(remarks)
