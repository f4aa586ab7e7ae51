"""Approved reference pieces, and a piece beside one at the same scale."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError
from analysis.model.afterwards import ReferencePiece
from analysis.model.writing import percent
from analysis.report.beside_reference import (
    SIDE_MM,
    BesideFace,
    PairOfFaces,
    beside_sheet,
)
from analysis.services.log import list_castings, load_reading
from analysis.services.photos import encoded, read_photo, resized, seen
from analysis.services.pieces import standing_lines
from analysis.services.records import today
from analysis.storage.photo_store import photo_bytes
from analysis.storage.records import add, hide, list_all

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.log_views import Casting
    from analysis.model.reading import Reading
    from analysis.services.log import Log

__all__ = [
    "PairOfFaces",
    "approval",
    "approve",
    "beside",
    "beside_pdf",
    "references",
    "take_back",
    "times_approved",
]

_PX_PER_MM = 8.0


def approval(log: Log, piece_id: int) -> ReferencePiece | None:
    """Return a piece's approval as a reference, None where it has none."""
    found = list_all(log, ReferencePiece, piece_id=piece_id)
    return found[-1] if found else None


def approve(log: Log, casting: Casting, *, save_token: str) -> None:
    """Approve a piece as a reference of its product line; once is enough.

    Raises
    ------
    InputError
        It has no measured face with a scale.
    """
    piece = casting.piece
    if approval(log, piece.id or 0) is not None:
        return
    if _face(log, casting) is None:
        msg = (
            f"Piece {piece.name} has no measured face with a scale: measure one before "
            "it becomes a reference."
        )
        raise InputError(msg)
    record = ReferencePiece(
        piece_id=piece.id or 0,
        product_line_id=piece.product_line_id,
        approved_on=today(),
    )
    add(log, record, save_token=save_token)


def times_approved(log: Log, piece_id: int) -> int:
    """Return how often a piece was approved, approvals taken back included."""
    return sum(
        len(list_all(log, ReferencePiece, hidden=hidden, piece_id=piece_id))
        for hidden in (False, True)
    )


def take_back(log: Log, reference: ReferencePiece) -> None:
    """Take an approval back; the piece stays."""
    hide(log, ReferencePiece, reference.id or 0)


def references(log: Log, casting: Casting) -> tuple[Casting, ...]:
    """Return the other pieces approved for a piece's product line, latest first."""
    line = casting.piece.product_line_id
    approved = [
        one.piece_id
        for one in list_all(log, ReferencePiece)
        if one.product_line_id == line and one.piece_id != casting.piece.id
    ]
    live = {one.piece.id: one for one in list_castings(log, piece_ids=approved)}
    latest = dict.fromkeys(reversed(approved))
    return tuple(live[one] for one in latest if one in live)


def beside(log: Log, casting: Casting, reference: Casting) -> PairOfFaces | None:
    """Return both faces at one scale; None where one has no face with a scale.

    Raises
    ------
    StruckfaceError
        A photo is gone or damaged.
    """
    found = [_face(log, one) for one in (casting, reference)]
    if found[0] is None or found[1] is None:
        return None
    (piece_face, piece), (reference_face, other) = found[0], found[1]
    side_mm = min(SIDE_MM, _room_mm(piece_face, piece), _room_mm(reference_face, other))
    titles = (
        f"Piece {casting.piece.name}",
        f"Reference, piece {reference.piece.name}",
    )
    shown = ((piece_face, piece), (reference_face, other))
    this, that = (
        BesideFace(
            title=title, says=_says(reading), picture=_square(face, reading, side_mm)
        )
        for title, (face, reading) in zip(titles, shown, strict=True)
    )
    return PairOfFaces(side_mm=side_mm, faces=(this, that))


def beside_pdf(log: Log, casting: Casting, reference: Casting, *, page: str) -> bytes:
    """Return both faces as PDF, in their true size.

    Raises
    ------
    InputError
        One of them has no face with a scale, or no such page.
    """
    pair = beside(log, casting, reference)
    if pair is None:
        msg = "One of the two has no measured face with a scale: measure it first."
        raise InputError(msg)
    return beside_sheet(pair, page=page)


def _says(reading: Reading) -> str:
    summary = reading.summary
    if summary.void_count == 0 and summary.smallest_counted_mm is not None:
        return f"no voids of {summary.smallest_counted_mm:.2g} mm or more"
    return f"{percent(summary.void_share.value)} % void area"


def _face(log: Log, casting: Casting) -> tuple[NDArray[np.uint8], Reading] | None:
    """Return the latest representative face that has a scale."""
    for line in standing_lines(log, casting.piece.id or 0):
        reading = load_reading(log, line.id)
        if reading.scale is not None:
            photo = read_photo(photo_bytes(log, line.photo_sha256), line.photo_name)
            return seen(photo, reading.face.view).pixels, reading
    return None


def _box(
    pixels: NDArray[np.uint8], reading: Reading
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    size = np.array(pixels.shape[:2], dtype=np.float64)
    outline = reading.face.outline_px
    if outline is None:
        return np.zeros(2), size
    return np.clip(outline.min(axis=0), 0, size - 1), np.clip(
        outline.max(axis=0) + 1, 1, size
    )


def _mm_per_px(reading: Reading) -> float:
    return 1.0 if reading.scale is None else reading.scale.mm_per_px


def _room_mm(pixels: NDArray[np.uint8], reading: Reading) -> float:
    low, high = _box(pixels, reading)
    return float((high - low).min()) * _mm_per_px(reading)


def _square(pixels: NDArray[np.uint8], reading: Reading, side_mm: float) -> bytes:
    """Cut a square out of the middle of a face, so many px per mm."""
    low, high = _box(pixels, reading)
    side = side_mm / _mm_per_px(reading)
    first = np.floor((low + high - side) / 2).clip(0).astype(int)
    end = np.minimum(first + max(round(side), 1), pixels.shape[:2])
    cut = pixels[first[0] : end[0], first[1] : end[1]]
    return encoded(resized(cut, round(side_mm * _PX_PER_MM)), "JPEG")
