"""Why an answer about vibration is what it is: codes with values, the weightiest first.

`analysis.vibration.words.notes` says them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.model.notes import note

if TYPE_CHECKING:
    from analysis.model.notes import Note
    from analysis.model.vibration import (
        Decision,
        FirstCause,
        OpenReason,
        ShareSpan,
        VibrationQuestion,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the reasons and the next casting are made of.

    Attributes
    ----------
    question, decision, cause, reasons, current_s, now, expected, suggested_s, pours
        As in `analysis.model.vibration.VibrationAnswer`.
    tried : tuple of float
        Amounts tried, rising.
    leak : bool
        The voids sit along the joints.
    bottom_s : float or None
        Amount of fewest voids, where two were tried.
    """

    question: VibrationQuestion
    decision: Decision
    cause: FirstCause | None = None
    reasons: tuple[OpenReason, ...] = ()
    current_s: float | None = None
    tried: tuple[float, ...] = ()
    pours: int = 0
    now: ShareSpan | None = None
    expected: ShareSpan | None = None
    suggested_s: float | None = None
    leak: bool = False
    bottom_s: float | None = None


def why(facts: Facts) -> tuple[Note, ...]:
    """Give the reasons of a decision.

    Examples
    --------
    >>> from analysis.model.vibration import ShareSpan
    >>> from analysis.model.vibration import VibrationQuestion
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> now = ShareSpan(middle=0.008, low=0.007, high=0.009)
    >>> facts = Facts(question=asked, decision="more", current_s=30.0, now=now)
    >>> [one.code for one in why(facts)]
    ['share_now']
    """
    question, cause = facts.question, facts.cause
    stays = facts.decision == "same"  # then the headline says all of it
    found = []
    if facts.now is not None and facts.current_s is not None and not stays:
        found.append(
            note(
                "share_now",
                amount_now=facts.current_s,
                now=facts.now,
                question=question,
            )
        )
    if facts.decision in {"more", "less"}:
        found += _expected(facts)
    if cause is not None and cause.name != "honeycomb_percent":  # its remedy says it
        found.append(note("cause_holds", cause=cause, question=question))
    if facts.decision == "other_cause_first":
        found.append(
            note("look_at")
            if cause is None
            else note("remedy", cause=cause, dose=question.dose)
        )
    elif facts.leak and not stays:
        found.append(note("leaks_too"))
    found += [note("open", reason=one, question=question) for one in facts.reasons]
    return tuple(found)


def _expected(facts: Facts) -> list[Note]:
    """Tell what the suggested amount gives, and whether that will do."""
    if facts.expected is None or facts.suggested_s is None:
        return []
    found = [
        note(
            "share_expected",
            amount_suggested=facts.suggested_s,
            expected=facts.expected,
            tried=facts.tried,
            dose=facts.question.dose,
        )
    ]
    if facts.expected.middle > facts.question.target_high:
        found.append(note("not_enough_alone"))
    elif facts.expected.middle < facts.question.target_low:
        found.append(note("too_few_still"))
    return found
