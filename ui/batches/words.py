"""Words of the pages on batches and forms."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.writing import day, percent
from analysis.monitoring.note_words import (
    difference_words,
    note_words,
    setting_words,
)

if TYPE_CHECKING:
    from analysis.model.batch_marks import BatchMark
    from analysis.model.log_views import Casting
    from analysis.model.monitoring import Difference, PourPoints, Track
    from analysis.model.outlook import Chance, FormWear, TargetBand

BATCHES = "Batches"
FORMS = "Forms"

# batches
EMPTY_NEXT = (
    "Measure a struck face and save it with its pour. After 8 pours this page tells "
    "you whether the finish is drifting."
)
WHICH_PIECES = "Which pieces"
ALL_FORMS = "All forms"
LINE = "Product line"
FORM = "Form"
STAGE = "Stage"
CAST_MOST = "What you cast most"
SEALING = "Joints"
SEALINGS = {
    "sealed": "Sealed",
    "open": "Open",
    "mixed": "Some sealed, some open",
    "no joints": "Without joints",
    "not recorded": "Not recorded",
}
WHAT = "Show"
WHATS = {"share": "Void share", "count": "Bugholes per m²"}
SHOW_AIR = "Show air temperature"
SHARE_AXIS = "Void area, %"
COUNT_AXIS = "Bugholes per m²"
AIR_AXIS = "Air, °C"
POUR_AXIS = "Pours in order"
MARK = "Pour"
DAY = "Cast on"
MARKS = {False: "as usual", True: "stands out"}
HOW_TO_READ = "Grey band: where steady pours fall. Dashed line: your usual."
NO_BAND = "No band yet: it takes 8 pours to know your usual range."

# one pour
LOOK_AT = "Look at a pour"
STANDS_OUT = "stands out"
DIFFERENT = "What was different from the pours before"
NOTHING_DIFFERENT = "Nothing in the log was different from the pours before."
ONLY_A_HINT = "The most unusual comes first. These are places to look, not proof."
ITS_PIECES = "Pieces of this pour"
NO_PHOTO = "No photo"
OPEN = "Open"

# the next piece
NEXT_PIECE = "The next piece"
TARGET_HIGH = "Finish target: void area up to, %"
TARGET_LOW = "and at least, % (blank: 0)"
TARGET_MISSING = "Type a finish target to see how likely the next piece is to meet it."
TYPE_WORDS = {
    "too_early": "Too early to tell",
    "no_sign": "No sign of wear",
    "re_seal": "Their joints open up with use",
    "refinish": "Their faces wear with use",
}
BY_TYPE = "Wear by form type"
BY_TYPE_WHY = (
    "All forms of one type together: wear shows sooner this way. Each form keeps its "
    "own starting level."
)

# baseline and rules
BASELINE = "Baseline: what counts as usual"
FREEZE = "Fix these pours as usual"
FREEZE_WHY = "Choose pours that came out as they should: at least 8, better 20."
FIRST_POUR = "First pour"
LAST_POUR = "Last pour"
REBASE = "We changed something on purpose"
REBASE_WHY = "Later pours get limits of their own, and the chart shows the break."
CHANGED_FROM = "From pour"
WHAT_CHANGED = "What was changed"
START_ANEW = "Start a new baseline"
TAKE_BACK = "Undo"
RULES = "When a pour stands out"
RULES_IN_USE = "A pour stands out when"
ONE_RULE = "Choose at least one. Until then the usual ones are used."
NO_RATE = "How often a steady pour is marked by chance is not known for this choice."

# forms
NO_FORM = "No form is logged yet."
NO_FORM_NEXT = (
    "Add each form once, with its joints and its kind of face, or name it when you "
    "save a piece. After 8 castings this page tells you how it wears."
)
ALL_OF_THEM = "All forms"
NO_CASTING = "No measured casting yet."
USE_AXIS = "Use of the form"
TARGET_END = "target"
OPEN_FACE = "open face"
JOINT_BAND = "joint band"
LAST_CASTINGS = "Last castings"
REFINISHED = "We refinished its face"
REFINISHED_WHY = "Older castings then no longer count towards wear."
REFINISHED_ON = "On"
KEEP = "Keep this"


def baseline_line(result: Track) -> str:
    """Say which pours the limits come from."""
    points = result.points
    current = points.in_baseline & (points.era == points.era[-1])
    names = points.pour[current]
    if not len(names):
        return "No baseline yet: it takes 8 pours."
    return f"Your usual comes from {len(names)} pours, {names[0]} to {names[-1]}."


def mark_line(mark: BatchMark) -> str:
    """Name a decision of the maker."""
    if mark.kind == "change":
        return f"{mark.note}, from {day(mark.from_day)}"
    if mark.kind == "refinished" or mark.to_day is None:
        return f"Refinished before {day(mark.from_day)}"
    return f"Fixed as usual: {day(mark.from_day)} to {day(mark.to_day)}"


def pour_choice(points: PourPoints, at: int) -> str:
    """Name a pour in a list, and whether it stands out."""
    name = f"{points.pour[at]}{_on(points, at)}"
    return f"{name}, {STANDS_OUT}" if points.signals[:, at].any() else name


def _on(points: PourPoints, at: int) -> str:
    cast_on = points.cast_on[at]
    return "" if np.isnat(cast_on) else f" ({day(cast_on.astype(object))})"


def pour_lines(result: Track, at: int) -> list[str]:
    """Say how a pour came out, against what is usual, and which rules it breaks."""
    points = result.points
    n = int(points.n_pieces[at])
    value = f"{percent(points.value[at])} % void area, {n} piece{'s' * (n != 1)}"
    lines = [value]
    if not math.isnan(points.centre[at]):
        lines.append(
            f"Usual: {percent(points.centre[at])} %, between "
            f"{percent(points.lower[at])} and {percent(points.upper[at])} %"
        )
    broken = [
        rule.name
        for rule, on in zip(result.rules, points.signals[:, at], strict=True)
        if on
    ]
    if broken:
        lines.append(f"Why it stands out: {'; '.join(broken)}")
    return lines


def casting_lines(casting: Casting) -> list[str]:
    """Name a piece, its day and which use of its form it was."""
    lines = [casting.piece.name, day(casting.pour.cast_on)]
    if casting.form_use is not None:
        lines.append(f"Form use {casting.form_use}")
    return lines


def target_line(target: TargetBand) -> str:
    """Say the finish target in force."""
    if target.low <= 0:
        return f"Finish target: up to {percent(target.high)} % void area."
    return (
        f"Finish target: {percent(target.low)} to {percent(target.high)} % void area."
    )


def difference_line(found: Difference) -> str:
    """Name a setting, what it is now and what it was."""
    now, before = difference_words(found)
    return f"{setting_words(found.setting)}: {now}; before: {before}"


def chance_lines(found: Chance) -> tuple[str, list[str]]:
    """Say the chance in one line, then what it rests on and what limits it."""
    firsts = (
        f"So far {round(100 * found.firsts)} % of {found.n_pieces} pieces met it "
        f"(95 % interval {round(100 * found.firsts_low)} to "
        f"{round(100 * found.firsts_high)} %)."
    )
    if found.chance is None or found.low is None or found.high is None:
        return "Too early to say: it takes 3 pours.", [firsts]
    first = (
        f"{round(100 * found.chance)} in 100 will meet the target "
        f"(95 % sure: {round(100 * found.low)} to {round(100 * found.high)})."
    )
    limits = {
        "level": "What holds it back: your usual void area is too close to the target.",
        "pour_to_pour": "What holds it back: your pours differ from one another.",
        "piece_to_piece": "What holds it back: pieces of one pour differ.",
        "nothing": "Nothing much holds it back.",
        "not_known": "Too early to say what holds it back.",
    }[found.limited_by]
    if found.if_mended is not None and found.limited_by != "nothing":
        cure = "Halved" if found.limited_by == "level" else "Without that"
        limits += f" {cure}, {round(100 * found.if_mended)} in 100 would meet it."
    return first, [limits, firsts, *map(note_words, found.notes)]


def gap_line(result: Track) -> str:
    """Say the longest stretch without a pour; empty where there is none."""
    if not result.gaps:
        return ""
    longest = max(result.gaps, key=lambda gap: gap.days)
    pour = result.points.pour[longest.at]
    return (
        f"No pour for {longest.days} days before {pour}, so the line is broken there."
    )


def uses_line(uses: int | None, form_type: str | None) -> str:
    """Say how often a form was used."""
    used = "Not used yet" if uses is None else f"{uses} use{'s' * (uses != 1)}"
    return used if form_type is None else f"{form_type}, {used}"


def type_line(found: FormWear) -> str:
    """Head the wear of a form type.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> type_line(SimpleNamespace(name="bench leg", advice="no_sign"))
    'Bench leg: no sign of wear'
    """
    said = TYPE_WORDS[found.advice]
    name = found.name[:1].upper() + found.name[1:]
    return f"{name}: {said[:1].lower()}{said[1:]}"


def remaining_line(found: FormWear) -> str:
    """Say how many castings are left; empty where none, or where it is not known."""
    if not found.remaining or found.remaining_low is None:
        return ""
    low, best = round(found.remaining_low), round(found.remaining)
    if found.remaining_high is None:
        return f"About {best} castings until it leaves the target, at least {low}."
    high = round(found.remaining_high)
    return f"About {best} castings until it leaves the target ({low} to {high})."
