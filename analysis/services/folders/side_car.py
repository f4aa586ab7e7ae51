"""The side-car of a folder: a table with a line for each photo."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.checks import composed, one_of
from analysis.errors import InputError, TableError
from analysis.model.folder import FACES, WHOLE, AskedOfPhoto
from analysis.model.log import PhotoUse
from analysis.model.photo import UPS
from analysis.pieces.cells import decimal_mark, to_number, to_text
from analysis.pieces.grid import read_grid, write_csv
from analysis.storage.exchange import COLUMNS, NEEDED

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Mapping

    from analysis.model.points import Points
    from analysis.pieces.grid import Cell

PHOTO = "photo"
_TEXTS = ("piece", "face", "form_face", "up", "set_up", "stage", "surface_state")
_NUMBERS = ("mm_per_px", "smallest_mm", "age_h")
_ALIASES = MappingProxyType({"file": PHOTO, "scale": "mm_per_px", "outline": "face"})
USUAL_FILES = ("photos.csv", "photos.xlsx")


@dataclass(frozen=True, slots=True, kw_only=True)
class SideCar:
    """What a side-car says.

    Attributes
    ----------
    lines : mapping of str to AskedOfPhoto
        By the photo's path or name as the table gives it, with ``/``.
    pieces : bytes
        The table of the pieces it tells more of, as `import` takes it; empty where
        it tells of none.
    """

    lines: Mapping[str, AskedOfPhoto]
    pieces: bytes = b""


NO_SIDE_CAR = SideCar(lines=MappingProxyType({}))


def read_side_car(data: bytes) -> SideCar:
    r"""Read a side-car.

    Parameters
    ----------
    data : bytes
        CSV or xlsx with a column `photo` (path from the folder, or name) and any of
        `piece`, `face` (``whole``, ``found`` or ``x,y x,y ...`` in px), `left_out`
        (areas parted by ``|``), `form_face`, `up`, `mm_per_px`, `smallest_mm`,
        `set_up`, `stage`, `surface_state`, `purpose`, `age_h`; and the columns that
        `import` takes, for pieces that are not in the log yet.

    Returns
    -------
    SideCar
        A line that cannot be read keeps why in `problem`.

    Raises
    ------
    TableError
        It is no table, has no column of photos, or tells two things of one piece.

    Examples
    --------
    >>> read_side_car(b"photo,piece,mm_per_px\na.jpg,007,0.2\n").lines["a.jpg"].piece
    '007'
    """
    grid = read_grid(data)
    header = [_plain(name) for name in grid.header]
    if PHOTO not in header:
        msg = (
            f"The side-car has no column '{PHOTO}': name one so, with the path or the "
            "name of each photo."
        )
        raise TableError(msg)
    twice = [name for name, count in Counter(header).items() if name and count > 1]
    if twice:
        msg = f"The side-car has the column '{twice[0]}' twice: leave one out."
        raise TableError(msg)
    rows = [dict(zip(header, row, strict=False)) for row in grid.rows]
    mark = decimal_mark(
        (row.get(name) for row in rows for name in _NUMBERS), separator=grid.separator
    )
    lines: dict[str, AskedOfPhoto] = {}
    for at, row in zip(grid.lines, rows, strict=True):
        name = _name(row.get(PHOTO))
        if not name:
            continue
        asked = _asked(row, at, mark)
        if name in lines and lines[name] != asked:
            problem = f"Line {at} of the side-car gives {name} again: leave one out."
            asked = AskedOfPhoto(problem=problem)
        lines[name] = asked
    pieces = _pieces(header, rows, grid.lines)
    return SideCar(lines=MappingProxyType(lines), pieces=pieces)


def _plain(name: str) -> str:
    plain = "_".join(name.strip().lower().split())
    return _ALIASES.get(plain, plain)


def _name(cell: Cell) -> str:
    try:
        text = (to_text(cell) or "").strip().replace("\\", "/")
    except TableError:
        return ""
    return composed(text.removeprefix("./"))


def _asked(row: Mapping[str, Cell], line: int, mark: str | None) -> AskedOfPhoto:
    """Return what a line asks; what cannot be read is its problem."""
    name = PHOTO
    try:
        texts = {}
        for name in (*_TEXTS, "purpose", "left_out"):
            texts[name] = (to_text(row.get(name)) or "").strip()
        numbers = {}
        for name in _NUMBERS:
            numbers[name] = to_number(row.get(name), mark)
    except TableError as error:
        return AskedOfPhoto(
            problem=f"Line {line} of the side-car, {name}: {row.get(name)!r} {error}."
        )
    try:
        return _checked(texts, numbers)
    except InputError as error:
        return AskedOfPhoto(problem=f"Line {line} of the side-car: {error}")


def _checked(
    texts: Mapping[str, str], numbers: Mapping[str, float | None]
) -> AskedOfPhoto:
    face, outline = _face(texts["face"])
    return AskedOfPhoto(
        piece=texts["piece"],
        mm_per_px=numbers["mm_per_px"],
        face=face,
        outline=outline,
        left_out=tuple(
            points_typed(area, "Left-out area")
            for area in texts["left_out"].split("|")
            if area.strip()
        ),
        form_face=texts["form_face"],
        up=one_of(texts["up"], "The side that was up", UPS),
        smallest_mm=numbers["smallest_mm"],
        use=PhotoUse(
            purpose=texts["purpose"] or "representative",
            stage=texts["stage"] or "as_struck",
            surface_state=texts["surface_state"] or None,
            set_up=texts["set_up"] or None,
            age_h=numbers["age_h"],
        ),
    )


def _face(text: str) -> tuple[str, Points | None]:
    if not text or text in FACES:
        return text or WHOLE, None
    return WHOLE, points_typed(text, "Face")


def points_typed(text: str, name: str) -> Points:
    """Read ``x,y x,y ...``.

    Raises
    ------
    InputError
        It is something else, or fewer than three points.

    Examples
    --------
    >>> points_typed("0,0 9,0 9,9", "Face")
    ((0.0, 0.0), (9.0, 0.0), (9.0, 9.0))
    """
    try:
        pairs = [[float(part) for part in pair.split(",")] for pair in text.split()]
    except ValueError:
        pairs = []
    if len(pairs) < 3 or any(len(pair) != 2 for pair in pairs):  # noqa: PLR2004  x, y
        msg = (
            f"{name} must be {', '.join(FACES)} or at least three x,y pairs parted by "
            f"spaces, {text!r} was given."
        )
        raise InputError(msg)
    return tuple((x, y) for x, y in pairs)


def _pieces(
    header: Collection[str], rows: Iterable[Mapping[str, Cell]], lines: Iterable[int]
) -> bytes:
    """Return the table of pieces that the lines tell of: each piece once.

    Lines of one piece add to one another; each may have its note.
    """
    if not set(NEEDED) <= set(header):
        return b""
    names = tuple(one for one in COLUMNS if one in header and one not in _SHARED)
    found: defaultdict[str, dict[str, str | float]] = defaultdict(dict)
    for row, line in zip(rows, lines, strict=True):
        if row.get("piece") is None:
            continue
        told = found[str(row["piece"])]
        for name in names:
            cell = _cell(row.get(name))
            if cell is None:
                continue
            if told.setdefault(name, cell) == cell:
                continue
            if name == _NOTE:
                told[name] = f"{told[name]}; {cell}"
            else:
                msg = (
                    f"Line {line} of the side-car gives piece {row['piece']} the "
                    f"{name} {cell}, a line before {told[name]}: correct one of them."
                )
                raise TableError(msg)
    whole = [one for one in found.values() if all(name in one for name in NEEDED)]
    if not whole:
        return b""
    return write_csv(
        names,
        [[one.get(name) for name in names] for one in whole],
        separator=",",
        decimal=".",
        encoding="utf-8",
    )


_NOTE = "note"
# Columns of a photo that a table of pieces has too: they are told of the photo.
_SHARED = frozenset({"set_up", "stage", "smallest_counted_mm"})


def _cell(cell: Cell) -> str | float | None:
    if cell is None or isinstance(cell, (str, float)):
        return cell
    return cell.isoformat()


def line_for(
    path: str, lines: Mapping[str, AskedOfPhoto], names: Mapping[str, int]
) -> AskedOfPhoto | None:
    """Return what a side-car says of a photo, None where it does not name it.

    Parameters
    ----------
    path : str
        From the folder.
    lines : mapping
        Of the side-car.
    names : mapping of str to int
        How many photos of the folder bear each name.

    Examples
    --------
    >>> asked = AskedOfPhoto(piece="007")
    >>> line_for("May/a.jpg", {"a.jpg": asked}, {"a.jpg": 1}).piece
    '007'
    >>> line_for("May/a.jpg", {"a.jpg": asked}, {"a.jpg": 2}).problem[:29]
    'The side-car names a.jpg, but'
    """
    path = composed(path)
    if path in lines:
        return lines[path]
    name = Path(path).name
    if name not in lines:
        return None
    if names.get(name, 0) > 1:
        return AskedOfPhoto(
            problem=f"The side-car names {name}, but {names[name]} photos are named "
            "so: give the path of each."
        )
    return lines[name]


def folders_named(paths: Iterable[str]) -> dict[str, int]:
    """Return how many photos bear each name.

    Examples
    --------
    >>> folders_named(["a/1.jpg", "b/1.jpg"])
    {'1.jpg': 2}
    """
    found: defaultdict[str, int] = defaultdict(int)
    for path in paths:
        found[Path(composed(path)).name] += 1
    return dict(found)


def lines_missed(paths: Iterable[str], lines: Iterable[str]) -> tuple[str, ...]:
    """Return the photos that a side-car names and the folder does not hold.

    Examples
    --------
    >>> lines_missed(["May/a.jpg"], ["a.jpg", "May/a.jpg", "May/A.jpg"])
    ('May/A.jpg',)
    """
    held = {composed(path) for path in paths}
    held |= {Path(path).name for path in held}
    return tuple(one for one in lines if one not in held)
