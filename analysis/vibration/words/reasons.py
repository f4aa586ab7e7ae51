"""Parts of sentences about vibration: shares, targets, causes, open reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.compare.level_words import level_words
from analysis.model.field_words import cell_words, column_words
from analysis.model.sizes import against
from analysis.vibration.words.doses import WORDS, amount

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.model.vibration import (
        Dose,
        FirstCause,
        OpenReason,
        ShareSpan,
        VibrationQuestion,
    )


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
