"""Readings: kept with their photo in one save, given back as they were."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import replace
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.errors import ConflictError, DamagedLogError, InputError
from analysis.model.log import PhotoUse
from analysis.storage import packing
from analysis.storage.engine import damaged, writing
from analysis.storage.engine import reading as reading_from
from analysis.storage.photo_store import digest, put
from analysis.storage.photos import check_piece, keep_photo, photo_row, tidied, use_id
from analysis.storage.records import write
from analysis.storage.saving import insert, now, row_of, save_once, set_deleted
from analysis.storage.tables import EDIT, PHOTO, PHOTO_USE, READING, VOID_PACK
from analysis.storage.usual import usual_values
from analysis.storage.void_packs import packed, unpacked

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.model.log import Piece, Pour
    from analysis.model.log_views import ReadingLine, Saved
    from analysis.model.photo import Photo, PhotoFacts
    from analysis.model.reading import Reading
    from analysis.model.workshop import Form
    from analysis.storage.engine import Log

    SecondFile = tuple[bytes, Photo]


def save_reading(
    log: Log,
    *,
    photo_bytes: bytes,
    photo: Photo | PhotoFacts,
    reading: Reading,
    piece_id: int,
    save_token: str,
    use: PhotoUse | None = None,
    reviews_id: int | None = None,
    second: SecondFile | None = None,
) -> Saved:
    """Keep a reading with its photo and voids: all of it, or nothing.

    Parameters
    ----------
    log : Log
        The log.
    photo_bytes : bytes
        The file as uploaded; kept unchanged.
    photo : Photo or PhotoFacts
        The same, decoded, or what is known of it.
    reading : Reading
        What was measured on it.
    piece_id : int
        The piece the photo shows.
    save_token : str
        Made once per form shown, so that a second press saves nothing.
    use : PhotoUse, optional
        Purpose, stage and surface state; representative if not given.
    reviews_id : int, optional
        The stored reading this one is a person's review of; it stays beside it.
    second : tuple of bytes and Photo, optional
        The second file of a pair, kept unchanged too, and the same decoded.

    Returns
    -------
    Saved
        The reading's id.

    Raises
    ------
    InputError
        Photo, reading and bytes do not belong together, or a figure is not a number.
    NotInLogError
        There is no such piece.
    RecordError
        Disk full, folder read-only, log damaged or busy.
    """
    parts = (photo_bytes, photo, reading, use or PhotoUse(), reviews_id, second)
    return _save(log, save_token, lambda _: piece_id, parts)


def save_with_new_piece(
    log: Log,
    *,
    piece: Piece,
    pour: Pour | None = None,
    form: Form | None = None,
    photo_bytes: bytes,
    photo: Photo,
    reading: Reading,
    save_token: str,
    use: PhotoUse | None = None,
    second: SecondFile | None = None,
) -> Saved:
    """Keep a reading with the piece it shows, its pour and form: all, or nothing.

    Parameters
    ----------
    log : Log
        The log.
    piece : Piece
        The new piece.
    pour, form : Pour, Form, optional
        New ones; their ids take the place of the piece's `pour_id` and `form_id`.
    photo_bytes, photo, reading, save_token, use, second
        As for `save_reading`.

    Returns
    -------
    Saved
        The reading's id.

    Raises
    ------
    InputError
        A name is in use, or what `save_reading` refuses.
    """

    def new_piece(connection: sa.Connection) -> int:
        pour_id = piece.pour_id if pour is None else write(connection, pour)
        form_id = piece.form_id if form is None else write(connection, form)
        return write(connection, replace(piece, pour_id=pour_id, form_id=form_id))

    parts = (photo_bytes, photo, reading, use or PhotoUse(), None, second)
    return _save(log, save_token, new_piece, parts)


def _save(
    log: Log,
    token: str,
    find_piece: Callable[[sa.Connection], int],
    parts: tuple[
        bytes, Photo | PhotoFacts, Reading, PhotoUse, int | None, SecondFile | None
    ],
) -> Saved:
    """Keep a reading of the piece found or made on the same connection."""
    photo_bytes, photo, reading, use, reviews_id, second = parts
    if not digest(photo_bytes) == photo.sha256 == reading.photo_sha256:
        msg = (
            "The reading was not made on this photo "
            f"({reading.photo_sha256[:12]} and {digest(photo_bytes)[:12]}): "
            "measure the photo again, then save."
        )
        raise InputError(msg)
    _check_second(reading, second)

    def work(connection: sa.Connection) -> int:
        piece_id = find_piece(connection)
        shown = keep_photo(connection, log, photo_bytes, photo, piece_id, use)
        if second is not None:
            put(log, second[0], second[1].sha256)
            photo_row(connection, second[1], len(second[0]))
        return insert_reading(connection, reading, shown, reviews_id)

    with ExitStack() as tidy:
        for sha256 in (photo.sha256, *(() if second is None else (second[1].sha256,))):
            tidy.enter_context(tidied(log, sha256))
        return save_once(log, token, "reading", work)


def _check_second(reading: Reading, second: SecondFile | None) -> None:
    """Refuse a pair without its second file, or with another one."""
    told = None if reading.second_light is None else reading.second_light.photo_sha256
    given = None if second is None else digest(second[0])
    if told != given or (second is not None and second[1].sha256 != given):
        msg = (
            f"The second photo of the reading is {(told or 'none')[:12]}, "
            f"{(given or 'none')[:12]} was given: measure both photos again, then save."
        )
        raise InputError(msg)


def insert_reading(
    connection: sa.Connection, reading: Reading, shown: int, reviews_id: int | None
) -> int:
    """Write a reading with its voids; `shown` is the photo's use."""
    values = packing.reading_values(reading) | {
        "photo_use_id": shown,
        "reviews_id": reviews_id,
        "second_photo_id": _second_id(connection, reading),
        "created_at": now(),
        **usual_values(connection, reading, shown),
    }
    reading_id = insert(connection, READING, values)
    pack = packed(reading.voids, reading.rejected)
    connection.execute(sa.insert(VOID_PACK).values(reading_id=reading_id, **pack))
    return reading_id


def _second_id(connection: sa.Connection, reading: Reading) -> int | None:
    """Key of the second photo's row; None for a reading of one photo."""
    if reading.second_light is None:
        return None
    sha256 = reading.second_light.photo_sha256
    found: int | None = connection.scalar(
        sa.select(PHOTO.c.id).where(PHOTO.c.sha256 == sha256)
    )
    return found


def load_reading(log: Log, reading_id: int) -> Reading:
    """Return a reading as it was saved.

    Raises
    ------
    NotInLogError
        There is no such reading.
    """
    with reading_from(log) as connection:
        query = (
            sa.select(
                READING,
                PHOTO.c.sha256,
                PHOTO.c.width_px.label("photo_width_px"),
                PHOTO.c.height_px.label("photo_height_px"),
            )
            .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
            .join(PHOTO, PHOTO_USE.c.photo_id == PHOTO.c.id)
            .where(READING.c.id == reading_id)
        )
        row = row_of(connection, query, READING, reading_id)
        pack = connection.execute(
            sa.select(VOID_PACK).where(VOID_PACK.c.reading_id == reading_id)
        ).one_or_none()
        if pack is None:
            raise DamagedLogError(damaged(log))
        voids, rejected = unpacked(
            pack.layout, pack.counted, pack.rejected, pack.content
        )
        return packing.unpack_reading(row, voids, rejected)


def correct_reading(
    log: Log, line: ReadingLine, *, piece_id: int | None = None, use: PhotoUse
) -> None:
    """Put right which piece a reading is of, or what its photo shows.

    The figures never change; where the reading was before is kept in the history.

    Parameters
    ----------
    log : Log
        The log.
    line : ReadingLine
        As it was listed.
    piece_id : int, optional
        The right piece, the same if not given.
    use : PhotoUse
        The right use.

    Raises
    ------
    ConflictError
        Someone else corrected it since.
    NotInLogError
        The piece or the reading is not in the log.
    """
    with writing(log) as connection:
        query = (
            sa.select(READING.c.version, READING.c.photo_use_id, PHOTO_USE.c.photo_id)
            .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
            .where(READING.c.id == line.id)
        )
        row = row_of(connection, query, READING, line.id)
        if row.version != line.version:
            msg = (
                f"Someone else changed reading {line.id} since you opened it: "
                "look at it again, then correct it."
            )
            raise ConflictError(msg, stored=row.version, given=line)
        right_piece = line.piece_id if piece_id is None else piece_id
        check_piece(connection, right_piece)
        connection.execute(
            sa.insert(EDIT).values(
                record_kind="reading",
                record_id=line.id,
                version=line.version,
                before={"photo_use_id": row.photo_use_id},
                edited_at=now(),
            )
        )
        shown = use_id(connection, right_piece, row.photo_id, use)
        connection.execute(
            sa.update(READING)
            .where(READING.c.id == line.id)
            .values(photo_use_id=shown, version=line.version + 1)
        )
        # Its reviews are of the same photo and go with it.
        connection.execute(
            sa.update(READING)
            .where(READING.c.reviews_id == line.id)
            .values(photo_use_id=shown, version=READING.c.version + 1)
        )


def delete_reading(log: Log, reading_id: int) -> None:
    """Hide a reading."""
    set_deleted(log, READING, reading_id, deleted=True)


def restore_reading(log: Log, reading_id: int) -> None:
    """Bring a hidden reading back."""
    set_deleted(log, READING, reading_id, deleted=False)
