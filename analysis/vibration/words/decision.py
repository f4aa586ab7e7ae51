"""The answer about vibration in one line, as keys and for a terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.sizes import against
from analysis.vibration.words.advice import OVER_SIGNS, checks
from analysis.vibration.words.doses import WORDS, amount
from analysis.vibration.words.notes import note_words
from analysis.vibration.words.reasons import (
    cause_line,
    in_short,
    no_amount_will_do,
    span,
    target,
)

if TYPE_CHECKING:
    from analysis.model.vibration import VibrationAnswer


def sentence(answer: VibrationAnswer) -> str:
    """Say it in one line: verdict, direction, size in percent, how sure.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> from analysis.vibration.dose_answer import vibration
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> sentence(vibration(piece_table([]), asked))
    'Not enough evidence yet: no pot by table is measured.'
    """
    dose = answer.question.dose
    head = WORDS[dose].heads[answer.decision]
    if answer.decision in {"more", "less"}:
        return f"{head}: {_moved(answer)}{_from(answer)}: clear{_without(answer)}."
    if answer.decision == "same":
        return f"{head}: {_stays(answer)}{_from(answer)}: clear{_without(answer)}."
    if answer.decision == "other_cause_first":
        return f"{head}: {_cause(answer)}{_without(answer)}."
    short = [in_short(one, answer.question) for one in answer.reasons]
    if short and _by_pours(answer):
        short[0] += _from(answer)
    told = f"{head}: {'; '.join(short)}" if short else head
    return f"{told}{_without(answer)}."


def _moved(answer: VibrationAnswer) -> str:
    dose = answer.question.dose
    said = amount(answer.suggested_s or 0.0, dose)
    found = answer.change
    if found is None or answer.current_s is None:
        return said
    now = amount(answer.current_s, dose)
    return f"{said} should give {against(found.ratio, found.low, found.high, now)}"


def _stays(answer: VibrationAnswer) -> str:
    """Say that what is done now meets the target."""
    dose = answer.question.dose
    now = "the present way" if answer.current_s is None else ""
    said = now or amount(answer.current_s or 0.0, dose)
    if answer.now is None:
        return f"{said} meets the target"
    return (
        f"{said} gives {span(answer.now)} and meets the target of "
        f"{target(answer.question)}"
    )


def _cause(answer: VibrationAnswer) -> str:
    cause = answer.cause
    if cause is not None and cause.name == "form_use" and cause.low is None:
        return "the forms are worn"  # told by the form's own castings
    if cause is not None:
        return f"{cause_line(cause)}{_from(answer)}: clear"
    return f"{no_amount_will_do(answer.question.dose)}{_from(answer)}: clear"


def _by_pours(answer: VibrationAnswer) -> bool:
    return any(one.code in {"either_side", "by_chance"} for one in answer.reasons)


def _from(answer: VibrationAnswer) -> str:
    if not answer.pours:
        return ""
    return f", from {answer.pours} pour{'' if answer.pours == 1 else 's'}"


def _without(answer: VibrationAnswer) -> str:
    if not answer.left_out:
        return ""
    many = "piece" if answer.left_out == 1 else "pieces"
    return f"; {answer.left_out} {many} left out"


def vibration_keys(answer: VibrationAnswer) -> dict[str, object]:
    """Return an answer as a dictionary that JSON can hold; shares in percent.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> from analysis.vibration.dose_answer import vibration
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> keys = vibration_keys(vibration(piece_table([]), asked))
    >>> keys["decision"], keys["suggested_s"]
    ('not_enough_evidence', None)
    """
    expected, trial = answer.expected, answer.trial
    by_time = answer.question.dose == "seconds"
    return {
        "decision": answer.decision,
        "dose": answer.question.dose,
        "current_dose": answer.current_s,
        "suggested_dose": answer.suggested_s,
        "current_s": answer.current_s if by_time else None,
        "suggested_s": answer.suggested_s if by_time else None,
        "expected_percent": None if expected is None else 100 * expected.middle,
        "expected_low": None if expected is None else 100 * expected.low,
        "expected_high": None if expected is None else 100 * expected.high,
        "why": " ".join((sentence(answer), *_reasons(answer))),
        "next_trial": " ".join(map(note_words, (trial.title, *trial.steps))),
    }


def vibration_text(answer: VibrationAnswer) -> str:
    """Return an answer for a terminal.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> from analysis.vibration.dose_answer import vibration
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> vibration_text(vibration(piece_table([]), asked)).splitlines()[1]
    '  The log has no measured pot (table) yet.'
    """
    parts = [
        sentence(answer),
        *(f"  {line}" for line in _reasons(answer)),
        note_words(answer.trial.title),
        *(f"  {n}. {note_words(one)}" for n, one in enumerate(answer.trial.steps, 1)),
        "Before you vibrate:",
        *(f"  {line}" for line in checks(answer.question.method)),
        "Too much, if you see:",
        *(f"  {line}" for line in OVER_SIGNS),
    ]
    return "\n".join(parts)


def _reasons(answer: VibrationAnswer) -> tuple[str, ...]:
    return (*map(note_words, (*answer.why, *answer.rests_on)),)
