"""The sentences and keys of the answer about vibration."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.vibration.other_causes import went_along
from analysis.vocabulary import HAND_METHODS, THEN

if TYPE_CHECKING:
    from analysis.model.comparison import PieceTable
    from analysis.model.vibration import (
        Decision,
        ShareSpan,
        VibrationAnswer,
        VibrationQuestion,
    )
    from analysis.vibration.dose_rows import Gathered
    from analysis.vibration.other_causes import Cause

# Ahmed and Punkki 2024, Materials 17:2306: bubbles rose throughout and all specimens
# segregated, so "until no bubbles rise" is no stop. Streaks and a paste-rich top:
# trade articles on bleeding and over-vibration.
OVER_SIGNS = (
    "A wet layer of paste, or standing water, on top.",
    "Stones at the bottom of a test piece that you break or cut.",
    "Streaks of sand or water marks up the face.",
    "Dark lines or leaks along joints that were tight at shorter times.",
    "Bubbles that still rise are no reason to go on: they rise until the stones sink.",
)

DECISIONS: dict[str, str] = {
    "more": "Vibrate longer",
    "same": "Keep the time",
    "less": "Vibrate for less time",
    "other_cause_first": "Something else first",
    "not_enough_evidence": "Not enough evidence yet",
}
CURRENT_NOT_TRIED = (
    "You have not cast near the time used now, so there is nothing to go by."
)
WITH_THE_DAYS = (
    "The seconds changed over the weeks, and so did everything else: the log cannot "
    "tell which one did it."
)
WITH_THE_POURS = (
    "Each pour had one time and no lot dealt it: what else made pours differ (hands, "
    "looks, mix) went along with it. Cast two times in one pour."
)
ALONG = "The seconds always changed with {}: the log cannot tell which one did it."
EITHER_SIDE = "A typical piece may lie on either side of the target: cast more pours."
REMEDIES = {
    "joint_band_percent": "Seal and clamp the joints, then look at the time again.",
    "honeycomb_percent": (
        "Use a mix that can be worked, in thinner layers, then look at the time again."
    ),
    "form_use": "Refinish or replace the worn forms, then look at the time again.",
}


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


MORE_OR_LESS: dict[str, dict[str, str]] = {
    "seconds": {},
    "strokes": {
        "more": "Rod with more strokes",
        "same": "Keep the strokes",
        "less": "Rod with fewer strokes",
    },
    "passes": {
        "more": "Make more passes",
        "same": "Keep the passes",
        "less": "Make fewer passes",
    },
}
# Sentences are written of seconds; these make them of strokes or passes.
_AMOUNT = (
    (r"\bVibrate longer\b", "Work it more"),
    (r"\blonger than\b", "more than"),
    (r"\bshorter than\b", "fewer than"),
    (r"\bseconds\b", "{dose}"),
    (r"\btimes tried\b", "{dose} tried"),
    (r"\btwo times in\b", "two numbers of {dose} in"),
    (r"\bone time\b", "one number of {dose}"),
    (r"\b(the|The) time used now\b", r"\1 {dose} used now"),
    (r"\b([Nn])o time near\b", r"\1o number of {dose} near"),
    (r"\blook at the time\b", "look at the {dose}"),
    (r"\bwith the time as it is\b", "with the {dose} as they are"),
    (r"\bask again about the time\b", "ask again about the {dose}"),
    (r"\bat each time\b", "at each number of {dose}"),
    (r"\bby a watch\b", "by counting aloud"),
)


def in_dose(line: str, dose: str) -> str:
    """Say of strokes or passes what was written of seconds.

    Examples
    --------
    >>> in_dose("Log the seconds by a watch.", "strokes")
    'Log the strokes by counting aloud.'
    """
    if dose == "seconds":
        return line
    for pattern, words in _AMOUNT:
        line = re.sub(pattern, words.format(dose=dose), line)
    return line


def amount(value: float, dose: str) -> str:
    """Write an amount with what is counted.

    Examples
    --------
    >>> amount(45.0, "seconds"), amount(25.0, "strokes"), amount(1.0, "passes")
    ('45 s', '25 strokes', '1 pass')
    """
    if dose == "seconds":
        return seconds(value)
    one = {"strokes": "stroke", "passes": "pass"}[dose]
    return f"{value:.4g} {one if value == 1 else dose}"


def seconds(value: float) -> str:
    """Write seconds as on a watch.

    Examples
    --------
    >>> seconds(45.0), seconds(7.5), seconds(150.0)
    ('45 s', '7.5 s', '150 s')
    """
    return f"{value:.4g} s"


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
    '0.4 % (95 %: 0.3 to 0.61 %)'
    """
    return (
        f"{share(value.middle)} (95 %: {share(value.low)[:-2]} to {share(value.high)})"
    )


def _named(cause: Cause, facts: Facts) -> str:
    if cause.name == "joint_band_percent":
        return (
            f"The voids sit along the joints: {cause.ratio:.2g} times the share of the "
            f"open face. Vibration does not close a leaking joint: it drives out more "
            f"grout."
        )
    if cause.name == "form_use":
        return (
            f"The forms are worn: they give {cause.ratio:.2g} times the void area they "
            f"gave at first, with the same vibration."
        )
    if cause.name == "honeycomb_percent":
        return "Stones show on most pieces, and the mix was logged as stiff."
    factor = cause.name.replace("_", " ")
    worse, better = cause.worse or "not known", cause.better or "not known"
    return (
        f"With the same vibration, {factor} '{worse}' has {cause.ratio:.2g} times the "
        f"void area of '{better}', and '{better}' would meet the target of "
        f"{target(facts.question)}."
    )


def remedy(cause: Cause) -> str:
    """Say what to do about a cause.

    Examples
    --------
    >>> from analysis.vibration.other_causes import Cause
    >>> remedy(Cause(name="release_agent", better="wax", worse="oil"))
    "Change release agent to 'wax', then look at the time again."
    """
    if cause.name in REMEDIES:
        return REMEDIES[cause.name]
    factor = cause.name.replace("_", " ")
    return f"Change {factor} to '{cause.better}', then look at the time again."


def why(decision: Decision, causes: tuple[Cause, ...], facts: Facts) -> tuple[str, ...]:
    """Give the reasons of a decision, the weightiest first.

    Examples
    --------
    >>> from analysis.model.vibration import ShareSpan
    >>> from analysis.model.vibration import VibrationQuestion
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> now = ShareSpan(middle=0.004, low=0.003, high=0.005)
    >>> facts = Facts(question=asked, current_s=30.0, now=now, pours=8, pieces=24)
    >>> why("same", (), facts)[0][:54]
    'At 30 s the typical piece has 0.4 % (95 %: 0.3 to 0.5 '
    """
    lines: list[str] = []
    dose = facts.question.dose
    if facts.now is not None and facts.current_s is not None:
        now = amount(facts.current_s, dose)
        lines.append(
            f"At {now} the typical piece has {span(facts.now)}, "
            f"the target is {target(facts.question)}."
        )
    moved = decision in {"more", "less"}
    if moved and facts.expected is not None and facts.suggested_s is not None:
        lines.append(
            f"At {amount(facts.suggested_s, dose)} expect {span(facts.expected)}."
            + _beyond(facts)
        )
        lines.append(_reach(facts))
    lines += [_named(cause, facts) for cause in causes]
    if decision == "other_cause_first":
        lines += [remedy(cause) for cause in causes] or [NO_TIME_WILL_DO, LOOK_AT]
    elif facts.leak and decision != "same":
        lines.append("The voids gather along the joints too: seal them as well.")
    return tuple(in_dose(line, facts.question.dose) for line in lines if line)


SQUEEZE = (
    "Squeeze a handful: it should hold together and wet the glove. If it crumbles it "
    "is too stiff; if it runs it needs hardly any vibration."
)
WATCH_JOINTS = (
    "Watch the joints while you fill: if water comes out, seal that leak first."
)
NO_TIME_WILL_DO = "No time near those you tried reaches the target."
LOOK_AT = (
    "Look at the release agent and how thin the film is, the joints, the mix and the "
    "form face. Change one at a time, with the same vibration."
)


def _beyond(facts: Facts) -> str:
    if facts.suggested_s is None or not facts.tried:
        return ""
    dose = facts.question.dose
    if facts.suggested_s > facts.tried[-1]:
        return f" That is longer than anything tried ({amount(facts.tried[-1], dose)})."
    if facts.suggested_s < facts.tried[0]:
        return f" That is shorter than anything tried ({amount(facts.tried[0], dose)})."
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


def few(pours: int) -> str:
    """Say that there are too few pours.

    Examples
    --------
    >>> few(1)
    'Only 1 pour of this form type and method is measured: it takes at least 3.'
    """
    many = "pour" if pours == 1 else "pours"
    verb = "is" if pours == 1 else "are"
    return (
        f"Only {pours} {many} of this form type and method {verb} measured: it takes "
        f"at least 3."
    )


def why_open(gathered: Gathered) -> tuple[str, ...]:
    """Say why the seconds tried do not settle it."""
    tried = np.unique(gathered.seconds)
    if len(tried) < 2:  # noqa: PLR2004
        return (
            (
                f"Only {seconds(float(tried[0]))} was tried: one time cannot say what "
                f"another would do."
            ),
        )
    if along(gathered):
        return along(gathered)
    u, pour = gathered.doses.u, gathered.doses.pour
    inside = any(np.ptp(u[pour == name]) > 0 for name in np.unique(pour))
    if not inside and not gathered.dealt.all():
        return (WITH_THE_POURS,)
    return ("The times you tried do not differ by more than chance yet.",)


def along(gathered: Gathered) -> tuple[str, ...]:
    """Name the setting that went along with the seconds, if one did."""
    name = went_along(gathered)
    if name is None:
        return ()
    if name == "cast_on":
        return (WITH_THE_DAYS,)
    return (ALONG.format(name.replace("_", " ")),)


def nothing_cast(table: PieceTable, question: VibrationQuestion) -> str:
    """Say that no piece of this kind is there, and which kinds are."""
    none = np.empty(len(table), str)
    types = table.text.get("form_type", none)
    methods = table.text.get("vibration_method", none)
    mine = types == question.form_type
    said = f"The log has no measured {question.form_type} ({question.method}) yet."
    if mine.any():  # then it is the method that was not used
        used = ", ".join(sorted({cell or "an unknown one" for cell in methods[mine]}))
        return f"{said} Methods used for it: {used}."
    known = ", ".join(sorted({cell for cell in types if cell}))
    return said + (f" It has {known}." if known else "")


def by_hand(method: str) -> bool:
    """Tell whether a method counts strokes rather than seconds.

    Examples
    --------
    >>> by_hand("Rodding"), by_hand("table"), by_hand("rodding then table")
    (True, False, False)
    """
    return all(step.strip() in HAND_METHODS for step in method.casefold().split(THEN))


def checks(method: str) -> tuple[str, ...]:
    """Return what to look at in the fresh mix, before and while it is vibrated.

    Layers: USDA farm concrete (at most 6 in). Signs of enough: US Army manual EN5466
    (a mortar line at the form, stones sunk, paste at the head). Squeezing a handful is
    common practice.

    Examples
    --------
    >>> len(checks("table"))
    5
    """
    enough = (
        "Stop when the top is level, the stones have just sunk in and a thin line of "
        "mortar shows along the form."
    )
    if by_hand(method):
        enough = (
            "Rod each layer into the one below and along the faces until the rod "
            "leaves no hole."
        )
    return (
        SQUEEZE,
        "Fill in layers of at most 150 mm and work each one.",
        WATCH_JOINTS,
        "Wipe the release agent until there are no drops or runs.",
        enough,
    )


def sentence(answer: VibrationAnswer) -> str:
    """Say the decision in one line.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> from analysis.vibration.vibration import vibration
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> sentence(vibration(piece_table([]), asked))
    'Not enough evidence yet.'
    """
    dose = answer.question.dose
    head = MORE_OR_LESS[dose].get(answer.decision, DECISIONS[answer.decision])
    if answer.decision in {"more", "less"} and answer.suggested_s is not None:
        now = (
            ""
            if answer.current_s is None
            else f" instead of {amount(answer.current_s, dose)}"
        )
        return f"{head}: {amount(answer.suggested_s, dose)}{now}."
    if answer.decision == "same" and answer.current_s is not None:
        return f"{head}: {amount(answer.current_s, dose)} meets the target."
    return f"{head}."


def vibration_keys(answer: VibrationAnswer) -> dict[str, object]:
    """Return an answer as a dictionary that JSON can hold; shares in percent.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> from analysis.vibration.vibration import vibration
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> keys = vibration_keys(vibration(piece_table([]), asked))
    >>> keys["decision"], keys["suggested_s"]
    ('not_enough_evidence', None)
    """
    expected = answer.expected
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
        "why": " ".join((*answer.why, *answer.rests_on)),
        "next_trial": " ".join((answer.trial.title, *answer.trial.steps)),
    }


def vibration_text(answer: VibrationAnswer) -> str:
    """Return an answer for a terminal.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> from analysis.pieces.table import piece_table
    >>> from analysis.vibration.vibration import vibration
    >>> asked = VibrationQuestion(form_type="pot", method="table", target_low=0.0,
    ...                           target_high=0.006)
    >>> vibration_text(vibration(piece_table([]), asked)).splitlines()[0]
    'Not enough evidence yet.'
    """
    parts = [
        sentence(answer),
        *(f"  {line}" for line in (*answer.why, *answer.rests_on)),
        answer.trial.title,
        *(f"  {n}. {step}" for n, step in enumerate(answer.trial.steps, 1)),
        "Before you vibrate:",
        *(f"  {line}" for line in answer.checks),
        "Too much, if you see:",
        *(f"  {line}" for line in answer.over_signs),
    ]
    return "\n".join(parts)
