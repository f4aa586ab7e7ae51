"""Reviews: a person's decisions beside the automatic reading, dated and signed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.checks import named, plain_text
from analysis.errors import InputError
from analysis.model.review import Mark, Outline
from analysis.storage.engine import reading as reading_from
from analysis.storage.packing import polygons
from analysis.storage.readings import insert_reading
from analysis.storage.saving import insert, now, row_of, save_once
from analysis.storage.tables import PHOTO, PHOTO_USE, PIECE, READING, REVIEW

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from analysis.model.log_views import Saved
    from analysis.model.reading import Reading
    from analysis.storage.engine import Log


def save_review(
    log: Log,
    *,
    reviews_id: int,
    reading: Reading,
    marks: Sequence[Mark],
    signed_by: str,
    save_token: str,
) -> Saved:
    """Keep a reviewed reading beside the automatic one it rests on.

    Parameters
    ----------
    log : Log
        The log.
    reviews_id : int
        The automatic reading.
    reading : Reading
        What the decisions make of it.
    marks : sequence of Mark
        The decisions, in the order made.
    signed_by : str
        Who decided; a name or initials.
    save_token : str
        Made once per state shown, so that a second press saves nothing.

    Returns
    -------
    Saved
        The reviewed reading's id.

    Raises
    ------
    InputError
        No signature, no decision, or not a review of that reading.
    NotInLogError
        There is no such reading.
    """
    named(signed_by, "The signature of a review")
    plain_text(signed_by, "The signature of a review")
    if not marks:
        msg = "Nothing was decided: reject, bring back or add a void, then save."
        raise InputError(msg)

    def work(connection: sa.Connection) -> int:
        query = (
            sa.select(READING.c.photo_use_id, READING.c.reviews_id, PHOTO.c.sha256)
            .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
            .join(PHOTO, PHOTO_USE.c.photo_id == PHOTO.c.id)
            .where(READING.c.id == reviews_id)
        )
        row = row_of(connection, query, READING, reviews_id)
        if row.reviews_id is not None or row.sha256 != reading.photo_sha256:
            msg = (
                f"Reading {reviews_id} is a review itself or of another photo: "
                "review the automatic reading of this photo."
            )
            raise InputError(msg)
        reading_id = insert_reading(connection, reading, row.photo_use_id, reviews_id)
        insert(
            connection,
            REVIEW,
            {
                "reading_id": reading_id,
                "signed_by": signed_by.strip(),
                "reviewed_at": now(),
                "marks": pack_marks(marks),
            },
        )
        return reading_id

    return save_once(log, save_token, "reading", work)


def marks_of_review(log: Log, reading_id: int) -> tuple[Mark, ...]:
    """Return the decisions of a stored review, none for an automatic reading."""
    with reading_from(log) as connection:
        packed = connection.scalar(
            sa.select(REVIEW.c.marks).where(REVIEW.c.reading_id == reading_id)
        )
    return unpack_marks(packed or ())


def last_signature(log: Log) -> str:
    """Return who signed last, empty when nobody did.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     last_signature(open_log(folder))
    ''
    """
    with reading_from(log) as connection:
        found = connection.scalar(
            sa.select(REVIEW.c.signed_by).order_by(REVIEW.c.id.desc()).limit(1)
        )
    return found or ""


def reviewed_share(log: Log) -> tuple[int, int]:
    """Count pieces with a review among their readings, and measured pieces in all.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     reviewed_share(open_log(folder))
    (0, 0)
    """
    piece = PHOTO_USE.c.piece_id
    # Without an else it is NULL, which COUNT passes over.
    reviewed = sa.case((READING.c.reviews_id.is_not(None), piece))
    query = (
        sa.select(sa.func.count(reviewed.distinct()), sa.func.count(piece.distinct()))
        .select_from(READING)
        .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
        .join(PIECE, piece == PIECE.c.id)
        .where(
            READING.c.deleted_at.is_(None),
            PIECE.c.deleted_at.is_(None),
            PHOTO_USE.c.purpose == "representative",
        )
    )
    with reading_from(log) as connection:
        count, measured = connection.execute(query).one()
    return count, measured


def pack_marks(marks: Iterable[Mark]) -> list[dict[str, Any]]:
    """Return decisions as JSON holds them.

    Examples
    --------
    >>> pack_marks([Mark(action="bring_back", spot=3)])[0]["spot"]
    3
    """
    return [_packed(mark) for mark in marks]


def unpack_marks(packed: Iterable[dict[str, Any]]) -> tuple[Mark, ...]:
    """Return decisions again, as they were packed.

    Examples
    --------
    >>> unpack_marks(pack_marks([Mark(action="bring_back", spot=3)]))[0].action
    'bring_back'
    """
    return tuple(_unpacked(one) for one in packed)


def _packed(mark: Mark) -> dict[str, Any]:
    """Return a decision as JSON holds it."""
    outline = mark.outline
    packed: dict[str, Any] = {
        "action": mark.action,
        "spot": mark.spot,
        "reason": mark.reason,
        "outline": None if outline is None else _packed_outline(outline),
    }
    if mark.gone:
        packed["gone"] = list(mark.gone)
        packed["outlines"] = [_packed_outline(one) for one in mark.outlines]
    return packed


def _packed_outline(outline: Outline) -> dict[str, Any]:
    return {
        "line_px": outline.line_px.tolist(),
        "area_px": outline.area_px,
        "contrast": outline.contrast,
        "drawn": outline.drawn,
    }


def _unpacked(packed: dict[str, Any]) -> Mark:
    """Return the decision again."""
    outline = packed["outline"]
    return Mark(
        **packed
        | {
            "outline": None if outline is None else _unpacked_outline(outline),
            "gone": tuple(packed.get("gone", ())),
            "outlines": tuple(map(_unpacked_outline, packed.get("outlines", ()))),
        }
    )


def _unpacked_outline(packed: dict[str, Any]) -> Outline:
    (line,) = polygons([packed["line_px"]])
    return Outline(**(packed | {"line_px": line}))
