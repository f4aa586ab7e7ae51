"""The table of pieces, out to CSV or xlsx and in again.

What goes round: every column of `PieceRow`, numbers to 12 digits, text letter by letter
(control characters leave a spreadsheet). Several steps or joints of a piece go as their
total or as 'mixed'; photos, voids and history go by backup.
"""

from __future__ import annotations

import math
import unicodedata
from collections import Counter
from dataclasses import dataclass, fields
from typing import TYPE_CHECKING, Any

from analysis.checks import one_of
from analysis.errors import InputError, TableError
from analysis.fields import column_field
from analysis.model.field_words import column_words, label_of
from analysis.model.log_views import PieceRow
from analysis.pieces.cells import (
    DATE_ORDERS,
    FORMULA,
    decimal_mark,
    to_day,
    to_number,
    to_text,
)
from analysis.pieces.grid import read_grid, write_csv, write_xlsx
from analysis.storage.intake import clashes, take_in, uses_counted
from analysis.storage.piece_table import piece_table
from analysis.storage.saving import save_once
from analysis.vocabulary import STAGES, spoken

if TYPE_CHECKING:
    from collections.abc import Mapping

    import sqlalchemy as sa

    from analysis.model.log_views import Saved
    from analysis.pieces.grid import Cell, Grid
    from analysis.storage.engine import Log

_STAGES = {spoken(one): one for one in STAGES}
COLUMNS = tuple(item.name for item in fields(PieceRow))
NEEDED = ("piece", "pour", "cast_on")
WHOLES, NUMBERS = (
    frozenset(
        name
        for name in COLUMNS
        if (one := column_field(name)) is not None and one.kind in kinds
    )
    for kinds in ({"whole"}, {"whole", "number"})
)


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportProblem:
    """A cell that will not go in.

    Attributes
    ----------
    line : int
        In the file, from 1.
    column, given, why : str
        Where, what is there, and what is wrong with it.
    """

    line: int
    column: str
    given: str
    why: str

    @property
    def sentence(self) -> str:
        """Where the cell is that will not go in, and why not."""
        column = f", {column_words(self.column)}" if self.column else ""
        given = f" {self.given!r}" if self.given else ""
        return f"Line {self.line}{column}:{given} {self.why}."


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportPreview:
    """What an import would do.

    Attributes
    ----------
    encoding, separator : str
        As found; empty for a spreadsheet.
    decimal : str or None
        Decimal mark used; None when no number told it.
    date_order : str or None
        As given.
    columns_read, columns_left_out : tuple of str
        Of the file.
    rows : tuple of PieceRow
        The lines that would go in.
    lines : tuple of int
        Their lines in the file.
    problems : tuple of ImportProblem
        While there is one, nothing goes in.
    notes : tuple of str
        What goes in otherwise than it stands there.
    """

    encoding: str
    separator: str
    decimal: str | None
    date_order: str | None
    columns_read: tuple[str, ...]
    columns_left_out: tuple[str, ...]
    rows: tuple[PieceRow, ...]
    lines: tuple[int, ...]
    problems: tuple[ImportProblem, ...]
    notes: tuple[str, ...] = ()


def export_csv(log: Log, *, decimal: str = ".") -> bytes:
    """Return the table of pieces as CSV.

    Parameters
    ----------
    log : Log
        The log.
    decimal : str
        ``"."`` gives commas between cells; ``","`` semicolons and a byte order mark,
        as spreadsheets in such countries want it.

    Returns
    -------
    bytes
        UTF-8; dates year-month-day.
    """
    one_of(decimal, "Decimal mark", (".", ","))
    return write_csv(
        COLUMNS,
        _cells(log),
        separator="," if decimal == "." else ";",
        decimal=decimal,
        encoding="utf-8" if decimal == "." else "utf-8-sig",
    )


def export_xlsx(log: Log) -> tuple[bytes, tuple[str, ...]]:
    """Return the table of pieces as a spreadsheet, and what was left out of it."""
    return write_xlsx(COLUMNS, _cells(log))


def _cells(log: Log) -> list[list[str | float | None]]:
    """Return the table's cells; days as text, since no spreadsheet bends those."""
    return [
        [
            value.isoformat() if name == "cast_on" else value
            for name in COLUMNS
            for value in [getattr(row, name)]
        ]
        for row in piece_table(log)
    ]


def preview_import(
    log: Log,
    data: bytes,
    *,
    decimal: str | None = None,
    date_order: str | None = None,
    columns: Mapping[str, str] | None = None,
) -> ImportPreview:
    r"""Return what importing a table would do; nothing is written.

    Parameters
    ----------
    log : Log
        The log.
    data : bytes
        CSV or xlsx.
    decimal : str, optional
        Decimal mark; found from the numbers if not given.
    date_order : str, optional
        ``"dmy"``, ``"mdy"`` or ``"ymd"``; needed unless all dates are year-month-day
        with dashes.
    columns : mapping, optional
        The file's own column names to those of `PieceRow`.

    Returns
    -------
    ImportPreview
        With a problem for each cell that will not go in.

    Raises
    ------
    TableError
        Not a table, or a column is missing or there twice.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     table = b"piece;pour;cast_on\n007;12;31.03.2026"
    ...     preview = preview_import(open_log(folder), table)
    ...     preview.problems[0].why
    'could be two dates: say whether the day or the month comes first'
    """
    if decimal is not None:
        one_of(decimal, "Decimal mark", (".", ","))
    if date_order is not None:
        one_of(date_order, "Order of dates", DATE_ORDERS)
    grid = read_grid(data)
    named = _named(grid, columns or {})
    mark = decimal or decimal_mark(
        (
            row[at]
            for name, at in named.items()
            if name in NUMBERS
            for row in grid.rows
            if at < len(row)
        ),
        separator=grid.separator,
    )
    problems: list[ImportProblem] = []
    rows: list[PieceRow] = []
    lines: list[int] = []
    for line, cells in zip(grid.lines, grid.rows, strict=True):
        if any(cell is not None for cell in cells[len(grid.header) :]):
            extra = str(next(cell for cell in cells[len(grid.header) :] if cell))
            why = "is beyond the last column: put quotes around such text"
            problems.append(ImportProblem(line=line, column="", given=extra, why=why))
        row = _row(line, cells, named, mark, date_order, problems)
        if row is not None:
            rows.append(row)
            lines.append(line)
    problems += [
        ImportProblem(line=lines[at], column=column, given=given, why=why)
        for at, column, given, why in clashes(log, rows)
    ]
    return ImportPreview(
        encoding=grid.encoding,
        separator=grid.separator,
        decimal=mark,
        date_order=date_order,
        columns_read=tuple(grid.header[at] for at in named.values()),
        columns_left_out=tuple(
            name for at, name in enumerate(grid.header) if at not in named.values()
        ),
        rows=tuple(rows),
        lines=tuple(lines),
        problems=tuple(sorted(problems, key=lambda problem: problem.line)),
        notes=uses_counted(log, rows),
    )


def import_pieces(log: Log, preview: ImportPreview, *, save_token: str) -> Saved:
    """Take in all of a previewed table, or nothing.

    Parameters
    ----------
    log : Log
        The log.
    preview : ImportPreview
        Without problems.
    save_token : str
        Made once per import.

    Returns
    -------
    Saved
        `id` is the last piece's.

    Raises
    ------
    InputError
        There are problems, or no lines, or someone used a name meanwhile.
    """
    if preview.problems:
        first = preview.problems[0]
        msg = (
            f"Nothing was imported: {len(preview.problems)} cells cannot be read, the "
            f"first on line {first.line}, {column_words(first.column)} {first.given!r} "
            f"{first.why}: correct the table and import it again."
        )
        raise InputError(msg)
    if not preview.rows:
        msg = "Nothing was imported: the table has no line below its header."
        raise InputError(msg)

    def work(connection: sa.Connection) -> int:
        return take_in(connection, preview.rows)

    return save_once(log, save_token, "piece", work)


def _named(grid: Grid, columns: Mapping[str, str]) -> dict[str, int]:
    """Return where each known column is."""
    own = {_compared(given): name for given, name in columns.items()}
    for name in own.values():
        one_of(name, "Column", COLUMNS, error=TableError)
    names = [own.get(_compared(given)) or known_column(given) for given in grid.header]
    twice = [name for name, n in Counter(names).items() if n > 1 and name in COLUMNS]
    if twice:
        msg = f"The table has column {column_words(twice[0])!r} twice: remove one."
        raise TableError(msg)
    missing = [name for name in NEEDED if name not in names]
    if missing:
        msg = (
            f"The table has no column {', '.join(map(column_words, missing))} "
            f"(it has {', '.join(grid.header)}): rename a column or say which it is."
        )
        raise TableError(msg)
    return {name: names.index(name) for name in COLUMNS if name in names}


def known_column(header: str) -> str:
    """Return the column a header names, in the log's spelling or as it is said.

    Examples
    --------
    >>> known_column("Cast on"), known_column("casting date"), known_column("Shop")
    ('cast_on', 'cast_on', 'shop')
    """
    plain = _compared(header)
    return plain if plain in COLUMNS else _AS_SAID.get(plain, plain)


def _compared(name: str) -> str:
    """Return a column name as it is compared."""
    return unicodedata.normalize("NFC", name).strip().casefold().replace(" ", "_")


def _row(
    line: int,
    cells: tuple[Cell, ...],
    named: Mapping[str, int],
    decimal: str | None,
    date_order: str | None,
    problems: list[ImportProblem],
) -> PieceRow | None:
    """Return a line's piece; write down what is wrong with it."""
    values: dict[str, Any] = {}
    before = len(problems)
    for name, at in named.items():
        cell = cells[at] if at < len(cells) else None
        try:
            values[name] = _value(name, cell, decimal, date_order)
        except TableError as error:
            given = "formula" if cell == FORMULA else str(cell)
            problems.append(
                ImportProblem(line=line, column=name, given=given, why=str(error))
            )
    problems += [
        ImportProblem(line=line, column=name, given="", why="is blank")
        for name in NEEDED
        if values.get(name, "") is None
    ]
    return PieceRow(**values) if len(problems) == before else None


def _value(
    name: str, cell: Cell, decimal: str | None, date_order: str | None
) -> str | float | int | object:
    """Return one cell's value."""
    if name == "cast_on":
        return to_day(cell, date_order)
    if name == "stage":
        text = to_text(cell)
        return _STAGES.get(text or "", text)
    if name not in NUMBERS:
        return to_text(cell)
    number = to_number(cell, decimal)
    if number is not None and not math.isfinite(number):
        msg = "is too large a number"
        raise TableError(msg)
    if name in WHOLES and number is not None:
        if number != int(number):
            msg = "is not a whole number"
            raise TableError(msg)
        return int(number)
    return number


# Refusals name columns as they are said, so a header may too.
_AS_SAID = {
    _compared(said): name
    for name in COLUMNS
    for said in (column_words(name), label_of(name))
}
