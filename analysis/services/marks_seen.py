"""Marks that the eye sees on a face beside its voids, and what they point to."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.diagnosis.advice import causes
from analysis.model.afterwards import SeenMark
from analysis.model.workshop import Form
from analysis.storage.castings import list_castings
from analysis.storage.records import add, hide, list_all
from analysis.vocabulary import OVER_VIBRATION

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.diagnosis import Cause
    from analysis.services.log import Log

__all__ = [
    "OverVibrated",
    "causes_of",
    "marks_of",
    "over_vibrated",
    "set_marks",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class OverVibrated:
    """Pieces of one form type and method with a mark of too much vibration.

    Attributes
    ----------
    seconds : float or None
        How long they were vibrated; None where it is not known.
    pieces, of : int
        With such a mark; cast that long at all.
    """

    seconds: float | None
    pieces: int
    of: int


def marks_of(log: Log, piece_id: int) -> tuple[str, ...]:
    """Return the marks seen on a piece, each once, as they were noted."""
    return (*dict.fromkeys(one.mark for one in _kept(log, piece_id)),)


def set_marks(log: Log, piece_id: int, wanted: Iterable[str]) -> None:
    """Make the marks of a piece those in `wanted`; what goes stays in the log, hidden.

    Raises
    ------
    InputError
        A mark is no name.
    """
    names = [*dict.fromkeys(wanted)]
    kept = _kept(log, piece_id)
    for one in kept:
        if one.mark not in names:
            hide(log, SeenMark, one.id or 0)
    known = {one.mark for one in kept}
    before = list_all(log, SeenMark, hidden=True, piece_id=piece_id)
    for name in names:
        if name not in known:
            # Counted, so that a mark that was taken away can be given again.
            count = sum(one.mark == name for one in before)
            token = f"mark {piece_id} {name} {count}"
            add(log, SeenMark(piece_id=piece_id, mark=name), save_token=token)


def causes_of(marks: Iterable[str]) -> tuple[Cause, ...]:
    """Return what may lie behind marks; nothing for words of the maker's own.

    Examples
    --------
    >>> [one.pattern for one in causes_of(["bleed streaks", "my own word"])]
    ['bleed streaks']
    """
    wanted = set(marks)
    return tuple(one for one in causes() if one.pattern in wanted)


def over_vibrated(log: Log, form_type: str, method: str) -> tuple[OverVibrated, ...]:
    """Count the pieces with marks of too much vibration, by their seconds.

    Parameters
    ----------
    log : Log
        The log.
    form_type, method : str
        As asked about.

    Returns
    -------
    tuple of OverVibrated
        Shortest first, unknown last; only where a mark was seen.
    """
    marked = {
        one.piece_id for one in list_all(log, SeenMark) if one.mark in OVER_VIBRATION
    }
    if not marked:
        return ()
    forms = {one.id for one in list_all(log, Form) if one.form_type == form_type}
    seen: Counter[float | None] = Counter()
    cast: Counter[float | None] = Counter()
    for casting in list_castings(log):
        piece = casting.piece
        if piece.form_id in forms and piece.vibration_method == method:
            cast[piece.vibration_s] += 1
            seen[piece.vibration_s] += piece.id in marked
    order = sorted(
        (key for key in seen if seen[key]),
        key=lambda s: float("inf") if s is None else s,
    )
    return tuple(
        OverVibrated(seconds=key, pieces=seen[key], of=cast[key]) for key in order
    )


def _kept(log: Log, piece_id: int) -> tuple[SeenMark, ...]:
    return list_all(log, SeenMark, piece_id=piece_id)
