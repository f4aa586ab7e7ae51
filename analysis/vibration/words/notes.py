"""What an answer about vibration notes, and the steps of its trial, as sentences."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from analysis.compare.level_words import level_words
from analysis.model.field_words import column_words
from analysis.model.notes import say
from analysis.vibration.words.advice import LOOK_AT, remedy
from analysis.vibration.words.doses import WORDS, amount, level_of
from analysis.vibration.words.reasons import reason_line, span, target

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from analysis.model.notes import Note
    from analysis.model.vibration import (
        Decision,
        Dose,
        FirstCause,
        ShareSpan,
        VibrationQuestion,
    )

_ONE_MIX = "Same mix, same forms, same joints, same release agent; {}"
_WAYS: Mapping[str, tuple[str, str, str]] = MappingProxyType(
    {
        "joint_band_percent": ("joints as now", "joints sealed", "joint sealing"),
        "form_use": ("worn form", "refinished form", "the form's wear"),
        "honeycomb_percent": ("mix as now", "wetter or richer mix", "the mix"),
    }
)


def note_words(one: Note) -> str:
    """Say what an answer notes.

    Examples
    --------
    >>> from analysis.model.notes import note
    >>> note_words(note("not_measured", count=1))
    'Left out: 1 piece not measured yet.'
    """
    return say(one, NOTE_WORDS)


def _share_now(amount_now: float, now: ShareSpan, question: VibrationQuestion) -> str:
    return (
        f"At {amount(amount_now, question.dose)} the typical piece has {span(now)}; "
        f"the target is {target(question)}."
    )


def _share_expected(
    amount_suggested: float, expected: ShareSpan, tried: tuple[float, ...], dose: Dose
) -> str:
    told = f"At {amount(amount_suggested, dose)} expect {span(expected)}."
    if tried and amount_suggested > tried[-1]:
        last, more = tried[-1], WORDS[dose].longer
    elif tried and amount_suggested < tried[0]:
        last, more = tried[0], WORDS[dose].shorter
    else:
        return told
    return f"{told} That is {more} than anything tried ({amount(last, dose)})."


def _cause_holds(cause: FirstCause, question: VibrationQuestion) -> str:
    if cause.name == "joint_band_percent":
        return "Vibration does not close a leaking joint: it drives out more grout."
    if cause.name == "form_use":
        return "That is with the same vibration: the forms are worn."
    better = level_words(cause.name, cause.better) if cause.better else "the other"
    return (
        f"That is with the same vibration, and {better} would meet the target of "
        f"{target(question)}."
    )


def _left_out(what: str) -> Callable[..., str]:
    """Make the sentence of pieces that do not count."""

    def said(count: int, **values: object) -> str:
        pieces = "piece" if count == 1 else "pieces"
        return f"Left out: {count} {pieces} {what.format(**values)}."

    return said


def _another_method(count: int, methods: tuple[str, ...]) -> str:
    return _left_out("of another vibration method ({methods})")(
        count, methods=", ".join(methods)
    )


def _of_another(count: int, column: str) -> str:
    return _left_out("of another {column}")(count, column=column_words(column))


def _allowed_for(dose: Dose, columns: tuple[str, ...]) -> str:
    return f"Allowed for besides the {dose}: {', '.join(map(column_words, columns))}."


def _try_two(decision: Decision, times: tuple[float, float], dose: Dose) -> str:
    start = {
        "more": "Next: check it with",
        "less": "Next: check it with",
        "same": "Nothing to decide. To learn more, cast",
    }.get(decision, "Next:")
    first, second = (amount(one, dose) for one in times)
    return f"{start} {first} and {second} in one pour."


def _ways(cause: FirstCause | None) -> tuple[str, str, str]:
    """Name the two ways of a trial of something else, and what it tries."""
    if cause is None:
        what = "one other thing: release agent, joints or mix"
        return "as now", "changed", what
    own = cause.worse or "as now", cause.better or "changed", column_words(cause.name)
    return _WAYS.get(cause.name, own)


def _try_other(cause: FirstCause | None, dose: Dose, amount_now: float | None) -> str:
    said = WORDS[dose]
    at = "" if amount_now is None else f" at {amount(amount_now, dose)}"
    return f"Next: try {_ways(cause)[2]}, with {said.now} {said.as_is}{at}."


def _pieces(count: int) -> str:
    return "1 piece" if count == 1 else f"{count} pieces"


def _at_each(pieces: int, dose: Dose, along: str | None) -> str:
    kept = "the days" if along == "cast_on" else column_words(along or "")
    keep = "" if along is None else f" Keep {kept} the same."
    return _ONE_MIX.format(f"{_pieces(pieces)} at each {WORDS[dose].number}.{keep}")


def _in_one_pour(pieces: int, cause: FirstCause | None, dose: Dose) -> str:
    first, second, _ = _ways(cause)
    many = _pieces(pieces)
    return (
        f"In one pour, cast {many} '{first}' and {pieces} '{second}', all "
        f"{WORDS[dose].alike}."
    )


def _by_lot(names: list[str]) -> str:
    return f"Fill in this order, drawn by lot: {', '.join(names)}."


def _lots_of_amounts(drawn: tuple[float, ...], dose: Dose) -> str:
    return _by_lot([amount(one, dose) for one in drawn])


def _lots_of_ways(drawn: tuple[int, ...], cause: FirstCause | None) -> str:
    ways = _ways(cause)
    return _by_lot([ways[one] for one in drawn])


def _lots_of_strokes(drawn: tuple[int, ...]) -> str:
    return _by_lot([("usual strokes", "twice the strokes")[one] for one in drawn])


def _lots_of_plan(drawn: tuple[tuple[str, str], ...], by: str, dose: Dose) -> str:
    return _by_lot(
        [f"{place} {level_of(by, level, dose)}".strip() for place, level in drawn]
    )


NOTE_WORDS: Final[Mapping[str, str | Callable[..., str]]] = MappingProxyType(
    {
        # why
        "share_now": _share_now,
        "share_expected": _share_expected,
        "not_enough_alone": (
            "That helps, but is not enough by itself: look for a second cause."
        ),
        "too_few_still": "That helps, but the face may still have too few voids.",
        "cause_holds": _cause_holds,
        "remedy": remedy,
        "look_at": LOOK_AT,
        "leaks_too": "The voids gather along the joints too: seal them as well.",
        "open": reason_line,
        # what it rests on
        "another_method": _another_method,
        "method_unknown": _left_out("with the vibration method not known"),
        "not_measured": _left_out("not measured yet"),
        "pour_unknown": _left_out("with the pour not known"),
        "amount_unknown": _left_out("with the {dose} not known"),
        "of_another": _of_another,
        "allowed_for": _allowed_for,
        # the trial's title
        "try_two": _try_two,
        "try_other": _try_other,
        "try_strokes": (
            "Next: your usual strokes per layer and twice as many, in one pour."
        ),
        # its steps
        "at_each": _at_each,
        "of_each": lambda pieces: _ONE_MIX.format(f"{_pieces(pieces)} of each."),
        "all_as_it_is": _ONE_MIX.format("everything else as it is."),
        "in_one_pour": _in_one_pour,
        "lots_of_amounts": _lots_of_amounts,
        "lots_of_ways": _lots_of_ways,
        "lots_of_strokes": _lots_of_strokes,
        "lots_of_plan": _lots_of_plan,
        "turns": (
            "One of the two a pour, in pairs of pours; the lot says which comes first."
        ),
        "alike": lambda dose: (
            f"{WORDS[dose].by}, strike all after the same hours, photograph all the "
            f"same way."
        ),
        "count_strokes": (
            "Count the strokes and log them. Strokes are never compared with seconds."
        ),
        "repeat": "Do this in {pours} pours in all, with new lots each time.",
        "ask_again": lambda pours, dose: (
            f"Do this in {pours} pours in all, then ask again about {WORDS[dose].now}."
        ),
        # what the planner says in its own words
        "next_step": "{said}",
    }
)
