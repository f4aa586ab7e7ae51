"""A file, or rows of the log -> a table of pieces that can be trusted."""

from __future__ import annotations

import unicodedata
from datetime import date
from types import NoneType
from typing import TYPE_CHECKING, cast

import numpy as np

from analysis.errors import TableError
from analysis.fields import FIELDS
from analysis.model.comparison import PieceTable
from analysis.model.field_words import words_beside
from analysis.model.method import newest_name
from analysis.model.word_columns import Levels, WordColumns
from analysis.pieces.cells import YearError, decimal_mark, to_day, to_number, to_text
from analysis.pieces.columns import Column, alike, coded
from analysis.pieces.grid import read_grid
from analysis.pieces.sealing import JOINTS_SEALED, joints_sealed_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from numpy.typing import NDArray

    from analysis.fields import Field
    from analysis.pieces.grid import Cell, Grid

NEEDED = ("piece", "pour")
NUMBER_COLUMNS: Mapping[str, Field] = {
    one.column: one for one in FIELDS if one.column and one.is_number
}
_CAST_ON = f"cast_on{words_beside('cast_on')}"
_OPEN_ENDED = 1e9  # upper bounds from here on are no news to anyone


def read_table(content: str | bytes) -> PieceTable:
    r"""Read a table of pieces, CSV or xlsx.

    Commas, semicolons or tabs part the cells; with the latter two a comma may be
    the decimal mark. Blank is unknown; ``none`` is a level like any other. Columns
    not in the list of known ones are further factors.

    Parameters
    ----------
    content : str or bytes
        The whole file.

    Returns
    -------
    PieceTable
        With the derived column ``joints_sealed`` where there is a joint_sealing.

    Raises
    ------
    TableError
        Not a table, a needed column missing, or a cell that cannot be, or could be
        two things; the line is named.

    Examples
    --------
    >>> table = read_table("piece,pour,void_area_percent\n1,A,0.31\n2,A,\n")
    >>> len(table), table.number["void_area_percent"].tolist()
    (2, [0.31, nan])
    """
    given = content.encode() if isinstance(content, str) else content
    grid = read_grid(given)
    heading = [unicodedata.normalize("NFC", name) for name in grid.header]
    _heading_checked(heading)
    if not grid.rows:
        msg = "The table has a heading but no row: add one row per piece."
        raise TableError(msg)
    lines = np.array(grid.lines, dtype=np.int64)
    columns = dict(zip(heading, _columns(grid, len(heading)), strict=True))
    mark = decimal_mark(
        (cell for name in NUMBER_COLUMNS for cell in columns.get(name, ())),
        separator=grid.separator,
    )
    if mark is None:
        further = [columns[name] for name in heading if _is_further(name)]
        mark = decimal_mark(
            (cell for column in further for cell in column), separator=grid.separator
        )
    if not grid.separator:  # a spreadsheet's own numbers need no mark
        mark = mark or "."
        columns = {name: _with_mark(cells, mark) for name, cells in columns.items()}
    return _table({name: coded(cells) for name, cells in columns.items()}, lines, mark)


def piece_table(rows: Iterable[Mapping[str, object]]) -> PieceTable:
    """Make a table from rows of the log; None is unknown.

    Raises
    ------
    TableError
        As `read_table`; the row's number stands for the line.

    Examples
    --------
    >>> table = piece_table([{"piece": 1, "pour": "A", "void_area_percent": 0.5}])
    >>> table.text["piece"].tolist()
    ['1']
    """
    given = list(rows)
    met: dict[str, None] = {}
    for row in given:
        if row.keys() != met.keys():  # mostly all rows have the same
            met |= dict.fromkeys(row)
    return table_of_columns(
        {name: coded([_as_text(row.get(name)) for row in given]) for name in met},
        len(given),
    )


def table_of_columns(columns: Mapping[str, Column], count: int) -> PieceTable:
    """Make a table from columns of the log; None is unknown.

    Parameters
    ----------
    columns : mapping of str to Column
        Each of `count` rows.
    count : int
        Rows.

    Raises
    ------
    TableError
        As `read_table`; the row's number stands for the line.

    Examples
    --------
    >>> columns = {"piece": coded(["1", "2"]), "mix": coded(["C25", None])}
    >>> table_of_columns(columns, 2).text["mix"].tolist()
    ['C25', '']
    """
    words = {
        name: Column(values=_as_texts(column.values), code=column.code)
        for name, column in columns.items()
        if name != JOINTS_SEALED
    }
    blank = alike("", count)
    words |= {name: blank for name in NEEDED if name not in words}
    return _table(words, np.arange(1, count + 1, dtype=np.int64), ".")


def _as_texts(cells: Sequence[object]) -> tuple[str, ...]:
    """Return all cells as text, at once where all of them are text."""
    if set(map(type, cells)) == {str}:
        return tuple(map(str.strip, cast("Sequence[str]", cells)))
    return tuple(map(_as_text, cells))


def _as_text(cell: object) -> str:
    return "" if cell is None else str(cell).strip()


def _with_mark(cells: Sequence[Cell], mark: str) -> tuple[Cell, ...]:
    """Write numbers as the text cells beside them are written."""
    return tuple(
        f"{cell:.15g}".replace(".", mark) if isinstance(cell, float) else cell
        for cell in cells
    )


def _is_further(name: str) -> bool:
    """Tell whether a column may hold numbers without being known to."""
    return name not in {*NEEDED, "cast_on"} and name not in NUMBER_COLUMNS


def _heading_checked(heading: Sequence[str]) -> None:
    for name in heading:
        if not name:
            msg = "The heading has a column without a name: name it or delete it."
            raise TableError(msg)
        if heading.count(name) > 1:
            msg = (
                f"The column {name!r}{words_beside(name)} stands twice in the heading: "
                f"keep one."
            )
            raise TableError(msg)
    for name in NEEDED:
        if name not in heading:
            msg = (
                f"The table has no column {name!r}{words_beside(name)}: "
                f"add it to the heading."
            )
            raise TableError(msg)
    if JOINTS_SEALED in heading:
        msg = (
            f"The column {JOINTS_SEALED!r} is derived from 'joint_sealing': "
            f"give the kind of sealing instead."
        )
        raise TableError(msg)


def _columns(grid: Grid, width: int) -> list[tuple[Cell, ...]]:
    """Return the cells column by column; a spreadsheet leaves blanks out at the end."""
    rows: list[tuple[Cell, ...]] = []
    for line, cells in zip(grid.lines, grid.rows, strict=True):
        if len(cells) == width:
            rows.append(cells)
            continue
        short = len(cells) < width and bool(grid.separator)
        if short or any(cell is not None for cell in cells[width:]):
            msg = (
                f"Line {line} has {len(cells)} cells where the heading has {width}: "
                f"put text that holds {grid.separator or ','!r} in quotes."
            )
            raise TableError(msg)
        rows.append((*cells, *(None,) * (width - len(cells)))[:width])
    return list(zip(*rows, strict=True))


def _table(
    columns: Mapping[str, Column],
    lines: NDArray[np.int64],
    mark: str | None,
) -> PieceTable:
    """Make the table; each value of a column is looked at once, where first met."""
    text: dict[str, Levels] = {}
    number: dict[str, NDArray[np.float64]] = {}
    derived: dict[str, Levels] = {}
    for name, column in columns.items():
        cells, first, code = column.as_met()
        words = _texts(name, cells, lines[first])
        array = np.array(words, dtype=np.str_)
        if name in NUMBER_COLUMNS:
            number[name] = _numbers(name, words, lines[first], mark)[code]
        elif _is_further(name):
            found = _quick(words, mark) if any(words) else None
            if found is not None:
                number[name] = found[code]
            array = _one_spelling(array)
        if name == "method_version":
            newest = [newest_name(word) for word in array.tolist()]
            array = np.array(newest, dtype=np.str_)
        if name == "joint_sealing":
            derived[JOINTS_SEALED] = Levels(joints_sealed_of(array), code)
        text[name] = Levels(array, code)
    return PieceTable(text=WordColumns(text | derived), number=number, line=lines)


def _texts(name: str, cells: Sequence[Cell], lines: NDArray[np.int64]) -> list[str]:
    """Return a column's cells as text, composed alike (Unicode NFC)."""
    if name == "cast_on":
        return _days(cells, lines)
    kinds = set(map(type, cells))
    if kinds == {str}:
        words = list(map(str.strip, cast("Sequence[str]", cells)))
    else:
        words = [cell.strip() if isinstance(cell, str) else "" for cell in cells]
    # All cells in one text: a few looks through it spare one at each cell.
    whole = "".join(words)
    plain = kinds <= {str, NoneType}
    if not plain or "E+" in whole or not whole.isprintable():  # cell by cell then
        words = [_text(name, *found) for found in zip(cells, lines, strict=True)]
    if whole.isascii():
        return words
    return [unicodedata.normalize("NFC", word) for word in words]


def _text(name: str, cell: Cell, line: int) -> str:
    try:
        return (to_text(cell) or "").strip()
    except TableError as error:
        msg = f"Line {line}: {name} {error}."
        raise TableError(msg) from None


def _days(cells: Sequence[Cell], lines: NDArray[np.int64]) -> list[str]:
    """Return days as they were written, once each of them is sure to be one."""
    known: dict[Cell, str] = {None: "", "": ""}
    for place, cell in enumerate(cells):
        if cell in known:
            continue
        try:
            day = to_day(cell, None)
        except YearError as error:
            msg = f"Line {lines[place]}: {_CAST_ON} {str(cell)!r} {error}."
            raise TableError(msg) from None
        except TableError:
            msg = (
                f"Line {lines[place]}: {_CAST_ON} must be a date like 2026-02-13, "
                f"{cell!r} was given."
            )
            raise TableError(msg) from None
        known[cell] = f"{day}" if isinstance(cell, date) else str(cell).strip()
    return [known[cell] for cell in cells]


def _quick(words: Sequence[str], mark: str | None) -> NDArray[np.float64] | None:
    """Return all cells as numbers at once, None where one needs a closer look."""
    whole = "".join(words)
    # NumPy reads 1_000 as a number, which no table means by it; and the other mark
    # may part thousands. Both go cell by cell.
    other = {",", "."} - {mark}
    if any(sign in whole for sign in other) or "_" in whole:
        return None
    given = [word.replace(",", ".") for word in words] if mark == "," else words
    try:
        values = np.array([word or "nan" for word in given], dtype=np.float64)
    except ValueError:
        return None
    blank = sum(not word for word in words)
    return values if int(np.isfinite(values).sum()) == len(words) - blank else None


def _numbers(
    name: str, words: Sequence[str], lines: NDArray[np.int64], mark: str | None
) -> NDArray[np.float64]:
    values = _quick(words, mark)
    if values is None:
        values = np.array(
            [
                _number(name, word, line, mark)
                for word, line in zip(words, lines, strict=True)
            ]
        )
    field = NUMBER_COLUMNS[name]
    low, high, above = _bounds(field)
    outside = (values < low) | (values > high)
    if above:
        outside |= values <= low
    if field.kind == "whole":
        outside |= values != np.floor(values)
    outside &= ~np.isnan(values)
    if outside.any():
        place = int(np.argmax(outside))
        kind = "a whole number" if field.kind == "whole" else "a number"
        least = f"more than {low:g}" if above else f"{low:g}"
        reach = f"between {least} and {high:g}"
        if high >= _OPEN_ENDED:
            reach = least if above else f"{least} or more"
        msg = (
            f"Line {lines[place]}: {name}{words_beside(name)} must be {kind}, {reach}; "
            f"{values[place]:g} was given."
        )
        raise TableError(msg)
    return values


def _bounds(field: Field) -> tuple[float, float, bool]:
    """Return the bounds in the table's unit, and whether the lower is left out."""
    scale = 100.0 if field.name.endswith("_share") else 1.0
    return scale * field.low, scale * field.high, field.above_low


def _number(name: str, word: str, line: int, mark: str | None) -> float:
    """Return the number in a cell, NaN for blank."""
    try:
        value = to_number(word or None, mark)
    except TableError as error:
        why, name = str(error), f"{name}{words_beside(name)}"
        if why == "is not a number":
            msg = (
                f"Line {line}: {name} must be a number, {word!r} was given: "
                f"leave it blank where it is not known."
            )
        else:
            msg = f"Line {line}: {name} {word!r} {why}."
        raise TableError(msg) from None
    return np.nan if value is None else value


def _one_spelling(cells: NDArray[np.str_]) -> NDArray[np.str_]:
    """Give levels that differ only in capitals or spaces their first spelling."""
    first: dict[str, str] = {}
    keys = [" ".join(cell.casefold().split()) for cell in cells.tolist()]
    for key, cell in zip(keys, cells.tolist(), strict=True):
        first.setdefault(key, cell)
    return np.array([first[key] for key in keys], dtype=np.str_)
