"""Readings as columns: which stand for the pieces of a whole log, and their figures.

A list makes a record of each reading. The table of a large log needs figures only: they
come from SQL as they are, and the rules of `analysis.pieces` are asked for all at once.
"""

from __future__ import annotations

import json
import math
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
from analysis.storage.void_packs import recount

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    Cells = Sequence[Any]
    Wanted = Mapping[sa.ColumnElement[Any], Callable[[Cells], Any]]

PLAIN_LIGHT = "plain"
# Rows fetched at a time: memory holds columns of numbers, not rows of objects.
_AT_ONCE = 20_000
_PACKS_AT_ONCE = 500
_USE = PHOTO_USE.c
_MINE = READING.c


def _key(cells: Cells) -> NDArray[np.int64]:
    """Return keys, -1 where there is none."""
    found = np.array(cells, dtype=np.float64)  # exact up to 2 to the power of 53
    return np.where(np.isnan(found), -1, found).astype(np.int64)


def _number(cells: Cells) -> NDArray[np.float64]:
    """Return numbers, NaN where one is not known."""
    return np.array(cells, dtype=np.float64)


def _moment(cells: Cells) -> NDArray[np.int64]:
    """Return moments as microseconds, from what either database keeps them as."""
    return np.array(cells, dtype="datetime64[us]").astype(np.int64)


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
    sa.type_coerce(_MINE.measured_at, sa.types.NullType()): _moment,
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
    ids, of_use, reviews, count, mm_per_px, when, lights, methods, *figures = readings
    number = dict(zip(NUMBERS, figures, strict=True))
    at = places(of_use, use_ids)
    piece_id = of_piece[at]
    purpose, stages, state, set_up = (one.taken(at) for one in shown)
    photos = MeasuredPhotos(
        id=ids,
        piece_id=piece_id,
        photo=of_photo[at],
        age=_each(stages, age_of),
        measured_at=when,
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
    area = np.zeros(len(rows))
    place = 0
    asked = ids[rows]
    for key, areas in _areas(connection, asked):
        while asked[place] < key:  # a reading without a pack counts nothing
            place += 1
        count[place], area[place] = recount(areas, smallest_px2[place])
    return counted_from(figures, floor, rows, count, area)


def _areas(
    connection: sa.Connection, ids: NDArray[np.int64]
) -> Iterator[tuple[int, bytes]]:
    """Yield the void areas of readings, by key; `ids` ascend."""
    kept = VOID_PACK.c
    query = sa.select(kept.reading_id, kept.areas).order_by(kept.reading_id)
    for start in range(0, len(ids), _PACKS_AT_ONCE):
        part = ids[start : start + _PACKS_AT_ONCE].tolist()
        # Packs lie in the order of their keys: those in a row are read in one go.
        if part[-1] - part[0] < 2 * len(part):
            rows = connection.execute(
                query.where(kept.reading_id.between(part[0], part[-1]))
            )
            wanted = set(part)
            yield from ((row[0], row[1]) for row in rows if row[0] in wanted)
        else:
            rows = connection.execute(query.where(kept.reading_id.in_(part)))
            yield from ((row[0], row[1]) for row in rows)


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
