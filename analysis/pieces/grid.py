"""Tables as people hand them over: CSV of any make, or a spreadsheet, row by row."""

from __future__ import annotations

import csv
import io
import re
import zipfile
from dataclasses import dataclass
from datetime import date, datetime, time
from typing import TYPE_CHECKING, Any

from analysis.errors import TableError
from analysis.pieces.cells import FORMULA

if TYPE_CHECKING:
    from collections.abc import Iterator

Cell = str | float | date | None
Row = tuple[int, list[Any]]
_SEPARATORS = ";,\t|"
# Signs that begin a formula in a spreadsheet (CSV injection, OWASP, from memory);
# the apostrophe too, so that `_unguarded` takes off no more than `guarded` put on.
_GUARDED = ("=", "+", "-", "@", "\t", "\r", "'")
# Bytes unpacked: a small zip can hold more than memory does.
_LARGEST_XLSX = 300_000_000
LARGEST_ROWS = 200_000
LARGEST_COLUMNS = 1_000
_UNREADABLE = "The spreadsheet cannot be read: save it again as xlsx or as CSV."


@dataclass(frozen=True, slots=True, kw_only=True)
class Grid:
    """A table's cells.

    Attributes
    ----------
    header : tuple of str
        As written, without blank ones at the end.
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
        It is neither, or empty, or too long or too wide.

    Examples
    --------
    >>> read_grid(b"piece;note\r\n007;1,5\r\n").rows
    (('007', '1,5'),)
    """
    if not data.strip():
        msg = "The table is empty: choose a CSV or xlsx file with a header line."
        raise TableError(msg)
    if data.startswith(b"PK\x03\x04"):
        return _grid(_spreadsheet_rows(data), encoding="", separator="")
    text, encoding = _decoded(data)
    first, _, rest = text.partition("\n")
    if first.strip().lower().startswith("sep="):
        separator, text, skipped = first.strip()[4:5] or ",", rest, 1
    else:
        separator, skipped = _separator(first), 0
    rows = _csv_rows(text, separator, skipped)
    return _grid(rows, encoding=encoding, separator=separator)


def _decoded(data: bytes) -> tuple[str, str]:
    """Return the text and how it was encoded."""
    tries = ["utf-8-sig", "cp1252"]
    if data[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        tries = ["utf-16"]
    # UTF-16 without a mark: a header's first sign is nearly always ASCII, whose
    # other byte is 0.
    elif data[1:2] == b"\0":
        tries = ["utf-16-le"]
    elif data[:1] == b"\0":
        tries = ["utf-16-be"]
    for encoding in tries:
        try:
            return data.decode(encoding), encoding
        except UnicodeDecodeError:
            continue
    msg = (
        "The table is not text with columns: save it as CSV (UTF-8) or xlsx and choose "
        "it again."
    )
    raise TableError(msg)


def _separator(first: str) -> str:
    """Return what parts the header's cells."""
    bare = re.sub(r'"[^"]*"', "", first)
    return (
        max(_SEPARATORS, key=bare.count) if any(map(bare.count, _SEPARATORS)) else ","
    )


def _csv_rows(text: str, separator: str, skipped: int) -> Iterator[Row]:
    """Yield the rows of a CSV text that are not blank, each with its last line."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, strict=True)
    try:
        for cells in reader:
            yield reader.line_num + skipped, [_of_csv(cell) for cell in cells]
    except csv.Error as error:
        line = reader.line_num + skipped
        msg = f"Line {line} cannot be read ({error}): mend it or save it as CSV again."
        raise TableError(msg) from None


def _of_csv(cell: str) -> str | None:
    if cell[:1] == "'":
        return _unguarded(cell)
    return None if not cell or cell.isspace() else cell


def _spreadsheet_rows(data: bytes) -> Iterator[Row]:
    """Yield the rows of a spreadsheet's first sheet.

    Read as a stream: a cell far out that holds a format and no value costs nothing.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as parts:
            size = sum(part.file_size for part in parts.infolist())
    except zipfile.BadZipFile as error:
        raise TableError(_UNREADABLE) from error
    if size > _LARGEST_XLSX:
        msg = f"The spreadsheet unpacks to {size / 1e6:.0f} MB: keep only the table."
        raise TableError(msg)
    # Read only where a spreadsheet is: what reads a log starts sooner without it.
    import openpyxl  # noqa: PLC0415

    try:
        book = openpyxl.load_workbook(io.BytesIO(data), read_only=True)
        sheet = book.worksheets[0]
        # What some programs write of a sheet's size is wrong, or of its formats.
        sheet.reset_dimensions()
        for line, cells in enumerate(sheet.iter_rows(), start=1):
            if cells:
                yield line, _without_end([_cell(cell) for cell in cells])
    except TableError:
        raise
    except Exception as error:  # a broken file brings up any kind
        raise TableError(_UNREADABLE) from error


def _without_end(cells: list[Cell]) -> list[Cell]:
    """Return the cells up to the last that holds something."""
    last = next((n for n in range(len(cells), 0, -1) if cells[n - 1] is not None), 0)
    return cells[:last]


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
    text = str(value)
    return None if text.isspace() or not text else text


def _grid(rows: Iterator[Row], *, encoding: str, separator: str) -> Grid:
    """Take the first row that is not blank as the header."""
    header: tuple[str, ...] | None = None
    kept: list[tuple[Cell, ...]] = []
    lines: list[int] = []
    for line, given in rows:
        if given.count(None) == len(given):
            continue
        cells = tuple(given)
        if header is None:
            header = _header(cells)
            continue
        if len(kept) == LARGEST_ROWS:
            msg = f"The table has more than {LARGEST_ROWS} lines: split it there."
            raise TableError(msg)
        kept.append(cells)
        lines.append(line)
    if header is None:
        msg = "The table has no header line: the first line must name the columns."
        raise TableError(msg)
    return Grid(
        header=header,
        rows=tuple(kept),
        lines=tuple(lines),
        encoding=encoding,
        separator=separator,
    )


def _header(cells: tuple[Cell, ...]) -> tuple[str, ...]:
    names = [str(cell or "").strip() for cell in cells]
    while names and not names[-1] and len(names) > 1:
        names.pop()
    if len(names) > LARGEST_COLUMNS:
        msg = (
            f"The table has {len(names)} columns: keep only those of the pieces, "
            f"{LARGEST_COLUMNS} at most."
        )
        raise TableError(msg)
    return tuple(names)


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
    return text[1:] if text[1:].startswith(_GUARDED) else text


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
    import openpyxl  # noqa: PLC0415 - as above

    book = openpyxl.Workbook(write_only=True)
    sheet = book.create_sheet(title)
    sheet.freeze_panes = "A2"
    remarks: list[str] = []
    lines: list[list[str | float | None]] = [list(header), *rows]
    for line, row in enumerate(lines, start=1):
        cells: list[Any] = []
        for name, given in zip(header, row, strict=True):
            cell, changed = _written(sheet, given)
            cells.append(cell)
            if changed:
                remarks.append(
                    f"Line {line}, {name}: a control character was left out."
                )
        sheet.append(cells)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue(), tuple(remarks)


def _written(sheet: Any, given: str | float | None) -> tuple[Any, bool]:  # noqa: ANN401
    """Return a cell to write, and whether its text lost something."""
    from openpyxl.cell.cell import (  # noqa: PLC0415 - as above
        ILLEGAL_CHARACTERS_RE,
        WriteOnlyCell,
    )

    if not isinstance(given, str):
        return given, False
    value = ILLEGAL_CHARACTERS_RE.sub("", given)
    cell = WriteOnlyCell(sheet, value=value)
    cell.data_type = "s"
    cell.number_format = "@"
    return cell, value != given
