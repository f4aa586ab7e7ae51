"""Readings: kept with their photo in one save, given back as they were."""

from __future__ import annotations

from contextlib import ExitStack
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.errors import ConflictError, DamagedLogError, InputError
from analysis.model.log import PhotoUse
from analysis.model.log_views import ReadingLine
from analysis.storage import packing
from analysis.storage.engine import damaged, writing
from analysis.storage.engine import reading as reading_from
from analysis.storage.photo_store import digest, put
from analysis.storage.photos import check_piece, keep_photo, photo_row, tidied, use_id
from analysis.storage.records import write
from analysis.storage.store import insert, now, row_of, save_once, set_deleted
from analysis.storage.tables import (
    EDIT,
    PHOTO,
    PHOTO_USE,
    PIECE,
    POUR,
    READING,
    REVIEW,
    VOID_PACK,
)
from analysis.storage.terms import term_names
from analysis.storage.usual import usual_values
from analysis.storage.void_packs import packed, unpacked

if TYPE_CHECKING:
    from collections.abc import Callable, Collection

    from analysis.model.log import Piece, Pour
    from analysis.model.log_views import Saved
    from analysis.model.photo import Photo, PhotoFacts
    from analysis.model.reading import Reading
    from analysis.model.workshop import Form
    from analysis.storage.engine import Log

    SecondFile = tuple[bytes, Photo]

# What a reading in brief is made of; outlines and voids are left where they are.
_OF_LINE = (
    READING.c.id,
    READING.c.reviews_id,
    READING.c.measured_at,
    READING.c.created_at,
    READING.c.method_version,
    READING.c.void_share,
    READING.c.void_share_low,
    READING.c.void_share_high,
    READING.c.void_count,
    READING.c.smallest_counted_mm,
    READING.c.face_area_px,
    READING.c.face_area_mm2,
    READING.c.void_area_px,
    READING.c.largest_void_mm,
    READING.c.joint_band_share,
    READING.c.open_face_share,
    READING.c.honeycomb_share,
    READING.c.joint_length_mm,
    READING.c.sand_length_mm,
    READING.c.fin_length_mm,
    READING.c.arris_loss_mm2_per_m,
    READING.c.light_flags,
    READING.c.version,
    PHOTO_USE.c.piece_id,
    PHOTO_USE.c.purpose,
    PHOTO_USE.c.stage,
    PHOTO_USE.c.surface_state,
    PHOTO_USE.c.set_up_id,
    PHOTO_USE.c.age_h,
    PHOTO.c.sha256,
    PHOTO.c.name,
    PHOTO.c.taken_at,
    REVIEW.c.signed_by,
    REVIEW.c.reviewed_at,
)


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


def list_readings(
    log: Log, *, piece_id: int | None = None, sha256: str | None = None
) -> tuple[ReadingLine, ...]:
    """Return readings in brief, latest first, without the deleted ones.

    Parameters
    ----------
    log : Log
        The log.
    piece_id : int, optional
        Only this piece's.
    sha256 : str, optional
        Only those of this photo.

    Returns
    -------
    tuple of ReadingLine
        Empty when nothing was measured.
    """
    with reading_from(log) as connection:
        return lines_of(connection, piece_id=piece_id, sha256=sha256)


def lines_of_pieces(log: Log, piece_ids: Collection[int]) -> tuple[ReadingLine, ...]:
    """Return the readings of some pieces in brief, latest first.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     lines_of_pieces(open_log(folder), [1, 2])
    ()
    """
    with reading_from(log) as connection:
        return lines_of(connection, piece_ids=piece_ids)


def lines_of(
    connection: sa.Connection,
    *,
    piece_id: int | None = None,
    sha256: str | None = None,
    piece_ids: Collection[int] | None = None,
) -> tuple[ReadingLine, ...]:
    """Return readings in brief on a connection; as `list_readings`."""
    query = (
        sa.select(*_OF_LINE)
        .set_label_style(sa.LABEL_STYLE_TABLENAME_PLUS_COL)
        .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
        .join(PHOTO, PHOTO_USE.c.photo_id == PHOTO.c.id)
        .join(PIECE, PHOTO_USE.c.piece_id == PIECE.c.id)
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .outerjoin(REVIEW, REVIEW.c.reading_id == READING.c.id)
        .where(
            READING.c.deleted_at.is_(None),
            PIECE.c.deleted_at.is_(None),
            POUR.c.deleted_at.is_(None),
        )
        # By the log's own count: a clock may have been set back since.
        .order_by(READING.c.id.desc())
    )
    if piece_id is not None:
        query = query.where(PHOTO_USE.c.piece_id == piece_id)
    if sha256 is not None:
        query = query.where(PHOTO.c.sha256 == sha256)
    if piece_ids is not None:
        query = query.where(PHOTO_USE.c.piece_id.in_(piece_ids))
    names = term_names(connection)
    return tuple(_line(row, names) for row in connection.execute(query))


def _line(row: Any, names: dict[int, str]) -> ReadingLine:  # noqa: ANN401 - rows carry any type
    """Build the brief of one reading."""
    return ReadingLine(
        id=row.reading_id,
        piece_id=row.photo_use_piece_id,
        photo_sha256=row.photo_sha256,
        photo_name=row.photo_name,
        use=_use(
            row.photo_use_purpose,
            row.photo_use_stage,
            row.photo_use_surface_state,
            names.get(row.photo_use_set_up_id),
            row.photo_use_age_h,
        ),
        reviews_id=row.reading_reviews_id,
        measured_at=row.reading_measured_at,
        saved_at=row.reading_created_at,
        taken_at=row.photo_taken_at,
        method_version=row.reading_method_version,
        void_share=row.reading_void_share,
        void_share_low=row.reading_void_share_low,
        void_share_high=row.reading_void_share_high,
        void_count=row.reading_void_count,
        smallest_counted_mm=row.reading_smallest_counted_mm,
        face_area_px=row.reading_face_area_px,
        face_area_mm2=row.reading_face_area_mm2,
        void_area_px=row.reading_void_area_px,
        largest_void_mm=row.reading_largest_void_mm,
        joint_band_share=row.reading_joint_band_share,
        open_face_share=row.reading_open_face_share,
        honeycomb_share=row.reading_honeycomb_share,
        joint_length_mm=row.reading_joint_length_mm,
        sand_length_mm=row.reading_sand_length_mm,
        fin_length_mm=row.reading_fin_length_mm,
        arris_loss_mm2_per_m=row.reading_arris_loss_mm2_per_m,
        light_flags=tuple(row.reading_light_flags),
        version=row.reading_version,
        reviewed_by=row.review_signed_by,
        reviewed_at=row.review_reviewed_at,
    )


@lru_cache(maxsize=256)
def _use(
    purpose: str,
    stage: str | None,
    surface_state: str | None,
    set_up: str | None,
    age_h: float | None,
) -> PhotoUse:
    """Build what a photo shows; thousands of photos share a few of these."""
    return PhotoUse(
        purpose=purpose,
        stage=stage,
        surface_state=surface_state,
        set_up=set_up,
        age_h=age_h,
    )


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
