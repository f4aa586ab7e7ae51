"""Why an answer about vibration is what it is: codes with values, said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.compare.level_words import level_words
from analysis.model.field_words import cell_words, column_words
from analysis.model.sizes import against
from analysis.vibration.words.advice import LOOK_AT, remedy
from analysis.vibration.words.doses import WORDS, amount

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from analysis.model.vibration import (
        Decision,
        Dose,
        FirstCause,
        OpenReason,
        ShareSpan,
        VibrationQuestion,
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Facts:
    """What the sentences are made of."""

    question: VibrationQuestion
    current_s: float | None = None
    tried: tuple[float, ...] = ()
    pieces: int = 0
    pours: int = 0
    now: ShareSpan | None = None
    expected: ShareSpan | None = None
    suggested_s: float | None = None
    stiff: bool = False
    leak: bool = False
    bottom_s: float | None = None  # of fewest voids, where two times were tried


def share(value: float) -> str:
    """Write a share in percent, two digits.

    Examples
    --------
    >>> share(0.00432), share(0.123)
    ('0.43 %', '12 %')
    """
    return f"{float(f'{100 * value:.2g}'):g} %"


def target(question: VibrationQuestion) -> str:
    """Write the target.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> target(VibrationQuestion(form_type="pot", method="table", target_low=0.001,
    ...                          target_high=0.004))
    '0.1 to 0.4 %'
    """
    low, high = 100 * question.target_low, 100 * question.target_high
    return f"{low:g} to {high:g} %" if low > 0 else f"up to {high:g} %"


def span(value: ShareSpan) -> str:
    """Write a share with its interval.

    Examples
    --------
    >>> from analysis.model.vibration import ShareSpan
    >>> span(ShareSpan(middle=0.004, low=0.003, high=0.0061))
    '0.4 % void area (0.3 to 0.61 %)'
    """
    return (
        f"{share(value.middle)} void area ({share(value.low)[:-2]} to "
        f"{share(value.high)})"
    )


def cause_line(cause: FirstCause) -> str:
    """Say what comes before the seconds: subject, direction, size.

    Examples
    --------
    >>> from analysis.model.vibration import FirstCause
    >>> cause_line(FirstCause(name="joint_band_percent", ratio=2.5, low=2, high=3.1))
    'joint bands have about 2.5 times the void area of the open face (2.0 to 3.1 times)'
    >>> cause_line(FirstCause(name="release_agent", worse="oil", better="wax",
    ...                       ratio=1.4))
    'pieces with release agent oil have 40 % more void area than those with wax'
    """
    if cause.name == "honeycomb_percent":
        return "stones show on most pieces, and the mix was logged as stiff"
    if cause.name == "form_use" and cause.ratio == 1.0:
        return "the forms are worn"
    first, second = {
        "joint_band_percent": ("joint bands", "the open face"),
        "form_use": ("worn forms", "the same forms at first"),
    }.get(cause.name, ("", ""))
    if not first:
        first = f"pieces with {_level(cause.name, cause.worse)}"
        second = f"those with {_level(cause.name, cause.better, short=True)}"
    return f"{first} have {against(cause.ratio, cause.low, cause.high, second)}"


def _level(name: str, level: str, *, short: bool = False) -> str:
    """Name a level; in short where the setting was named before."""
    if not level:
        return f"{column_words(name)} not known"
    whole = level_words(name, level)
    named = short and whole == f"{column_words(name)} {cell_words(name, level)}"
    return cell_words(name, level) if named else whole


def _because(cause: FirstCause, facts: Facts) -> str:
    """Say what makes a cause come first."""
    if cause.name == "joint_band_percent":
        return "Vibration does not close a leaking joint: it drives out more grout."
    if cause.name == "honeycomb_percent":
        return ""
    if cause.name == "form_use":
        return "That is with the same vibration: the forms are worn."
    better = level_words(cause.name, cause.better) if cause.better else "the other"
    return (
        f"That is with the same vibration, and {better} would meet the target of "
        f"{target(facts.question)}."
    )


def why(
    decision: Decision,
    causes: tuple[FirstCause, ...],
    facts: Facts,
    reasons: Iterable[OpenReason] = (),
) -> tuple[str, ...]:
    """Give the reasons of a decision, the weightiest first.

    Examples
    --------
    >>> from analysis.model.vibration import ShareSpan
    >>> from analysis.model.vibration import VibrationQuestion
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> now = ShareSpan(middle=0.008, low=0.007, high=0.009)
    >>> facts = Facts(question=asked, current_s=30.0, now=now, pours=8, pieces=24)
    >>> why("more", (), facts)
    ('At 30 s the typical piece has 0.8 % void area (0.7 to 0.9 %); the target is up \
to 0.6 %.',)
    """
    dose = facts.question.dose
    moved = decision in {"more", "less"}
    lines = []
    stays = decision == "same"  # then the headline says all of it
    if facts.now is not None and facts.current_s is not None and not stays:
        lines.append(
            f"At {amount(facts.current_s, dose)} the typical piece has "
            f"{span(facts.now)}; the target is {target(facts.question)}."
        )
    if moved and facts.expected is not None and facts.suggested_s is not None:
        lines.append(
            f"At {amount(facts.suggested_s, dose)} expect {span(facts.expected)}."
            + _beyond(facts)
        )
        lines.append(_reach(facts))
    lines += [_because(cause, facts) for cause in causes]
    if decision == "other_cause_first":
        lines += [remedy(cause, dose) for cause in causes] or [LOOK_AT]
    elif facts.leak and not stays:
        lines.append("The voids gather along the joints too: seal them as well.")
    lines += [reason_line(one, facts.question) for one in reasons]
    return tuple(line for line in lines if line)


def _beyond(facts: Facts) -> str:
    if facts.suggested_s is None or not facts.tried:
        return ""
    dose = facts.question.dose
    said, ends = WORDS[dose], (facts.tried[0], facts.tried[-1])
    if facts.suggested_s > ends[1]:
        return f" That is {said.longer} than anything tried ({amount(ends[1], dose)})."
    if facts.suggested_s < ends[0]:
        return f" That is {said.shorter} than anything tried ({amount(ends[0], dose)})."
    return ""


def _reach(facts: Facts) -> str:
    if facts.expected is None:
        return ""
    high, low = facts.question.target_high, facts.question.target_low
    if facts.expected.middle > high:
        return "That helps, but is not enough by itself: look for a second cause."
    if facts.expected.middle < low:
        return "That helps, but the face may still have too few voids."
    return ""


def no_amount_will_do(dose: Dose) -> str:
    """Say that no amount reaches the target.

    Examples
    --------
    >>> no_amount_will_do("strokes")
    'no number of strokes near those you tried reaches the target'
    """
    return f"no {WORDS[dose].number} near those you tried reaches the target"


def in_short(reason: OpenReason, question: VibrationQuestion) -> str:
    """Say in half a sentence why there is no decision.

    Examples
    --------
    >>> from analysis.model.vibration import OpenReason, VibrationQuestion
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> in_short(OpenReason(code="few_pours", count=2), asked)
    'only 2 pours are measured'
    >>> in_short(OpenReason(code="went_along", names=("release_agent",)), asked)
    'the release agent changed along with the seconds'
    """
    said = WORDS[question.dose]
    one = reason.count == 1
    given = amount(reason.count, question.dose)
    along = column_words(reason.names[0]) if reason.names else ""
    return {
        "not_tried": f"nothing was cast near {said.now} used now",
        "few_pours": f"only {reason.count:.0f} {'pour is' if one else 'pours are'} "
        f"measured",
        "either_side": "a typical piece may lie on either side of the target",
        "one_amount": f"only {given} was tried",
        "with_days": f"all else changed over the weeks along with the {said.amounts}",
        "went_along": f"the {along} changed along with the {said.amounts}",
        "with_pours": f"no lot dealt the {said.amounts}, and each pour had one "
        f"{said.number}",
        "by_chance": f"the {said.numbers} tried do not differ by more than chance",
        "nothing_cast": f"no {question.form_type} by {question.method} is measured",
    }[reason.code]


def reason_line(reason: OpenReason, question: VibrationQuestion) -> str:
    """Say at length why there is no decision, and what would change it.

    Examples
    --------
    >>> from analysis.model.vibration import OpenReason, VibrationQuestion
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> reason_line(OpenReason(code="few_pours", count=1), asked)
    'Only 1 pour of this form type and method is measured: it takes at least 3.'
    """
    said = WORDS[question.dose]
    if reason.code == "nothing_cast":
        return _nothing_cast(reason, question)
    one = reason.count == 1
    many, verb = ("pour", "is") if one else ("pours", "are")
    along = column_words(reason.names[0]) if reason.names else ""
    lines: Mapping[str, str] = {
        "not_tried": (
            f"You have not cast near {said.now} used now, so there is nothing to go by."
        ),
        "few_pours": (
            f"Only {reason.count:.0f} {many} of this form type and method {verb} "
            f"measured: it takes at least 3."
        ),
        "either_side": (
            "A typical piece may lie on either side of the target: cast more pours."
        ),
        "one_amount": (
            f"Only {amount(reason.count, question.dose)} was tried: one {said.number} "
            f"cannot say what another would do."
        ),
        "with_days": (
            f"The {said.amounts} changed over the weeks, and so did everything else: "
            f"the log cannot tell which one did it."
        ),
        "went_along": (
            f"The {said.amounts} always changed with {along}: the log cannot tell "
            f"which one did it."
        ),
        "with_pours": (
            f"Each pour had one {said.number} and no lot dealt it: what else made "
            f"pours differ (hands, looks, mix) went along with it. Cast two "
            f"{said.numbers} in one pour."
        ),
        "by_chance": (
            f"The {said.numbers} you tried do not differ by more than chance yet."
        ),
    }
    return lines[reason.code]


def _nothing_cast(reason: OpenReason, question: VibrationQuestion) -> str:
    """Say that no piece of this kind is there, and which kinds are."""
    said = f"The log has no measured {question.form_type} ({question.method}) yet."
    if not reason.names:
        return said
    names = ", ".join(reason.names)
    if reason.count:  # pieces of this form type: then it is the method
        return f"{said} Methods used for it: {names}."
    return f"{said} It has {names}."
