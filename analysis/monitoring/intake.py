"""From a table of pieces to the columns that are followed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import TableError
from analysis.fields import columns_of_role
from analysis.model.field_words import words_beside
from analysis.model.monitoring import PieceColumns
from analysis.model.notes import note
from analysis.monitoring.charts import track
from analysis.monitoring.pours import OF_METHOD
from analysis.pieces.order import casting_order
from analysis.pieces.pooling import pieces_of, pooled
from analysis.pieces.sealing import JOINTS_SEALED

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable
    from analysis.model.monitoring import Track, TrackOptions
    from analysis.model.notes import Note

TEXTS = ("form", "form_type", "product_line", "stage", "joint_sealing")
# What came of it, names, and what is read by its own name.
NOT_SETTINGS = frozenset(
    {
        *columns_of_role("result", "name"),
        *TEXTS,
        JOINTS_SEALED,
        "cast_on",
        "form_use",
        "method_version",
        "face_area_mm2",
        "smallest_counted_mm",
    }
)
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
    notes : tuple of Note
        What was left out or pooled.
    """

    pieces: PieceColumns
    table_rows: NDArray[np.int64]
    notes: tuple[Note, ...]


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
        name = "void_area_percent"
        msg = (
            f"The table has no column {name!r}{words_beside(name)}: "
            f"add it, a number per piece."
        )
        raise TableError(msg)
    notes = []
    keep = np.ones(len(table), dtype=bool)
    for gone, name in (
        (np.isnan(table.number["void_area_percent"]), "void_area_percent"),
        (~table.levels("pour").known, "pour"),
    ):
        lost = int((gone & keep).sum())
        if lost:
            notes.append(note("rows_without", rows=lost, name=name))
        keep &= ~gone
    rows = np.flatnonzero(keep)
    if len(rows) == 0:
        msg = "No row of the table has both a pour and a void share: measure a piece."
        raise TableError(msg)
    kept = table.taken(rows)
    first, _ = pieces_of(kept)
    if len(first) < len(kept):
        notes.append(note("photos_joined", photos=len(kept), pieces=len(first)))
    one = pooled(kept)
    # In the order cast, so that pours of one day follow each other as they were.
    order = np.argsort(casting_order(one), kind="stable")
    return Intake(
        pieces=_columns(one.taken(order)),
        table_rows=rows[first[order]],
        notes=tuple(notes),
    )


def _columns(table: PieceTable) -> PieceColumns:
    blank = np.full(len(table), "")
    unknown = np.full(len(table), np.nan)

    def text(name: str) -> NDArray[np.str_]:
        return table.text.get(name, blank)

    def number(name: str) -> NDArray[np.float64]:
        return table.number.get(name, unknown)

    return PieceColumns(
        pour=text("pour"),
        method_version=text("method_version"),
        **{name: text(name) for name in TEXTS},
        cast_on=_days(table),
        form_use=number("form_use"),
        void_share=number("void_area_percent") / 100.0,
        joint_band_share=number("joint_band_percent") / 100.0,
        open_face_share=number("open_face_percent") / 100.0,
        face_area_mm2=number("face_area_mm2"),
        void_count=number("void_count"),
        smallest_counted_mm=number("smallest_counted_mm"),
        settings=tuple(
            (name, column)
            for name, column in table.text.items()
            if name not in NOT_SETTINGS and name not in table.number
        ),
        amounts=_amounts(table),
    )


def _days(table: PieceTable) -> NDArray[np.datetime64]:
    """Calendar day of each row, whatever time or zone is written behind it."""
    if "cast_on" not in table.text:
        return np.full(len(table), "NaT", dtype="datetime64[D]")
    names, code = table.levels("cast_on")
    days = np.array([cell[:10] or "NaT" for cell in names.tolist()], "datetime64[D]")
    return days[code]


def _amounts(
    table: PieceTable,
) -> tuple[tuple[str, NDArray[np.float64]], ...]:
    """Further numbers; seconds of each way of vibrating apart."""
    found = []
    for name, column in table.number.items():
        if name in NOT_SETTINGS:
            continue
        values = column
        if name != SECONDS or METHOD not in table.text:
            found.append((name, values))
            continue
        methods = table.levels(METHOD)
        for at, method in enumerate(methods.names.tolist()):
            if method:
                one = np.where(methods.code == at, values, np.nan)
                found.append((f"{name}{OF_METHOD}{method}", one))
    return tuple(found)
