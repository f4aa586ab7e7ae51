"""Judging pieces by published limits and by a product line's own target."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from analysis.errors import InputError
from analysis.grading.catalogue import OWN, criterion, own_criterion, published
from analysis.grading.grade import judge
from analysis.grading.wording import grade_sentence
from analysis.model.afterwards import HandFigures, SeenMark, Verdict
from analysis.model.grading import ByHand, JudgedArea
from analysis.model.log_views import Saved
from analysis.model.workshop import FinishTarget, Form, ProductLine
from analysis.services.pieces import standing_lines
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading
from analysis.storage.records import add, list_all, load
from analysis.vocabulary import HONEYCOMB

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from analysis.model.grading import Criterion, Judgement
    from analysis.model.log import Piece
    from analysis.model.log_views import Casting, ReadingLine
    from analysis.services.log import Log

__all__ = [
    "PastVerdict",
    "choices",
    "judge_piece",
    "keep_verdict",
    "verdicts",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class PastVerdict:
    """A verdict as it was kept, with the version of the target it was given by.

    Attributes
    ----------
    reading_id, target_id : int
        What was judged; by which version of the target.
    verdict : str
        As given then.
    in_force : bool
        Whether that version is still the target of the piece's product line.
    """

    reading_id: int
    target_id: int
    verdict: str
    in_force: bool


def choices(log: Log, piece: Piece) -> tuple[Criterion, ...]:
    """Return what a piece can be judged by: its own target first, if there is one.

    Where there is none, nothing is assumed: a standard is for the maker to choose.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> from analysis.model.log import Piece
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     choices(open_log(folder), Piece(name="7", pour_id=1))[0].code
    'oenorm_b2211_pores'
    """
    own = _own(log, piece)
    return published() if own is None else (own, *published())


def judge_piece(
    log: Log,
    casting: Casting,
    code: str,
    by_hand: Mapping[str, float] | None = None,
) -> Judgement:
    """Judge a piece by one criterion; nothing is kept.

    What was measured by hand counts as the log has it, the greatest of each figure;
    `by_hand` goes before. A patch in a photo is honeycomb for certain only once it is
    among the marks seen on the piece.

    Parameters
    ----------
    log : Log
        The log.
    casting : Casting
        The piece.
    code : str
        Of a published criterion, or ``OWN``.
    by_hand : mapping of str to float, optional
        Figures measured on the piece.

    Raises
    ------
    InputError
        No such criterion, or the piece's product line has no target.
    """
    piece = casting.piece
    chosen = _own(log, piece) if code == OWN else criterion(code)
    if chosen is None:
        msg = f"Piece {piece.name} has no finish target: set one for its product line."
        raise InputError(msg)
    lines = standing_lines(log, piece.id or 0)
    areas = tuple(
        JudgedArea(
            name=line.photo_name,
            reading=load_reading(log, line.id),
            stage=line.use.stage,
        )
        for line in lines
    )
    figures = _by_hand(log, piece.id or 0) | dict(by_hand or {})
    marks = {one.mark for one in list_all(log, SeenMark, piece_id=piece.id or 0)}
    eye = ByHand(figures=figures, honeycomb_seen=HONEYCOMB in marks)
    return judge(chosen, areas, eye)


def _by_hand(log: Log, piece_id: int) -> dict[str, float]:
    found: dict[str, float] = {}
    for one in list_all(log, HandFigures, piece_id=piece_id):
        for name, value in one.known.items():
            found[name] = max(value, found.get(name, 0.0))
    return found


def keep_verdict(log: Log, casting: Casting, *, save_token: str) -> Saved:
    """Judge a piece by the target in force now and keep the verdict.

    What was kept before stays, with the version of the target it was given by:
    judging again adds, where it says anything new.

    Raises
    ------
    InputError
        The piece has no measured photo, or its product line no target.
    """
    found = judge_piece(log, casting, OWN)
    target, _ = _target(log, casting.piece)
    lines = standing_lines(log, casting.piece.id or 0)
    if target is None or not lines or not found.grade:
        msg = f"Piece {casting.piece.name} has nothing to judge yet: measure a face."
        raise InputError(msg)
    verdict = Verdict(
        reading_id=max(line.id for line in lines),
        finish_target_id=target.id or 0,
        verdict=found.grade,
        note=grade_sentence(found),
    )
    kept = _verdicts(log, lines)
    if kept and replace(kept[0], id=None, version=verdict.version) == verdict:
        return Saved(id=kept[0].id or 0, already_saved=True)
    return add(log, verdict, save_token=save_token)


def verdicts(log: Log, casting: Casting) -> tuple[PastVerdict, ...]:
    """Return the verdicts kept of a piece, latest first."""
    lines = list_readings(log, piece_id=casting.piece.id)
    target, _ = _target(log, casting.piece)
    now = None if target is None else target.id
    return tuple(
        PastVerdict(
            reading_id=one.reading_id,
            target_id=one.finish_target_id,
            verdict=one.verdict,
            in_force=one.finish_target_id == now,
        )
        for one in _verdicts(log, lines)
    )


def _verdicts(log: Log, lines: Iterable[ReadingLine]) -> list[Verdict]:
    found = [
        one for line in lines for one in list_all(log, Verdict, reading_id=line.id)
    ]
    return sorted(found, key=lambda one: -(one.id or 0))


def _own(log: Log, piece: Piece) -> Criterion | None:
    target, line = _target(log, piece)
    return None if target is None else own_criterion(target, line)


def _target(log: Log, piece: Piece) -> tuple[FinishTarget | None, str]:
    """Return the target in force for the line a piece was cast for, else its form's."""
    line_id = piece.product_line_id
    if line_id is None and piece.form_id is not None:
        line_id = load(log, Form, piece.form_id).product_line_id
    if line_id is None:
        return None, ""
    stored = list_all(log, FinishTarget, product_line_id=line_id)
    limited = [one for one in stored[:1] if own_criterion(one, "").limited]
    if not limited:
        return None, ""
    return limited[0], load(log, ProductLine, line_id).name
