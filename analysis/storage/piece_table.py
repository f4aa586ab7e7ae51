"""One row per piece, for comparing and following.

Which readings stand for a piece, and how they are pooled, `analysis.pieces` says. With
a common floor, counts and shares are taken again from the stored voids at the largest
smallest-counted size in the set, so that a sharper photo does not count more.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import fields
from types import MappingProxyType
from typing import TYPE_CHECKING

import numpy as np
import sqlalchemy as sa

from analysis.checks import one_of
from analysis.model.afterwards import Outcome, Repair
from analysis.model.log_views import PieceRow
from analysis.pieces.columns import alike, coded, places
from analysis.pieces.figures import largest_void_mm, pooled_figures, recounted
from analysis.pieces.likeness import common_size
from analysis.pieces.standing import standing_readings
from analysis.storage.cast_columns import cast_columns
from analysis.storage.castings import castings
from analysis.storage.engine import reading
from analysis.storage.filled import filled_cells, making_many
from analysis.storage.reading_lines import lines_of
from analysis.storage.records import select
from analysis.storage.tables import BROUGHT_FIGURE, READING, VOID_PACK
from analysis.storage.void_packs import recount
from analysis.vocabulary import STAGES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping, Sequence

    from analysis.model.log_views import ReadingLine
    from analysis.pieces.columns import Column
    from analysis.storage.engine import Log


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
    log: Log, *, stage: str | None = None, common_floor: bool = False
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
        chosen = _standing(connection, stage)
        sizes = (one.smallest_counted_mm for its in chosen.values() for one in its)
        floor = common_size(sizes) if common_floor else None
        if floor is not None:
            chosen = _from(connection, chosen, floor)
        columns |= _figures(connection, stage, ids, chosen)
    none = alike(None, len(ids))
    return {one.name: columns.get(one.name, none) for one in fields(PieceRow)}


def outcomes_of_pieces(
    log: Log, *, stage: str | None = None
) -> dict[str, dict[str, object]]:
    """Return what became of each piece, beyond its row of the table, by its name.

    Parameters
    ----------
    log : Log
        The log.
    stage : str, optional
        As for `piece_table`.

    Returns
    -------
    dict of str to dict
        ``largest_void_mm`` over the photos; ``repair_minutes`` in all, 0 for a piece
        that was judged and not repaired; ``second``, ``"yes"`` or ``"no"`` by the
        latest judgement. Only what is known.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     outcomes_of_pieces(open_log(folder))
    {}
    """
    with reading(log) as connection:
        names = {one.piece.id: one.piece.name for one in castings(connection)}
        chosen = _standing(connection, stage)
        repairs = select(connection, Repair)
        judged = sorted(select(connection, Outcome), key=lambda one: one.id or 0)
    found: defaultdict[str, dict[str, object]] = defaultdict(dict)
    for piece_id, its in chosen.items():
        largest = largest_void_mm(its)
        if piece_id in names and largest is not None:
            found[names[piece_id]]["largest_void_mm"] = largest
    for one in judged:
        if one.outcome is not None and one.piece_id in names:
            mine = found[names[one.piece_id]]
            mine["second"] = "yes" if one.outcome == "second" else "no"
    patched = {one.piece_id for one in judged if one.outcome == "patched"}
    for one in judged:
        if one.outcome is not None and one.piece_id in names.keys() - patched:
            found[names[one.piece_id]]["repair_minutes"] = 0.0
    minutes: defaultdict[int, list[float | None]] = defaultdict(list)
    for repair in repairs:
        minutes[repair.piece_id].append(repair.minutes)
    for piece_id, parts in minutes.items():
        if piece_id in names:
            known = [part for part in parts if part is not None]
            whole = sum(known) if len(known) == len(parts) else None
            found[names[piece_id]]["repair_minutes"] = whole
    return dict(found)


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


def _standing(
    connection: sa.Connection, stage: str | None
) -> dict[int, tuple[ReadingLine, ...]]:
    return standing_readings(lines_of(connection), stage=stage)


def _from(
    connection: sa.Connection,
    chosen: Mapping[int, tuple[ReadingLine, ...]],
    floor: float,
) -> dict[int, tuple[ReadingLine, ...]]:
    """Count again from the stored voids at `floor` mm and above."""
    # A hair less, so that rounding drops no void of just that size.
    smallest_mm2 = math.pi / 4 * floor**2 * (1 - 1e-9)
    finer = {
        one.id
        for its in chosen.values()
        for one in its
        if one.smallest_counted_mm is not None and one.smallest_counted_mm < floor
    }
    counted = {}
    for ids in batched(finer):
        query = (
            sa.select(VOID_PACK.c.reading_id, VOID_PACK.c.areas, READING.c.mm_per_px)
            .join(READING, VOID_PACK.c.reading_id == READING.c.id)
            .where(READING.c.id.in_(ids), READING.c.mm_per_px.is_not(None))
        )
        for row in connection.execute(query):
            smallest_px2 = smallest_mm2 / row.mm_per_px**2
            counted[row.reading_id] = recount(row.areas, smallest_px2)

    def again(one: ReadingLine) -> ReadingLine:
        size = one.smallest_counted_mm
        if size is None or size >= floor:
            return one
        return recounted(one, floor, *counted.get(one.id, (0, 0.0)))

    return {key: tuple(map(again, its)) for key, its in chosen.items()}


def batched(ids: Iterable[int], size: int = 500) -> Iterator[list[int]]:
    """Yield keys in parts that fit into one question.

    Examples
    --------
    >>> list(batched([3, 1, 2], 2))
    [[1, 2], [3]]
    """
    left = sorted(ids)
    for start in range(0, len(left), size):
        yield left[start : start + size]


def _figures(
    connection: sa.Connection,
    stage: str | None,
    ids: Sequence[int],
    chosen: Mapping[int, tuple[ReadingLine, ...]],
) -> dict[str, Column]:
    """Return the measured columns of pieces, brought ones where nothing stands."""
    columns = _brought(connection, stage, ids)
    rows = [row for row, key in enumerate(ids) if key in chosen]
    if not rows:
        return columns
    found = [pooled_figures(chosen[ids[row]]) for row in rows]
    none = alike(None, len(ids))
    at = np.array(rows, dtype=np.int64)
    names = {**columns, **dict.fromkeys(name for one in found for name in one)}
    return {
        name: columns.get(name, none).put(at, [one.get(name) for one in found])
        for name in names
    }


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
