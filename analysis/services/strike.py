"""A piece just struck: in or out of its target, and what differs from the last good."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.fields import column_field, fields_of
from analysis.model.afterwards import ReferencePiece
from analysis.model.field_values import column_value
from analysis.model.log_views import ReadingLine
from analysis.model.strike import StrikeCard, Unlike
from analysis.model.workshop import FinishTarget, Form, Mix
from analysis.pieces.target import interval_of, is_limiting, line_of, place_to
from analysis.report.strike_words import (
    place_sentence,
    reference_sentence,
    strike_lines,
)
from analysis.services.log import list_castings
from analysis.services.pieces import standing_lines
from analysis.services.references import approval
from analysis.storage.piece_table import brought_shares
from analysis.storage.records import list_all, load

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.log import PhotoUse, Piece, Pour
    from analysis.model.log_views import Casting
    from analysis.model.reading import Reading
    from analysis.services.log import Log

__all__ = [
    "as_line",
    "place_sentence",
    "reference_sentence",
    "strike_card",
    "strike_lines",
]

_LOOKED_AT = 20
_ROLES = frozenset({"setting", "condition_of_day"})
_OF_PIECE = ("joint_sealing", "vibration_method", "vibration_s")


def strike_card(
    log: Log,
    piece: Piece,
    *,
    lines: Sequence[ReadingLine] | None = None,
    pour: Pour | None = None,
) -> StrikeCard:
    """Return what is asked first of a piece, of the log or about to be saved.

    Parameters
    ----------
    log : Log
    piece : Piece
        Without an id while it is not saved.
    lines : sequence of ReadingLine, optional
        What stands for it; by default what the log has.
    pour : Pour, optional
        Its pour, for what was so on that day.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.model.log import Piece
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     strike_card(open_log(folder), Piece(name="7", pour_id=0)).place
    'not measured'
    """
    if lines is None:
        lines = standing_lines(log, piece.id) if piece.id else ()
    form = load(log, Form, piece.form_id) if piece.form_id else None
    line_id = line_of(piece, form)
    target = _target(log, line_id)
    found = interval_of(lines)
    brought = None if lines else brought_shares(log).get(piece.id or 0)
    share = brought if found is None else found[0]
    reference, beside = "", ""
    if target is None and found is not None:
        reference, beside = _beside(log, piece, line_id, found[1:])
    last, is_good = _last_good(log, piece, target)
    return StrikeCard(
        share=share,
        low=None if found is None else found[1],
        high=None if found is None else found[2],
        place=place_to(target, lines, brought),
        target=target,
        reference=reference,
        beside=beside,
        last="" if last is None else last.piece.name,
        last_is_good=is_good,
        unlike=() if last is None else _unlike(log, piece, pour, last),
    )


def as_line(reading: Reading, use: PhotoUse) -> ReadingLine:
    """Return a reading that is not saved yet as lists have it."""
    found = reading.summary
    return ReadingLine(
        id=0,
        piece_id=0,
        photo_sha256=reading.photo_sha256,
        photo_name="",
        use=use,
        reviews_id=None,
        measured_at=reading.measured_at,
        saved_at=reading.measured_at,
        taken_at=None,
        method_version=reading.method_version,
        void_share=found.void_share.value,
        void_share_low=found.void_share.low,
        void_share_high=found.void_share.high,
        void_count=found.void_count,
        smallest_counted_mm=found.smallest_counted_mm,
        face_area_px=found.face_area_px,
        face_area_mm2=found.face_area_mm2,
        void_area_px=found.void_share.value * found.face_area_px,
        largest_void_mm=found.largest_void_mm,
        honeycomb_share=found.honeycomb_share,
    )


def _target(log: Log, line_id: int | None) -> FinishTarget | None:
    if line_id is None:
        return None
    stored = list_all(log, FinishTarget, product_line_id=line_id)
    return stored[0] if stored and is_limiting(stored[0]) else None


def _beside(
    log: Log, piece: Piece, line_id: int | None, mine: tuple[float, float]
) -> tuple[str, str]:
    """Return the latest reference piece of a line, and how this one lies to it."""
    for other in _approved(log, line_id):
        theirs = interval_of(standing_lines(log, other.piece.id))
        if other.piece.id == piece.id or theirs is None:
            continue
        if mine[0] > theirs[2]:
            return other.piece.name, "more"
        return other.piece.name, "fewer" if mine[1] < theirs[1] else "alike"
    return "", ""


def _approved(log: Log, line_id: int | None) -> list[Casting]:
    ids = [
        one.piece_id
        for one in list_all(log, ReferencePiece)
        if one.product_line_id == line_id
    ]
    if not ids:
        return []
    live = {one.piece.id: one for one in list_castings(log, piece_ids=ids)}
    return [live[one] for one in dict.fromkeys(reversed(ids)) if one in live]


def _last_good(
    log: Log, piece: Piece, target: FinishTarget | None
) -> tuple[Casting | None, bool]:
    """Return the latest earlier piece of the form inside its target, else the last."""
    if piece.form_id is None:
        return None, False
    castings = list_castings(log, form_id=piece.form_id)
    own = [at for at, one in enumerate(castings) if one.piece.id == piece.id]
    before = castings[own[0] + 1 :] if own and piece.id else castings
    if target is not None:
        for one in before[:_LOOKED_AT]:
            if place_to(target, standing_lines(log, one.piece.id)) == "inside":
                return one, True
    for one in before[:_LOOKED_AT]:
        if approval(log, one.piece.id or 0) is not None:
            return one, True
    return (before[0] if before else None), False


def _unlike(
    log: Log, piece: Piece, pour: Pour | None, last: Casting
) -> tuple[Unlike, ...]:
    """Compare what was chosen and what was so, as far as both are known."""
    found: list[tuple[str, str, object, object]] = []
    for name in _OF_PIECE:
        known = column_field(name)
        label = name
        if known is not None:
            label = known.factor if known.is_number else known.label
        unit = "" if known is None else known.unit
        found.append((label, unit, getattr(piece, name), getattr(last.piece, name)))
    for owner, now, then in (("piece", piece, last.piece), ("pour", pour, last.pour)):
        for one in fields_of(owner):
            if now is None or one.role not in _ROLES or not hasattr(now, one.name):
                continue
            if one.kind in {"day", "time"}:
                continue  # no two pours share them: they would stand on every card
            values: tuple[object, ...] = (
                getattr(now, one.name),
                getattr(then, one.name),
            )
            if one.kind == "reference":
                if one.name != "mix_id" or None in values:
                    continue
                values = tuple(load(log, Mix, int(str(key))).name for key in values)
            else:
                values = tuple(column_value(value, one) for value in values)
            found.append((one.factor, one.unit, values[0], values[1]))
    return tuple(
        Unlike(label=label, unit=unit, now=_said(now), then=_said(then))
        for label, unit, now, then in found
        if now not in {None, ""} and then not in {None, ""} and now != then
    )


def _said(value: object) -> str:
    return f"{value:.6g}" if isinstance(value, float) else str(value)
