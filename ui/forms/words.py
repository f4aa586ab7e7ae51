"""Words of a form's passport."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.writing import day, percent
from ui.widgets.record_words import CARES, care_line

if TYPE_CHECKING:
    from analysis.model.passport import Due, JointLeak
    from analysis.model.workshop import FinishTarget, FormCare

CARE = "Care"
WHAT = "What was done or happened"
DONE_ON = "On"
WHICH_JOINT = "Joint"
ALL_JOINTS = "All joints"
NOTE = "Note"
ADD_CARE = "Note a care or a damage"
NO_CARE = "Nothing is noted yet: cleaning, waxing, joints, edges, liners, damage."
ADD = "Add a form in Records"
SAVE = "Save"
DELETE = "Delete"
DONE = "Done today"
ANSWER = "Answer this advice"
ANSWERED = "The next castings will tell whether it helped."
RETIRED = "Delete the form in Records when it is gone for good."
REMINDERS = "Reminders"
REMIND_OF = "Remind me of"
EVERY = "Every so many uses"
EVERY_WHOLE = "Type a whole number of uses, 1 or more, such as 20."
ADD_REMINDER = "Set a reminder"
LEAKS = "Leaks by joint"
TARGET = "Finish target"
NO_TARGET = "No finish target: set one for its product line in Records."
RECIPE = "Set-up recipe"
RECIPE_EXAMPLE = "Tape on every joint, wax wiped off, table 40 s in two lifts"
CHANGE_RECIPE = "Write the recipe"
NO_RECIPE = "Not written down yet."
PHOTOGRAPHED = "How this face is photographed"
NOT_PHOTOGRAPHED = "Not kept yet. Kept once, every next photo is held against it."
CHANGE_PHOTOGRAPHED = "Keep or change how it is photographed"
FACE_NAME = "Name of the face (blank: the only one)"
LAMP_EXAMPLE = "Lamp on the left stand, 1 m up, door shut"
FLOOR_EXAMPLE = "Feet of the stand on the tape, form on the chalk line"
TAKE_FROM_LAST = "Take it from the last photo"
CASTINGS = "All castings of this form"
LEAVES_SOON = 5


def due_line(due: Due) -> str:
    """Say how a reminder stands.

    Examples
    --------
    >>> from analysis.model.passport import Due
    >>> from analysis.model.workshop import FormReminder
    >>> asked = FormReminder(form_id=1, kind="waxed", every_uses=20)
    >>> due_line(Due(reminder=asked, last=None, uses=18, left=2))
    'Waxed: never noted, 18 uses so far, due every 20: 2 uses left'
    """
    last = "never noted" if due.last is None else day(due.last.done_on)
    uses = f"{due.uses} use{'' if due.uses == 1 else 's'}"
    since = f"{uses} so far" if due.last is None else f"{uses} since"
    said = f"{CARES[due.reminder.kind]}: {last}, {since}"
    if due.left > 0:
        left = f"{due.left} use{'' if due.left == 1 else 's'} left"
        return f"{said}, due every {due.reminder.every_uses}: {left}"
    return f"{said}, due every {due.reminder.every_uses}: due now"


def leak_line(leak: JointLeak) -> str:
    """Say how often a joint leaked.

    Examples
    --------
    >>> from analysis.model.passport import JointLeak
    >>> leak_line(
    ...     JointLeak(
    ...         joint="left", leaked=2, known=9, last_leaked=False, since_sealed=3
    ...     )
    ... )
    'left: leaked in 2 of 9 castings, not in the last one; re-sealed 3 castings ago'
    """
    name = leak.joint or "Joints, not told apart"
    last = "also in the last one" if leak.last_leaked else "not in the last one"
    castings = f"casting{'' if leak.known == 1 else 's'}"
    said = f"{name}: leaked in {leak.leaked} of {leak.known} {castings}"
    if leak.leaked:
        said += f", {last}"
    if leak.since_sealed is not None:
        said += f"; re-sealed {leak.since_sealed} castings ago"
    return said


def target_line(target: FinishTarget) -> str:
    """Say a finish target.

    Examples
    --------
    >>> from analysis.model.workshop import FinishTarget
    >>> target_line(FinishTarget(product_line_id=1, low_share=0.002, high_share=0.01))
    'Void area from 0.20 to 1.00 %'
    """
    parts = []
    low, high = target.low_share, target.high_share
    if low and high is not None:
        parts.append(f"void area from {percent(low)} to {percent(high)} %")
    elif high is not None:
        parts.append(f"void area up to {percent(high)} %")
    elif low:
        parts.append(f"void area from {percent(low)} %")
    if target.largest_void_mm is not None:
        parts.append(f"no void over {target.largest_void_mm:g} mm")
    if target.honeycomb_share is not None:
        parts.append(f"honeycomb up to {percent(target.honeycomb_share)} %")
    said = ", ".join(parts)
    return said[:1].upper() + said[1:]


def answered_line(care: FormCare) -> str:
    """Say what was done about an advice."""
    after = RETIRED if care.kind == "retired" else ANSWERED
    return f"{care_line(care)}. {after}"
