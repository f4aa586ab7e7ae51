"""One row per piece, for comparing and following.

Which readings stand for a piece, and how they are pooled, `analysis.pieces` says. With
a common floor, counts and shares are taken again from the stored voids at the largest
smallest-counted size in the set, so that a sharper photo does not count more.
"""

from __future__ import annotations

import math
from collections import defaultdict
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.checks import one_of
from analysis.fields import column_value, row_fields
from analysis.model.afterwards import Outcome, Repair
from analysis.model.log_views import PieceRow
from analysis.model.workshop import Form, Mix, ProductLine
from analysis.pieces.figures import largest_void_mm, pooled_figures, recounted
from analysis.pieces.likeness import common_size
from analysis.pieces.standing import standing_readings
from analysis.storage.castings import castings
from analysis.storage.engine import reading
from analysis.storage.readings import lines_of
from analysis.storage.records import select
from analysis.storage.tables import BROUGHT_FIGURE, READING, VOID_PACK
from analysis.storage.void_packs import recount
from analysis.vocabulary import STAGES

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Mapping

    from analysis.model.log_views import Casting, ReadingLine
    from analysis.storage.engine import Log


def piece_table(
    log: Log, *, stage: str | None = None, common_floor: bool = False
) -> tuple[PieceRow, ...]:
    """Return every piece that is not hidden, earliest casting first.

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
    if stage is not None:
        one_of(stage, "Stage", STAGES)
    with reading(log) as connection:
        pieces = castings(connection)[::-1]
        forms = {form.id: form for form in select(connection, Form)}
        lines = {line.id: line.name for line in select(connection, ProductLine)}
        mixes = {mix.id: mix.name for mix in select(connection, Mix)}
        chosen = _standing(connection, stage)
        sizes = (one.smallest_counted_mm for its in chosen.values() for one in its)
        floor = common_size(sizes) if common_floor else None
        if floor is not None:
            chosen = _from(connection, chosen, floor)
        brought = _brought(connection, stage)
    of_pours = {
        key: _told("pour", pour) | {"mix": mixes.get(pour.mix_id or 0)}
        for key, pour in {one.pour.id: one.pour for one in pieces}.items()
    }
    of_forms = {
        key: _told("form", form) | {"form": form.name} for key, form in forms.items()
    }
    known: dict[object, dict[str, Any]] = {}
    return tuple(
        _row(
            casting,
            of_pours[casting.pour.id],
            of_forms.get(casting.piece.form_id, {"form": None}),
            lines.get(casting.piece.product_line_id or 0),
            pooled_figures(chosen[key]) if key in chosen else brought.get(key, {}),
            known,
        )
        for casting in pieces
        for key in [casting.piece.id or 0]
    )


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


def _brought(connection: sa.Connection, stage: str | None) -> dict[int, dict[str, Any]]:
    """Return figures that came with an imported table, by piece."""
    query = sa.select(BROUGHT_FIGURE)
    if stage is not None:
        query = query.where(BROUGHT_FIGURE.c.stage == stage)
    return {
        row.piece_id: {
            "void_area_percent": _percent(row.void_share),
            "face_area_mm2": row.face_area_mm2,
            "void_count": row.void_count,
            "stage": row.stage,
            "light": row.light,
            "set_up": row.set_up,
            "smallest_counted_mm": row.smallest_counted_mm,
            "method_version": row.method_version,
            "joint_band_percent": _percent(row.joint_band_share),
            "open_face_percent": _percent(row.open_face_share),
            "honeycomb_percent": _percent(row.honeycomb_share),
            "joint_length_mm": row.joint_length_mm,
            "sand_length_mm": row.sand_length_mm,
            "fin_length_mm": row.fin_length_mm,
            "arris_loss_mm2_per_m": row.arris_loss_mm2_per_m,
        }
        for row in connection.execute(query)
    }


def _percent(share: float | None) -> float | None:
    """Return a share in percent; 15 digits undo the division on the way in."""
    return None if share is None else float(f"{100 * share:.15g}")


def _told(owner: str, record: object) -> dict[str, Any]:
    """Return what a record tells in its columns; references apart."""
    return {
        one.column: column_value(getattr(record, one.name), one)
        for one in row_fields(owner)
        if one.kind != "reference"
    }


def _row(
    casting: Casting,
    of_pour: dict[str, Any],
    of_form: dict[str, Any],
    product_line: str | None,
    figures: dict[str, Any],
    known: dict[object, dict[str, Any]],
) -> PieceRow:
    """Put a piece's row together; `known` are the ways of joints and steps met."""
    piece = casting.piece
    way = (piece.joints, piece.steps)
    if way not in known:
        known[way] = {
            "joint_sealing": piece.joint_sealing,
            "leak": piece.leak,
            "vibration_method": piece.vibration_method,
            "vibration_s": piece.vibration_s,
            "strokes": piece.strokes,
            "passes": piece.passes,
        }
    return PieceRow(
        **_told("piece", piece)
        | of_pour
        | of_form
        | known[way]
        | {"form_use": casting.form_use, "product_line": product_line}
        | figures
    )
