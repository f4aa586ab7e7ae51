"""Words of keeping records: adding, correcting, taking out, in and out of the log."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from analysis.model.writing import percent
from analysis.services.entry import to_texts
from ui.pours.words import joint_lines, step_lines
from ui.widgets.record_words import NAMES, OUTCOMES, PARTS, answer, of_figure
from ui.words import STAGES, when

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from analysis.model.afterwards import HandFigures, Outcome, Repair
    from analysis.model.log_views import ReadingLine
    from analysis.model.workshop import FinishTarget, Form, Mix

RECORDS = "Records"

# settings
WORKSHOP = "Name of the workshop"
WORKSHOP_WHERE = "Printed at the head of every sheet. Blank prints none."
UNITS = "Lengths in"
UNIT_NAMES = {"mm": "Millimetres", "inch": "Inches"}
DATES = "Dates are written like"
SAVE_SETTINGS = "Save settings"

# adding and correcting
LET_GO = "Cancel"
NOTHING_FILLED = "Nothing to save yet: fill in a field first."
CONFLICT = "Someone else changed this meanwhile. Yours is not saved yet."
KEEP_THEIRS = "Keep what is in the log"
SAVE_MINE = "Save my changes over it"
IN_LOG = "In the log now"
YOURS = "Yours"
NOT_YOURS = "stays: you did not change it"
TAKEN_OUT = "Deleted:"
BRING_BACK = "Restore"
UNDO = "Undo"

# a piece
JUDGED = "Outcome and repairs"
NO_OUTCOME = "Not judged yet."
JUDGE = "Judge it"
JUDGE_AGAIN = "Judge it again"
ADD_REPAIR = "Add a repair"
ADD_BY_HAND = "Add what you measured by hand"
FACTS = "All facts"
EDIT_PIECE = "Correct the piece"
EDIT_POUR = "Correct its pour"
NOT_KNOWN = "Not known:"
TAKE_OUT = "Delete"
TAKE_OUT_PIECE = "Delete this piece"
SIDE_BY_SIDE = "Readings side by side"
ADDS = "Measuring or judging again adds a reading. Nothing is overwritten."
READING_COLUMNS = ("Void area, %", "Voids", "From, mm", "Stage", "Measured", "Method")


def both_lines(
    stored: object,
    given: object,
    name: str,
    offers: Callable[[str], Mapping[str, str]],
    *,
    is_mine: bool,
) -> list[str]:
    """Say one field as another person saved it and as it is written here.

    Examples
    --------
    >>> from analysis.model.log import Piece
    >>> both_lines(Piece(name="7", pour_id=1, lifts=3), Piece(name="7", pour_id=1),
    ...            "lifts", dict, is_mine=True)
    ['Lifts', 'In the log now: 3', 'Yours: not known']
    """
    now = field_text(stored, name, offers)
    if not is_mine:
        return [NAMES.get(name, PARTS.get(name, name)), f"{now}: {NOT_YOURS}"]
    yours = field_text(given, name, offers)
    said = NAMES.get(name, PARTS.get(name, name))
    return [said, f"{IN_LOG}: {now}", f"{YOURS}: {yours}"]


def field_text(
    record: Any,  # noqa: ANN401  any record
    name: str,
    offers: Callable[[str], Mapping[str, str]],
) -> str:
    """Write one field of a record, its parts in one line."""
    texts = to_texts(record)
    if name in texts:
        offered = offers(name) if name.endswith("_id") else None
        return answer(name, texts[name], offered)
    if name == "steps":
        return "; ".join(step_lines(record))
    if name == "joints" and hasattr(record, "steps"):
        return "; ".join(joint_lines(record))
    if name == "joints":
        return "; ".join(form_joints(record))
    return "; ".join(mix_parts(record))


def form_joints(form: Form) -> list[str]:
    """Say each joint of a form with its usual sealing."""
    return [
        f"Joint {one.name}: {answer('sealing', one.default_sealing or '')}"
        for one in form.joints
    ]


def mix_parts(mix: Mix) -> list[str]:
    """Say each part of a mix."""
    return [f"{one.kind}: {one.name} {one.amount}".strip() for one in mix.parts]


def outcome_line(one: Outcome) -> str:
    """Say one judgement of a piece.

    Examples
    --------
    >>> from analysis.model.afterwards import Outcome
    >>> outcome_line(Outcome(piece_id=1, outcome="second", eye_score=6))
    'Second, eye score 6'
    """
    parts = [] if one.outcome is None else [OUTCOMES[one.outcome]]
    parts += [] if one.eye_score is None else [f"eye score {one.eye_score}"]
    parts += [] if one.stage is None else [STAGES[one.stage].lower()]
    parts += [one.note] if one.note else []
    return ", ".join(parts)


def repair_line(one: Repair) -> str:
    """Say one repair.

    Examples
    --------
    >>> from analysis.model.afterwards import Repair
    >>> repair_line(Repair(piece_id=1, minutes=12.5, filler="epoxy"))
    'Repair: 12.5 min, epoxy'
    """
    texts = to_texts(one)
    on = f" of {answer('repaired_on', texts['repaired_on'])}" if one.repaired_on else ""
    minutes = answer("minutes", texts["minutes"]) if texts["minutes"] else ""
    filler = answer("filler", one.filler) if one.filler else ""
    told = ", ".join(filter(None, (minutes, filler, one.note)))
    return f"Repair{on}: {told or answer('', '')}"


def by_hand_line(one: HandFigures) -> str:
    """Say what was measured on the piece.

    Examples
    --------
    >>> from analysis.model.afterwards import HandFigures
    >>> by_hand_line(HandFigures(piece_id=1, joint="left", step_mm=1.5))
    'By hand, joint left: step at the joint 1.5 mm'
    """
    texts = to_texts(one)
    told = [of_figure(name, texts[name]) for name in one.known]
    told += [one.note] if one.note else []
    at = f", joint {one.joint}" if one.joint else ""
    return f"By hand{at}: {', '.join(told) or answer('', '')}"


def repairs_line(repairs: Sequence[Repair]) -> str:
    """Say what the repairs took together; unknown times are not counted as none.

    Examples
    --------
    >>> from analysis.model.afterwards import Repair
    >>> repairs_line([Repair(piece_id=1, minutes=12.0), Repair(piece_id=1)])
    'Repairs: 12 min, and 1 whose time is not known.'
    """
    minutes = [one.minutes for one in repairs if one.minutes is not None]
    unknown = len(repairs) - len(minutes)
    known = f"{sum(minutes):g} min" if minutes else ""
    blank = f"{unknown} whose time is not known" if unknown else ""
    return f"Repairs: {', and '.join(filter(None, (known, blank)))}."


def target_line(target: FinishTarget) -> str:
    """Say a finish target.

    Examples
    --------
    >>> from analysis.model.workshop import FinishTarget
    >>> target_line(FinishTarget(product_line_id=1, high_share=0.01))
    'Void area up to 1.00 %'
    """
    low, high = target.low_share, target.high_share
    parts = []
    if high is not None:
        start = f"{percent(low)} to" if low else "up to"
        parts.append(f"void area {start} {percent(high)} %")
    elif low is not None:
        parts.append(f"void area from {percent(low)} %")
    if target.largest_void_mm is not None:
        parts.append(f"largest void {target.largest_void_mm:g} mm")
    if target.honeycomb_share is not None:
        parts.append(f"honeycomb up to {percent(target.honeycomb_share)} %")
    parts += [target.note] if target.note else []
    said = ", ".join(parts) or "nothing set"
    return said[0].upper() + said[1:]


def not_known_line(records_and_names: Sequence[tuple[object, Sequence[str]]]) -> str:
    """Name the fields that are not known; empty when all are."""
    blank = [
        NAMES[name].lower()
        for record, names in records_and_names
        for name in names
        if not to_texts(record)[name].strip() and name != "note"
    ]
    return f"{NOT_KNOWN} {', '.join(blank)}." if blank else ""


def reading_cells(line: ReadingLine) -> tuple[str, ...]:
    """Return a reading's cells of `READING_COLUMNS`."""
    floor = line.smallest_counted_mm
    return (
        percent(line.void_share),
        str(line.void_count),
        "" if floor is None else f"{floor:.2g}",
        "" if line.use.stage is None else STAGES[line.use.stage],
        when(line.measured_at),
        line.method_version,
    )


# the page of records
SHOW = "What to look at"
SHOWN = {
    "forms": "Forms",
    "mixes": "Mixes",
    "lines": "Product lines",
    "words": "Words",
    "import": "Import",
    "export": "Export",
    "backup": "Backup",
    "out": "Deleted",
    "settings": "Settings",
}
OPEN = "Open"
CLOSE = "Close"
NONE_YET = {
    "forms": "No form yet. Enter each form once, with its joints. After that, one tap "
    "logs it.",
    "mixes": "No mix yet. 'By feel' is a fair answer: you need no numbers.",
    "lines": "No product line yet. Pieces of one line share a finish target.",
}
ADD = {"forms": "Add a form", "mixes": "Add a mix", "lines": "Add a product line"}
CORRECT = "Correct"
TARGET_BEFORE = "Before"
NO_TARGET = "No finish target yet."
NEW_TARGET = "Set a new finish target"
TARGETS_STAY = "Pieces judged by an earlier target keep it."
NOTHING_OUT = "Nothing was removed."
KINDS = {
    "Pour": "Pour",
    "Piece": "Piece",
    "Form": "Form",
    "Mix": "Mix",
    "ProductLine": "Product line",
    "FinishTarget": "Finish target",
    "Outcome": "Outcome",
    "Repair": "Repair",
    "HandFigures": "Measured by hand",
    "FormCare": "Care of a form",
    "FormReminder": "Reminder",
    "PhotoRecipe": "How a face is photographed:",
}

# words
WHICH_WORDS = "Which words"
MORE_VOCABULARIES = {
    "vibration_method": "Vibration method",
    "joint_sealing": "Joint sealing",
    "set_up": "Set-up for photos",
    "mark": "Marks seen on a face",
    "cement": "Cement",
    "aggregate": "Aggregate",
    "admixture": "Admixture",
    "fibre": "Fibre",
    "pigment": "Pigment",
}
NEW_WORD = "New word"
ADD_WORD = "Add"
WORD = "Word to change"
RENAME_TO = "Rename to"
RENAME = "Rename"
MERGE_INTO = "Same as"
MERGE = "Merge"
MERGED = "Merged words"
PART_AGAIN = "Separate again"
NO_WORD = "No word was used yet."
WORDS_STAY = "Records change with the word. None is lost, and a merge can be undone."


def vocabulary_name(vocabulary: str) -> str:
    """Name a vocabulary.

    Examples
    --------
    >>> vocabulary_name("gloss"), vocabulary_name("set_up")
    ('Gloss', 'Set-up for photos')
    """
    return MORE_VOCABULARIES.get(vocabulary) or NAMES[vocabulary]


def form_brief(form: Form) -> list[str]:
    """Say a form in brief: its type and its joints."""
    joints = ", ".join(one.name for one in form.joints)
    return [
        form.name,
        form.form_type or answer("", ""),
        f"Joints: {joints or 'none entered'}",
    ]


def mix_brief(mix: Mix) -> list[str]:
    """Say a mix in brief."""
    basis = answer("basis", mix.basis or "")
    return [mix.name, f"{mix.proportions} {basis}".strip(), *mix_parts(mix)]


def term_line(name: str, uses: int) -> str:
    """Say a word and how often records hold it.

    Examples
    --------
    >>> term_line("oil", 1)
    'oil: 1 use'
    """
    return f"{name}: 1 use" if uses == 1 else f"{name}: {uses} uses"
