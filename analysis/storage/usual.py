"""The spread of readings in a shop's usual set-up: dated rows that never change."""

from __future__ import annotations

import math
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.model.gauge import LightBias, UsualSpread, usual_range
from analysis.model.log_views import Saved
from analysis.model.method import newest_name
from analysis.storage.engine import reading as reading_from
from analysis.storage.saving import insert, now, save_once, set_deleted
from analysis.storage.tables import PHOTO_USE, PIECE, POUR, READING, TERM, USUAL_SPREAD
from analysis.storage.terms import term_id

if TYPE_CHECKING:
    from analysis.model.reading import Reading
    from analysis.storage.engine import Log

# Faces of one piece are taken as one face where their areas are that much alike.
_ALIKE = 0.8


def keep_usual(log: Log, spread: UsualSpread, *, save_token: str) -> Saved:
    """Put a spread in force for readings saved from now on; the one before goes.

    One that is in force stays as it is, and says since when.
    """
    for one in usual_in_force(log):
        if replace(one, id=spread.id, made_at=spread.made_at) == spread:
            return Saved(id=one.id or 0, already_saved=True)

    def work(connection: sa.Connection) -> int:
        set_up_id = term_id(connection, "set_up", spread.set_up)
        connection.execute(
            sa.update(USUAL_SPREAD)
            .where(
                USUAL_SPREAD.c.set_up_id == set_up_id,
                USUAL_SPREAD.c.deleted_at.is_(None),
            )
            .values(deleted_at=now(), version=USUAL_SPREAD.c.version + 1)
        )
        return insert(
            connection,
            USUAL_SPREAD,
            {
                "set_up_id": set_up_id,
                "study_id": spread.study_id,
                "basis": spread.basis,
                "spread": spread.spread,
                "degrees": spread.degrees,
                "method_version": spread.method_version,
                "lights": [asdict(one) for one in spread.lights],
                "created_at": now(),
            },
        )

    return save_once(log, save_token, "usual_spread", work)


def usual_in_force(log: Log) -> tuple[UsualSpread, ...]:
    """Return what holds for readings saved now, by set-up.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     usual_in_force(open_log(folder))
    ()
    """
    query = (
        sa.select(USUAL_SPREAD, TERM.c.name.label("set_up"))
        .join(TERM, USUAL_SPREAD.c.set_up_id == TERM.c.id)
        .where(USUAL_SPREAD.c.deleted_at.is_(None))
        .order_by(TERM.c.name)
    )
    with reading_from(log) as connection:
        return tuple(_spread(row) for row in connection.execute(query))


def drop_usual(log: Log, usual_id: int) -> None:
    """Put a spread out of force; readings keep what they were told."""
    set_deleted(log, USUAL_SPREAD, usual_id, deleted=True)


def _spread(row: Any) -> UsualSpread:  # noqa: ANN401 - rows carry any type
    return UsualSpread(
        id=row.id,
        set_up=row.set_up,
        spread=row.spread,
        degrees=row.degrees,
        basis=row.basis,
        method_version=row.method_version,
        lights=tuple(LightBias(**one) for one in row.lights),
        study_id=row.study_id,
        made_at=row.created_at,
    )


def usual_values(
    connection: sa.Connection, reading: Reading, shown: int
) -> dict[str, Any]:
    """Return the columns of a new reading that follow from its set-up.

    Empty where nothing is known of the set-up, or by another version of the method.
    """
    row = connection.execute(
        sa.select(USUAL_SPREAD)
        .join(PHOTO_USE, USUAL_SPREAD.c.set_up_id == PHOTO_USE.c.set_up_id)
        .where(
            PHOTO_USE.c.id == shown,
            USUAL_SPREAD.c.deleted_at.is_(None),
        )
        .order_by(USUAL_SPREAD.c.id.desc())
        .limit(1)
    ).one_or_none()
    share = reading.summary.void_share
    # Nothing found has no logarithm: what could hide is the measuring interval's.
    if row is None or not reading.summary.void_count:
        return {}
    if newest_name(row.method_version) != newest_name(reading.method_version):
        return {}
    smallest = math.pi / 4 * reading.summary.smallest_counted_px**2
    low, high = usual_range(
        share.value, smallest / reading.summary.face_area_px, row.spread, row.degrees
    )
    return {
        "usual_share_low": low,
        "usual_share_high": high,
        "usual_spread_id": row.id,
    }


def repeated_readings(log: Log) -> tuple[tuple[str, str, int, float, float], ...]:
    """Return automatic readings of pieces with several photos in one set-up.

    Returns
    -------
    tuple of (set-up, method version, piece, share, share of one smallest void)
        One reading a photo, the latest; ordinary parts of dry faces at one stage, of
        about the same area (within a fifth of the piece's first one).
    """
    query = (
        sa.select(
            TERM.c.name,
            READING.c.method_version,
            PHOTO_USE.c.piece_id,
            PHOTO_USE.c.photo_id,
            PHOTO_USE.c.stage,
            READING.c.void_share,
            READING.c.smallest_counted_px,
            READING.c.face_area_px,
            READING.c.face_area_mm2,
        )
        .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
        .join(TERM, PHOTO_USE.c.set_up_id == TERM.c.id)
        .join(PIECE, PHOTO_USE.c.piece_id == PIECE.c.id)
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .where(
            READING.c.deleted_at.is_(None),
            READING.c.reviews_id.is_(None),
            PIECE.c.deleted_at.is_(None),
            POUR.c.deleted_at.is_(None),
            PHOTO_USE.c.purpose == "representative",
            READING.c.face_area_mm2.is_not(None),
        )
        .order_by(READING.c.id)
    )
    with reading_from(log) as connection:
        rows = connection.execute(query).all()
    # In order of their keys: the later reading of a photo takes the earlier's place.
    latest = {(row.piece_id, row.photo_id, row.method_version): row for row in rows}
    first: dict[tuple[int, str, str], Any] = {}
    found = []
    for row in latest.values():
        same = first.setdefault((row.piece_id, row.name, row.method_version), row)
        area = row.face_area_mm2 / same.face_area_mm2
        if row.stage != same.stage or not _ALIKE <= area <= 1 / _ALIKE:
            continue
        smallest = math.pi / 4 * row.smallest_counted_px**2 / row.face_area_px
        found.append(
            (row.name, row.method_version, row.piece_id, row.void_share, smallest)
        )
    return tuple(found)
