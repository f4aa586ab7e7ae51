"""One row per piece, for comparing and following.

Which readings stand for a piece, and how they are pooled, `analysis.pieces` says. With
a common floor, counts and shares are taken again from the stored voids at the largest
smallest-counted size in the set, so that a sharper photo does not count more.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import fields
from types import MappingProxyType
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.checks import one_of
from analysis.model.afterwards import Outcome, Repair
from analysis.model.log_views import PieceRow
from analysis.pieces.columns import alike, coded, places
from analysis.pieces.reading_figures import pooled_figures
from analysis.storage.cast_columns import cast_columns
from analysis.storage.engine import reading
from analysis.storage.filled import filled_cells, making_many
from analysis.storage.reading_columns import standing_figures
from analysis.storage.records import select
from analysis.storage.tables import BROUGHT_FIGURE
from analysis.vocabulary import STAGES

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.pieces.columns import Column
    from analysis.pieces.reading_figures import ReadingFigures
    from analysis.storage.engine import Log


OUTCOMES = ("largest_void_mm", "repair_minutes", "second")
# Columns of a piece's row that a table brought -> what they are kept as.
_BROUGHT = MappingProxyType(
    {
        "void_area_percent": "void_share",
        "face_area_mm2": "face_area_mm2",
        "void_count": "void_count",
        "stage": "stage",
        "light": "light",
        "set_up": "set_up",
        "smallest_counted_mm": "smallest_counted_mm",
        "method_version": "method_version",
        "joint_band_percent": "joint_band_share",
        "open_face_percent": "open_face_share",
        "honeycomb_percent": "honeycomb_share",
        "joint_length_mm": "joint_length_mm",
        "sand_length_mm": "sand_length_mm",
        "fin_length_mm": "fin_length_mm",
        "arris_loss_mm2_per_m": "arris_loss_mm2_per_m",
    }
)


def piece_table(
    log: Log, *, stage: str | None = None, common_floor: bool = False
) -> tuple[PieceRow, ...]:
    """Return every piece that is not hidden, earliest casting first.

    Parameters
    ----------
    log, stage, common_floor
        As for `piece_columns`.

    Returns
    -------
    tuple of PieceRow
        Pieces without a reading have their settings and None for the figures.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     piece_table(open_log(folder))
    ()
    """
    columns = piece_columns(log, stage=stage, common_floor=common_floor)
    cells = [column.cells() for column in columns.values()]
    return tuple(
        PieceRow(**dict(zip(columns, row, strict=True)))
        for row in zip(*cells, strict=True)
    )


def piece_columns(
    log: Log,
    *,
    stage: str | None = None,
    common_floor: bool = False,
    outcomes: bool = False,
) -> dict[str, Column]:
    """Return the columns of `PieceRow`, one row per piece that is not hidden.

    Parameters
    ----------
    log : Log
        The log.
    stage : str, optional
        Only readings at this stage; by default each piece's earliest stage, which its
        row names.
    common_floor : bool
        Count every piece from the largest smallest-counted size in the set. Pieces
        without a scale keep their own figures.
    outcomes : bool
        What became of each piece too, as the last columns: ``largest_void_mm`` over the
        photos; ``repair_minutes`` in all, 0 for a piece that was judged and not
        repaired; ``second``, ``"yes"`` or ``"no"`` by the latest judgement.

    Returns
    -------
    dict of str to Column
        In the order of `PieceRow`, each of n pieces, earliest casting first; None is
        not known.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     len(piece_columns(open_log(folder))["piece"])
    0
    """
    if stage is not None:
        one_of(stage, "Stage", STAGES)
    with making_many(), reading(log) as connection:
        ids, columns = cast_columns(connection)
        standing = standing_figures(
            connection, ids, stage=stage, common_floor=common_floor
        )
        columns |= _figures(connection, stage, ids, standing)
        if outcomes:
            columns |= _judged(connection, ids)
    none = alike(None, len(ids))
    wanted = (
        *(one.name for one in fields(PieceRow)),
        *(OUTCOMES if outcomes else ()),
    )
    return {name: columns.get(name, none) for name in wanted}


def _judged(connection: sa.Connection, ids: Sequence[int]) -> dict[str, Column]:
    """Return what was said of pieces once they were struck."""
    seconds: dict[int, str] = {}
    minutes: dict[int, float | None] = {}
    patched: set[int] = set()
    for one in sorted(select(connection, Outcome), key=lambda one: one.id or 0):
        if one.outcome is not None:
            seconds[one.piece_id] = "yes" if one.outcome == "second" else "no"
            minutes[one.piece_id] = 0.0
            if one.outcome == "patched":
                patched.add(one.piece_id)
    for key in patched:  # repaired, who knows how long
        del minutes[key]
    parts: defaultdict[int, list[float | None]] = defaultdict(list)
    for repair in select(connection, Repair):
        parts[repair.piece_id].append(repair.minutes)
    for key, its in parts.items():
        known = [part for part in its if part is not None]
        minutes[key] = sum(known) if len(known) == len(its) else None
    return {
        "repair_minutes": coded([*map(minutes.get, ids)]),
        "second": coded([*map(seconds.get, ids)]),
    }


def brought_shares(log: Log) -> dict[int, float]:
    """Return the void shares that came with a table, 0..1, by piece.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     brought_shares(open_log(folder))
    {}
    """
    query = sa.select(BROUGHT_FIGURE.c.piece_id, BROUGHT_FIGURE.c.void_share)
    with reading(log) as connection:
        return {row.piece_id: row.void_share for row in connection.execute(query)}


def _figures(
    connection: sa.Connection,
    stage: str | None,
    ids: Sequence[int],
    standing: ReadingFigures | None,
) -> dict[str, Column]:
    """Return the measured columns of pieces, brought ones where nothing stands."""
    columns = _brought(connection, stage, ids)
    if standing is None:
        return columns
    pieces, found = pooled_figures(standing)
    none, at = alike(None, len(ids)), places(pieces, ids)
    # What a table brought goes where a photo was measured, known of it or not.
    return {name: columns.get(name, none).put(at, its) for name, its in found.items()}


def _brought(
    connection: sa.Connection, stage: str | None, ids: Sequence[int]
) -> dict[str, Column]:
    """Return figures that came with an imported table, of the pieces asked for."""
    table = BROUGHT_FIGURE.c
    count, (of_piece, *cells) = filled_cells(
        connection,
        (table.piece_id, *(table[name] for name in _BROUGHT.values())),
        *(() if stage is None else (table.stage == stage,)),
    )
    if not count:
        return {}
    at = places(ids, of_piece or ())  # -1, the last row, where nothing was brought
    found = {}
    for (name, kept_as), its in zip(_BROUGHT.items(), cells, strict=True):
        column = alike(None, count + 1) if its is None else coded((*its, None))
        share = kept_as.endswith("_share")
        found[name] = (column.mapped(_percent) if share else column).taken(at)
    return found


def _percent(share: float | None) -> float | None:
    """Return a share in percent; 15 digits undo the division on the way in."""
    return None if share is None else float(f"{100 * share:.15g}")
