"""CSV text -> a table of pieces that can be trusted."""

from __future__ import annotations

import csv
import io
import math
import unicodedata
from datetime import date, datetime
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from analysis.errors import TableError
from analysis.model.comparison import PieceTable
from analysis.model.vocabulary import NOT_APPLICABLE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from numpy.typing import NDArray


class Bounds(NamedTuple):
    """What a number column may hold."""

    low: float
    high: float = math.inf
    whole: bool = False
    above: bool = False


NEEDED = ("piece", "pour")
NUMBER_COLUMNS = {
    "form_use": Bounds(0, whole=True),
    "vibration_s": Bounds(0),
    "void_area_percent": Bounds(0, 100),
    "face_area_mm2": Bounds(0, above=True),
    "void_count": Bounds(0, whole=True),
    "smallest_counted_mm": Bounds(0, above=True),
    "largest_void_mm": Bounds(0),
    "joint_band_percent": Bounds(0, 100),
    "open_face_percent": Bounds(0, 100),
    "honeycomb_percent": Bounds(0, 100),
    "repair_minutes": Bounds(0),
}
NOT_SEALED = ("none", "open", "no", "unsealed")
JOINTS_SEALED = "joints_sealed"

_DAY = len("2026-02-13")
_COMPUTED = frozenset("=+-@\t\r'")


def _decoded(content: bytes) -> str:
    for start, encoding in ((b"\xff\xfe", "utf-16"), (b"\xfe\xff", "utf-16")):
        if content.startswith(start):
            return content.decode(encoding, errors="replace")
    try:
        return content.decode("utf-8-sig")
    except UnicodeDecodeError:
        return content.decode("cp1252", errors="replace")


def _lines(text: str) -> tuple[list[str], list[list[str]], list[int], bool]:
    """Return heading, rows, their lines, and whether commas are decimal."""
    clean = unicodedata.normalize("NFC", text.lstrip("\ufeff"))
    first, _, rest = clean.partition("\n")
    before = 0
    if first.lower().startswith("sep="):  # spreadsheets say the separator so
        mark, clean, before = first.strip()[4:5] or ",", rest, 1
    else:
        mark = max(",;\t", key=first.count)
    reader = csv.reader(io.StringIO(clean, newline=""), delimiter=mark, strict=True)
    bare = not any(space in clean for space in " \t\xa0")
    rows: list[list[str]] = []
    lines: list[int] = []
    heading: list[str] = []
    try:
        for row in reader:
            cells = row if bare else [cell.strip() for cell in row]
            cells = [cell[1:] if _is_guarded(cell) else cell for cell in cells]
            if not any(cells):
                continue
            if not heading:
                heading = cells
                continue
            if len(cells) != len(heading):
                msg = (
                    f"Line {reader.line_num + before} has {len(cells)} cells where the "
                    f"heading has {len(heading)}: put text that holds {mark!r} in "
                    "quotes."
                )
                raise TableError(msg)
            rows.append(cells)
            lines.append(reader.line_num + before)
    except csv.Error as broken:
        line = reader.line_num + before
        msg = f"Line {line} cannot be read ({broken}): save it as CSV again."
        raise TableError(msg) from broken
    return heading, rows, lines, mark != ","


def _is_guarded(cell: str) -> bool:
    """Tell whether an apostrophe keeps a spreadsheet from computing the cell."""
    return cell[:1] == "'" and cell[1:2] in _COMPUTED


def _heading_checked(heading: list[str]) -> None:
    if not heading:
        msg = "The table is empty: it needs a heading line and one row per piece."
        raise TableError(msg)
    for name in heading:
        if not name:
            msg = "The heading has a column without a name: name it or delete it."
            raise TableError(msg)
        if heading.count(name) > 1:
            msg = f"The column {name!r} stands twice in the heading: keep one."
            raise TableError(msg)
    for name in NEEDED:
        if name not in heading:
            msg = f"The table has no column {name!r}: add it to the heading."
            raise TableError(msg)
    if JOINTS_SEALED in heading:
        msg = (
            f"The column {JOINTS_SEALED!r} is derived from 'joint_sealing': "
            f"give the kind of sealing instead."
        )
        raise TableError(msg)


def _float(cell: str, *, comma: bool) -> float:
    """Return the number in a cell, NaN for blank; NaN and infinity are no numbers."""
    if not cell:
        return math.nan
    value = float(cell.replace(",", ".") if comma else cell)
    if not math.isfinite(value) or "_" in cell:
        raise ValueError(cell)
    return value


def _quick(cells: list[str], *, comma: bool) -> NDArray[np.float64] | None:
    """Return all cells as numbers at once, None where one needs a closer look."""
    given = [cell.replace(",", ".") for cell in cells] if comma else cells
    try:
        values = np.array([cell or "nan" for cell in given], dtype=np.float64)
    except ValueError:
        return None
    blank = sum(not cell for cell in cells)
    whole = int(np.isfinite(values).sum()) == len(cells) - blank
    return values if whole and not any("_" in cell for cell in cells) else None


def _one_by_one(
    name: str, cells: list[str], lines: NDArray[np.int64], *, comma: bool
) -> NDArray[np.float64]:
    values = np.empty(len(lines))
    for place, cell in enumerate(cells):
        try:
            values[place] = _float(cell, comma=comma)
        except ValueError:
            msg = (
                f"Line {lines[place]}: {name} must be a number, {cell!r} was given: "
                f"leave it blank where it is not known."
            )
            raise TableError(msg) from None
    return values


def _numbers(
    name: str,
    cells: list[str],
    lines: NDArray[np.int64],
    bounds: Bounds,
    *,
    comma: bool,
) -> NDArray[np.float64]:
    values = _quick(cells, comma=comma)
    if values is None:
        values = _one_by_one(name, cells, lines, comma=comma)
    outside = (values < bounds.low) | (values > bounds.high)
    if bounds.above:
        outside |= values <= bounds.low
    if bounds.whole:
        outside |= values != np.floor(values)
    outside &= ~np.isnan(values)
    if outside.any():
        place = int(np.argmax(outside))
        kind = "a whole number" if bounds.whole else "a number"
        least = f"more than {bounds.low:g}" if bounds.above else f"{bounds.low:g}"
        reach = f"between {least} and {bounds.high:g}"
        if not math.isfinite(bounds.high):
            reach = least if bounds.above else f"{least} or more"
        msg = (
            f"Line {lines[place]}: {name} must be {kind}, {reach}; "
            f"{values[place]:g} was given."
        )
        raise TableError(msg)
    return values


def _further(cells: list[str], *, comma: bool) -> NDArray[np.float64] | None:
    """Return a further factor column as numbers, None if it holds words."""
    if not any(cells):
        return None
    return _quick(cells, comma=comma)


def _dates_checked(cells: Iterable[str], lines: NDArray[np.int64]) -> None:
    seen: set[str] = set()
    for place, cell in enumerate(cells):
        if not cell or cell in seen:
            continue
        try:
            if len(cell) > _DAY:
                datetime.fromisoformat(cell)
            date.fromisoformat(cell[:_DAY])
        except ValueError:
            msg = (
                f"Line {lines[place]}: cast_on must be a date like 2026-02-13, "
                f"{cell!r} was given."
            )
            raise TableError(msg) from None
        seen.add(cell)


def _one_spelling(cells: NDArray[np.str_]) -> NDArray[np.str_]:
    """Give levels that differ only in capitals or spaces their first spelling."""
    first: dict[str, str] = {}
    for cell in dict.fromkeys(cells.tolist()):
        first.setdefault(" ".join(cell.casefold().split()), cell)
    values, inverse = np.unique(cells, return_inverse=True)
    spelled = [first[" ".join(v.casefold().split())] for v in values.tolist()]
    return np.array(spelled)[inverse] if len(values) else cells


def joints_sealed(kind: str) -> str:
    """Tell from the kind of sealing whether the joints were sealed.

    Returns
    -------
    str
        ``yes``, ``no``, ``mixed``, or ``""`` where the kind is not known or the form
        has no joints.

    Examples
    --------
    >>> [joints_sealed(kind) for kind in ("tape", "none", "mixed", "")]
    ['yes', 'no', 'mixed', '']
    """
    word = " ".join(kind.casefold().split())
    if not word or word == NOT_APPLICABLE:
        return ""
    if word in NOT_SEALED:
        return "no"
    return "mixed" if word == "mixed" else "yes"


def _table(
    columns: Mapping[str, list[str]], lines: NDArray[np.int64], *, comma: bool
) -> PieceTable:
    text: dict[str, NDArray[np.str_]] = {}
    number: dict[str, NDArray[np.float64]] = {}
    for name, cells in columns.items():
        array = np.array(cells, dtype=np.str_)
        if name == "cast_on":
            _dates_checked(cells, lines)
        if name in NUMBER_COLUMNS:
            number[name] = _numbers(
                name, cells, lines, NUMBER_COLUMNS[name], comma=comma
            )
        elif name not in {*NEEDED, "cast_on"}:
            found = _further(cells, comma=comma)
            if found is not None:
                number[name] = found
            array = _one_spelling(array)
        text[name] = array
    if "joint_sealing" in text:
        kinds, inverse = np.unique(text["joint_sealing"], return_inverse=True)
        derived = np.array([joints_sealed(kind) for kind in kinds.tolist()])
        text[JOINTS_SEALED] = derived[inverse]
    return PieceTable(text=text, number=number, line=lines)


def read_table(content: str | bytes) -> PieceTable:
    r"""Read a CSV table of pieces.

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
        Not a table, a needed column missing, or a cell that cannot be; the line
        is named.

    Examples
    --------
    >>> table = read_table("piece,pour,void_area_percent\n1,A,0.31\n2,A,\n")
    >>> len(table), table.number["void_area_percent"].tolist()
    (2, [0.31, nan])
    """
    text = _decoded(content) if isinstance(content, bytes) else content
    heading, rows, line_list, comma = _lines(text)
    _heading_checked(heading)
    if not rows:
        msg = "The table has a heading but no row: add one row per piece."
        raise TableError(msg)
    columns = {
        name: list(column)
        for name, column in zip(heading, zip(*rows, strict=True), strict=True)
    }
    lines = np.array(line_list, dtype=np.int64)
    return _table(columns, lines, comma=comma)


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
    given = [dict(row) for row in rows]
    names = list(dict.fromkeys(name for row in given for name in row))
    names = [name for name in names if name != JOINTS_SEALED]
    columns: dict[str, list[str]] = {}
    for name in [*names, *(needed for needed in NEEDED if needed not in names)]:
        cells = (row.get(name) for row in given)
        columns[name] = ["" if cell is None else str(cell).strip() for cell in cells]
    return _table(columns, np.arange(1, len(given) + 1, dtype=np.int64), comma=False)
