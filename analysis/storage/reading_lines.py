"""Readings in brief: what a list needs, without outlines and voids."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.model.log import PhotoUse
from analysis.model.log_views import ReadingLine
from analysis.storage.engine import reading as reading_from
from analysis.storage.tables import PHOTO, PHOTO_USE, PIECE, POUR, READING, REVIEW
from analysis.storage.terms import term_names

if TYPE_CHECKING:
    from collections.abc import Collection

    from analysis.model.photo import Photo
    from analysis.storage.engine import Log

    SecondFile = tuple[bytes, Photo]

_SHOWN = (
    READING.c.deleted_at.is_(None)
    & PIECE.c.deleted_at.is_(None)
    & POUR.c.deleted_at.is_(None)
)
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


def readings_by_piece(
    log: Log, *, automatic: bool = False
) -> dict[int, tuple[int, int]]:
    """Return how many readings each piece has and the key of the latest.

    Parameters
    ----------
    log : Log
        The log.
    automatic : bool
        Without people's reviews.

    Returns
    -------
    dict of int to (int, int)
        By piece, the one measured first first; without what is hidden.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     readings_by_piece(open_log(folder))
    {}
    """
    query = (
        sa.select(PHOTO_USE.c.piece_id, sa.func.count(), sa.func.max(READING.c.id))
        .select_from(READING)
        .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
        .join(PIECE, PHOTO_USE.c.piece_id == PIECE.c.id)
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .where(_SHOWN)
        .group_by(PHOTO_USE.c.piece_id)
        .order_by(sa.func.min(READING.c.id))
    )
    if automatic:
        query = query.where(READING.c.reviews_id.is_(None))
    with reading_from(log) as connection:
        return {row[0]: (row[1], row[2]) for row in connection.execute(query)}


def pieces_of_readings(log: Log, reading_ids: Collection[int]) -> dict[int, int]:
    """Return the piece of each reading, without what is hidden.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     pieces_of_readings(open_log(folder), [1])
    {}
    """
    query = (
        sa.select(READING.c.id, PHOTO_USE.c.piece_id)
        .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
        .join(PIECE, PHOTO_USE.c.piece_id == PIECE.c.id)
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .where(_SHOWN, READING.c.id.in_(reading_ids))
    )
    with reading_from(log) as connection:
        return {row.id: row.piece_id for row in connection.execute(query)}


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
        .where(_SHOWN)
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
