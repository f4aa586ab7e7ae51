"""Photos of pieces: kept once each, whatever they are used for."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.errors import NotInLogError
from analysis.storage.engine import reading
from analysis.storage.photo_store import put, remove_orphans, settle
from analysis.storage.saving import insert, missing, now
from analysis.storage.tables import PHOTO, PHOTO_USE, PIECE
from analysis.storage.terms import term_id

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from analysis.model.log import PhotoUse
    from analysis.model.photo import Photo, PhotoFacts
    from analysis.storage.engine import Log


@contextmanager
def tidied(log: Log, sha256: str) -> Iterator[None]:
    """Settle the photo's file after the save around it, or remove it again."""
    try:
        yield
    except BaseException:
        remove_orphans(log, only=sha256)
        raise
    settle(log, sha256)


def keep_photo(
    connection: sa.Connection,
    log: Log,
    data: bytes,
    photo: Photo | PhotoFacts,
    piece_id: int,
    use: PhotoUse,
) -> int:
    """Write file and rows on a connection that writes; return the use's key."""
    check_piece(connection, piece_id)
    put(log, data, photo.sha256)
    photo_id = photo_row(connection, photo, len(data))
    return use_id(connection, piece_id, photo_id, use)


def photo_names(log: Log, sha256s: Iterable[str]) -> tuple[str, ...]:
    """Return the names of photos, in the order they were added."""
    query = sa.select(PHOTO.c.name).where(PHOTO.c.sha256.in_(list(sha256s)))
    with reading(log) as connection:
        return tuple(connection.scalars(query.order_by(PHOTO.c.id)))


def check_piece(connection: sa.Connection, piece_id: int) -> None:
    """Refuse a piece that is not there, before anything is written."""
    live = sa.select(PIECE.c.id).where(
        PIECE.c.id == piece_id, PIECE.c.deleted_at.is_(None)
    )
    if connection.scalar(live) is None:
        raise NotInLogError(missing(PIECE, piece_id))


def photo_row(
    connection: sa.Connection, photo: Photo | PhotoFacts, byte_count: int
) -> int:
    """Return the key of the photo's row; one row per content."""
    found = connection.scalar(
        sa.select(PHOTO.c.id).where(PHOTO.c.sha256 == photo.sha256)
    )
    if found is not None:
        return int(found)
    taken = photo.taken_at
    values = {
        "sha256": photo.sha256,
        "name": photo.name,
        "file_format": photo.file_format,
        "byte_count": byte_count,
        "width_px": photo.width_px,
        "height_px": photo.height_px,
        "taken_at": None if taken is None else taken.isoformat(),
        "created_at": now(),
    }
    return insert(connection, PHOTO, values)


def use_id(
    connection: sa.Connection, piece_id: int, photo_id: int, use: PhotoUse
) -> int:
    """Return the key of what the photo shows of the piece; one row per statement."""
    values = {
        "piece_id": piece_id,
        "photo_id": photo_id,
        "purpose": use.purpose,
        "stage": use.stage,
        "surface_state": use.surface_state,
        "set_up_id": term_id(connection, "set_up", use.set_up),
        "age_h": use.age_h,
    }
    # NULL is like NULL here, which a plain = would deny.
    same = [
        PHOTO_USE.c[name].is_not_distinct_from(value) for name, value in values.items()
    ]
    found = connection.scalar(sa.select(PHOTO_USE.c.id).where(*same))
    if found is not None:
        connection.execute(
            sa.update(PHOTO_USE).where(PHOTO_USE.c.id == found).values(deleted_at=None)
        )
        return int(found)
    return insert(connection, PHOTO_USE, values | {"created_at": now()})
