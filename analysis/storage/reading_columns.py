"""Readings as columns: which stand for the pieces of a whole log, and their figures.

A list makes a record of each reading. The table of a large log needs figures only: they
come from SQL as they are, and the rules of `analysis.pieces` are asked for all at once.
"""

from __future__ import annotations

import json
import math
from contextlib import suppress
from typing import TYPE_CHECKING, Any

import numpy as np
import sqlalchemy as sa

from analysis.model.method import newest_name
from analysis.pieces.columns import Column, coded, places
from analysis.pieces.likeness import common_size
from analysis.pieces.reading_figures import NUMBERS, ReadingFigures, counted_from
from analysis.pieces.standing import (
    REPRESENTATIVE,
    WET,
    MeasuredPhotos,
    age_of,
    standing_rows,
)
from analysis.storage.tables import PHOTO_USE, READING, VOID_PACK
from analysis.storage.terms import term_names
from analysis.storage.void_packs import recounts

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    Cells = Sequence[Any]
    Wanted = Mapping[sa.ColumnElement[Any], Callable[[Cells], Any]]

PLAIN_LIGHT = "plain"
# Rows fetched at a time: memory holds columns of numbers, not rows of objects.
_AT_ONCE = 20_000
_PACKS_AT_ONCE = 2000
_USE = PHOTO_USE.c
_MINE = READING.c


def _key(cells: Cells) -> NDArray[np.int64]:
    """Return keys, -1 where there is none."""
    # Told the type, NumPy takes cells at twice the speed, but no None among them.
    with suppress(TypeError):
        return np.fromiter(cells, np.int64, len(cells))
    return np.array([-1 if one is None else one for one in cells], dtype=np.int64)


def _number(cells: Cells) -> NDArray[np.float64]:
    """Return numbers, NaN where one is not known."""
    with suppress(TypeError):
        return np.fromiter(cells, np.float64, len(cells))
    return np.array(cells, dtype=np.float64)


_OF_USE: Wanted = {
    _USE.id: _key,
    _USE.piece_id: _key,
    _USE.photo_id: _key,
    _USE.purpose: coded,
    _USE.stage: coded,
    _USE.surface_state: coded,
    _USE.set_up_id: coded,
}
_OF_READING: Wanted = {
    _MINE.id: _key,
    _MINE.photo_use_id: _key,
    _MINE.reviews_id: _key,
    _MINE.void_count: _key,
    _MINE.mm_per_px: _number,
    sa.cast(_MINE.light_flags, sa.Text): coded,
    _MINE.method_version: coded,
    **{_MINE[name]: _number for name in NUMBERS},
}


def standing_figures(
    connection: sa.Connection,
    pieces: Sequence[int],
    *,
    stage: str | None = None,
    common_floor: bool = False,
) -> ReadingFigures | None:
    """Return the figures of the readings that stand for pieces.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Of one consistent state.
    pieces : sequence of int
        Keys of those that are not hidden.
    stage : str, optional
        Only readings at this stage; by default each piece's earliest.
    common_floor : bool
        Count all from the largest smallest-counted size among them.

    Returns
    -------
    ReadingFigures or None
        None where nothing was measured.
    """
    uses = _fetched(connection, _OF_USE)
    readings = _fetched(connection, _OF_READING, _MINE.deleted_at.is_(None))
    if uses is None or readings is None:
        return None
    use_ids, of_piece, of_photo, *shown = uses
    ids, of_use, reviews, count, mm_per_px, lights, methods, *figures = readings
    number = dict(zip(NUMBERS, figures, strict=True))
    at = places(of_use, use_ids)
    piece_id, photo = of_piece[at], of_photo[at]
    purpose, stages, state, set_up = (one.taken(at) for one in shown)
    photos = MeasuredPhotos(
        id=ids,
        piece_id=piece_id,
        photo=photo,
        age=_each(stages, age_of),
        measured_at=_when(connection, ids, piece_id, photo),
        reviewed=reviews >= 0,
        representative=_each(purpose, lambda one: one == REPRESENTATIVE)
        & (places(piece_id, pieces) >= 0),
        sized=~np.isnan(number["smallest_counted_mm"]),
        wet=_each(state, lambda one: one in WET),
    )
    rows = standing_rows(photos, stage=stage)
    rows = rows[np.lexsort((photos.id[rows], piece_id[rows]))]
    if not len(rows):
        return None
    names = term_names(connection)
    found = ReadingFigures(
        piece_id=piece_id[rows],
        number={name: its[rows] for name, its in number.items()},
        void_count=count[rows],
        words={
            "stage": stages.taken(rows),
            "light": lights.taken(rows).mapped(_light),
            "set_up": set_up.taken(rows).mapped(names.get),
            "method_version": methods.taken(rows).mapped(newest_name),
            "reviewed": Column(
                values=("no", "yes"), code=photos.reviewed[rows].astype(np.int64)
            ),
        },
    )
    if not common_floor:
        return found
    return _from_floor(connection, found, photos.id[rows], mm_per_px[rows])


def _when(
    connection: sa.Connection,
    ids: NDArray[np.int64],
    piece_id: NDArray[np.int64],
    photo: NDArray[np.int64],
) -> NDArray[np.int64]:
    """Return when photos that were read more than once were measured, in µs.

    Which of a photo's readings stands hangs on it; of a photo read once it is 0, since
    the figures of a piece do not hang on the order of its photos.
    """
    when = np.zeros(len(ids), dtype=np.int64)
    _, which, times = np.unique(
        piece_id * (photo.max(initial=0) + 1) + photo,
        return_inverse=True,
        return_counts=True,
    )
    again = np.flatnonzero(times[which.reshape(-1)] > 1)
    for start in range(0, len(again), _PACKS_AT_ONCE):
        part = again[start : start + _PACKS_AT_ONCE]
        query = sa.select(_MINE.id, _MINE.measured_at)
        rows = connection.execute(query.where(_MINE.id.in_(ids[part].tolist()))).all()
        known = {row.id: row.measured_at.replace(tzinfo=None) for row in rows}
        moments = [known[key] for key in ids[part].tolist()]
        when[part] = np.array(moments, dtype="datetime64[us]").astype(np.int64)
    return when


def _from_floor(
    connection: sa.Connection,
    figures: ReadingFigures,
    ids: NDArray[np.int64],
    mm_per_px: NDArray[np.float64],
) -> ReadingFigures:
    """Count all from the largest of their smallest sizes, by the stored voids."""
    sizes = figures.number["smallest_counted_mm"]
    floor = common_size(sizes[~np.isnan(sizes)].tolist())
    if floor is None:
        return figures
    rows = np.flatnonzero(sizes < floor)
    # A hair less, so that rounding drops no void of just that size.
    smallest_px2 = math.pi / 4 * floor**2 * (1 - 1e-9) / mm_per_px[rows] ** 2
    order = np.argsort(ids[rows])
    rows, smallest_px2 = rows[order], smallest_px2[order]
    count = np.zeros(len(rows), dtype=np.int64)
    area = np.zeros(len(rows))  # a reading without a pack counts nothing
    for start in range(0, len(rows), _PACKS_AT_ONCE):
        part = slice(start, start + _PACKS_AT_ONCE)
        keys, areas = _areas(connection, ids[rows[part]])
        at = start + np.searchsorted(ids[rows[part]], keys)
        count[at], area[at] = recounts(areas, smallest_px2[at])
    return counted_from(figures, floor, rows, count, area)


def _areas(
    connection: sa.Connection, ids: NDArray[np.int64]
) -> tuple[list[int], list[bytes]]:
    """Return the keys of readings with a pack and its void areas; `ids` ascend."""
    kept = VOID_PACK.c
    query = sa.select(kept.reading_id, kept.areas)
    wanted = ids.tolist()
    # Packs lie in the order of their keys: those near each other are read in one go.
    if wanted[-1] - wanted[0] < 2 * len(wanted):
        query = query.where(kept.reading_id.between(wanted[0], wanted[-1]))
    else:
        query = query.where(kept.reading_id.in_(wanted))
    asked = set(wanted)
    rows = [row for row in connection.execute(query).all() if row[0] in asked]
    return [row[0] for row in rows], [row[1] for row in rows]


def _fetched(
    connection: sa.Connection,
    wanted: Wanted,
    *where: sa.ColumnElement[bool],
) -> list[Any] | None:
    """Return columns of a table, each as its rule makes it; None without a row."""
    parts = [
        [
            rule(cells)
            for rule, cells in zip(
                wanted.values(), zip(*part, strict=True), strict=True
            )
        ]
        for part in connection.execute(sa.select(*wanted).where(*where)).partitions(
            _AT_ONCE
        )
    ]
    return [_joined(its) for its in zip(*parts, strict=True)] if parts else None


def _joined(parts: Sequence[Any]) -> Any:  # noqa: ANN401 - columns or arrays
    """Put the parts of a column one after the other."""
    if not isinstance(parts[0], Column):
        return np.concatenate(parts)
    values = coded([value for part in parts for value in part.values])
    begin = np.cumsum([0, *(len(part.values) for part in parts[:-1])]).tolist()
    code = [part.code + at for part, at in zip(parts, begin, strict=True)]
    return Column(values=values.values, code=values.code[np.concatenate(code)])


def _each(words: Column, rule: Callable[[Any], int]) -> NDArray[Any]:
    """Return what a rule makes of each row's word."""
    return np.array([rule(one) for one in words.values])[words.code]


def _light(flags: str) -> str:
    """Return the doubts about the light as one word."""
    return "+".join(sorted(json.loads(flags))) or PLAIN_LIGHT
