"""From a table of pieces to the columns that are followed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import TableError
from analysis.model.comparison import OUTCOMES
from analysis.model.monitoring import PieceColumns
from analysis.monitoring.charts import track
from analysis.monitoring.pours import counted

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable
    from analysis.model.monitoring import Track, TrackOptions

TEXTS = ("form", "form_type", "product_line", "stage", "joint_sealing")
NOT_SETTINGS = {
    *OUTCOMES, *TEXTS, "piece", "pour", "cast_on", "method_version", "form_use",
    "joints_sealed", "face_area_mm2", "void_count", "smallest_counted_mm",
}  # fmt: skip
METHOD, SECONDS = "vibration_method", "vibration_s"


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Intake:
    """Pieces out of a table.

    Attributes
    ----------
    pieces : PieceColumns
        One row per measured piece.
    table_rows : ndarray of int64, (n,)
        Row of the table where each piece comes first.
    notes : tuple of str
        What was left out or pooled.
    """

    pieces: PieceColumns
    table_rows: NDArray[np.int64]
    notes: tuple[str, ...]


def follow(table: PieceTable, options: TrackOptions | None = None) -> Track:
    r"""Follow a table of pieces pour by pour.

    Parameters
    ----------
    table : PieceTable
        One row per piece, or per photo of a piece.
    options : TrackOptions, optional
        As for `analysis.monitoring.charts.track`.

    Returns
    -------
    Track
        Its `piece_rows` are rows of the table.

    Raises
    ------
    TableError
        The table has no measured piece.
    InputError
        As `analysis.monitoring.charts.track`.

    Examples
    --------
    >>> from analysis.model.comparison import PieceTable
    >>> table = PieceTable(
    ...     text={"piece": np.array(["1"]), "pour": np.array(["A"])},
    ...     number={"void_area_percent": np.array([0.4])}, line=np.array([2]))
    >>> follow(table).points.value.round(6).tolist()
    [0.004]
    """
    taken = take_in(table)
    result = track(taken.pieces, options)
    return replace(
        result,
        notes=(*taken.notes, *result.notes),
        piece_rows=taken.table_rows[result.piece_rows],
    )


def take_in(table: PieceTable) -> Intake:
    """Pool the photos of each piece by area and turn percent into shares.

    Parameters
    ----------
    table : PieceTable
        One row per piece, or per photo of a piece: rows that agree in piece, pour,
        stage and method_version.

    Returns
    -------
    Intake
        Rows without a pour or a void share are left out and counted in the notes.

    Raises
    ------
    TableError
        There is no such column, or no row is left.

    Examples
    --------
    >>> from analysis.model.comparison import PieceTable
    >>> table = PieceTable(
    ...     text={"piece": np.array(["1", "1"]), "pour": np.array(["A", "A"])},
    ...     number={"void_area_percent": np.array([0.2, 0.5]),
    ...         "face_area_mm2": np.array([1000.0, 2000.0])},
    ...     line=np.array([2, 3]))
    >>> take_in(table).pieces.void_share.round(6).tolist()
    [0.004]
    """
    if "void_area_percent" not in table.number:
        msg = "The table has no column 'void_area_percent': add it, a number per piece."
        raise TableError(msg)
    notes = []
    keep = np.ones(len(table), dtype=bool)
    for gone, words in (
        (np.isnan(table.number["void_area_percent"]), "void_area_percent not known"),
        (table.text["pour"] == "", "pour not known"),
    ):
        lost = int((gone & keep).sum())
        if lost:
            notes.append(f"Left out: {counted(lost, 'row')} with {words}.")
        keep &= ~gone
    rows = np.flatnonzero(keep)
    if len(rows) == 0:
        msg = "No row of the table has both a pour and a void share: measure a piece."
        raise TableError(msg)
    kept = table.taken(rows)
    first, of_row = _pieces_of(kept)
    if len(first) < len(kept):
        notes.append(
            f"{len(kept)} photos were pooled to {counted(len(first), 'piece')} by area."
        )
    pieces = _columns(kept, first, of_row)
    return Intake(pieces=pieces, table_rows=rows[first], notes=tuple(notes))


def _pieces_of(table: PieceTable) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """First row of each piece, in table order, and the piece of each row."""
    code = np.zeros(len(table), dtype=np.int64)
    for name in ("pour", "piece", "stage", "method_version"):
        if name in table.text:
            levels, which = np.unique(table.text[name], return_inverse=True)
            _, code = np.unique(code * len(levels) + which, return_inverse=True)
    nameless = table.text["piece"] == ""
    code[nameless] = code.max() + 1 + np.arange(int(nameless.sum()))
    _, first, of_row = np.unique(code, return_index=True, return_inverse=True)
    order = np.argsort(first)
    place = np.empty(len(first), dtype=np.intp)
    place[order] = np.arange(len(first))
    return first[order], place[of_row]


def _columns(
    table: PieceTable, first: NDArray[np.intp], of_row: NDArray[np.intp]
) -> PieceColumns:
    n = len(first)
    blank = np.full(n, "")
    unknown = np.full(len(table), np.nan)
    number = {name: table.number.get(name, unknown) for name in NOT_SETTINGS}
    area = number["face_area_mm2"]
    weight = np.where(np.isnan(area), 1.0, area)

    def text(name: str) -> NDArray[np.str_]:
        return table.text[name][first] if name in table.text else blank

    def share(name: str) -> NDArray[np.float64]:
        values = number[name]
        known = ~np.isnan(values)
        whole = np.bincount(of_row, known * weight, n)
        total = np.bincount(of_row, np.where(known, values, 0.0) * weight, n)
        with np.errstate(invalid="ignore"):
            return np.asarray(total / whole / 100.0)

    smallest = np.full(n, np.nan)
    np.fmax.at(smallest, of_row, number["smallest_counted_mm"])
    return PieceColumns(
        pour=text("pour"),
        method_version=text("method_version"),
        **{name: text(name) for name in TEXTS},
        cast_on=_days(text("cast_on")),
        form_use=number["form_use"][first],
        void_share=share("void_area_percent"),
        joint_band_share=share("joint_band_percent"),
        open_face_share=share("open_face_percent"),
        face_area_mm2=np.asarray(np.bincount(of_row, area, n), dtype=np.float64),
        void_count=np.asarray(
            np.bincount(of_row, number["void_count"], n), dtype=np.float64
        ),
        smallest_counted_mm=smallest,
        settings=tuple(
            (name.replace("_", " "), column[first])
            for name, column in table.text.items()
            if name not in NOT_SETTINGS and name not in table.number
        ),
        amounts=_amounts(table, first),
    )


def _days(cells: NDArray[np.str_]) -> NDArray[np.datetime64]:
    """Calendar day of each cell, whatever time or zone is written behind it."""
    levels, which = np.unique(cells, return_inverse=True)
    days = np.array([cell[:10] or "NaT" for cell in levels.tolist()], "datetime64[D]")
    return days[which]


def _amounts(
    table: PieceTable, first: NDArray[np.intp]
) -> tuple[tuple[str, NDArray[np.float64]], ...]:
    """Further numbers; seconds of each way of vibrating apart."""
    found = []
    for name, column in table.number.items():
        if name in NOT_SETTINGS:
            continue
        values = column[first]
        title = name.replace("_", " ")
        if name != SECONDS or METHOD not in table.text:
            found.append((title, values))
            continue
        methods = table.text[METHOD][first]
        for method in np.unique(methods[methods != ""]):
            one = np.where(methods == method, values, np.nan)
            found.append((f"{title} ({method})", one))
    return tuple(found)
