"""A form's passport: care, reminders by uses, leaks by joint, advice answered."""

from __future__ import annotations

from collections import defaultdict
from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.model.passport import Due, JointLeak, Passport
from analysis.model.workshop import FinishTarget, Form, FormCare, FormReminder
from analysis.pieces.target import is_limiting, line_of
from analysis.services import batch_marks
from analysis.storage.castings import list_castings
from analysis.storage.records import add, list_all
from analysis.vocabulary import NONE

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence
    from datetime import date

    from analysis.model.log_views import Casting
    from analysis.services.log import Log

# What answers an advice about wear. A new liner is a new face.
ANSWERS = MappingProxyType(
    {
        "refinish": ("refinished", "new_liner"),
        "re_seal": ("joint_re_sealed", "new_liner"),
        "retire": ("retired", "new_liner"),
    }
)
# A face that is new begins a new life in the judging of wear.
_NEW_FACE = ("refinished", "new_liner")
# A reminder is told this many uses ahead.
AHEAD_USES = 3


def passport(log: Log, form: Form, advice: str = "") -> Passport:
    """Return what the log keeps of a form beside its castings.

    Parameters
    ----------
    log : Log
        The log.
    form : Form
        Of the log.
    advice : str
        What its wear asks for, if anything; see `analysis.model.outlook.ADVICE`.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     passport(open_log(folder), Form(name="A", id=1)).due
    ()
    """
    castings = list_castings(log, form_id=form.id)
    cares = cares_of(log, form.id or 0)
    reminders = list_all(log, FormReminder, form_id=form.id or 0)
    due = [due_of(one, cares, castings) for one in reminders]
    return Passport(
        cares=cares,
        due=tuple(sorted(due, key=lambda one: one.left)),
        leaks=leaks_of(form, castings, cares),
        target=_target(log, form, castings),
        answered=answer_to(advice, cares, castings),
    )


def cares_of(log: Log, form_id: int) -> tuple[FormCare, ...]:
    """Return what was done to a form, latest first.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     cares_of(open_log(folder), 1)
    ()
    """
    found = list_all(log, FormCare, form_id=form_id)
    return tuple(sorted(found, key=lambda one: (one.done_on, one.id or 0)))[::-1]


def add_care(log: Log, form: Form, care: FormCare, *, save_token: str) -> None:
    """Keep what was done to a form; a new face begins a new life for its wear.

    Raises
    ------
    NotInLogError
        There is no such form.
    """
    add(log, care, save_token=save_token)
    if care.kind in _NEW_FACE:
        batch_marks.add_refinished(
            log, form.name, care.done_on, save_token=f"{save_token} new face"
        )


def uses_since(castings: Iterable[Casting], day: date | None) -> int:
    """Count the castings on a day and after it; all of them without a day."""
    return sum(day is None or one.pour.cast_on >= day for one in castings)


def due_of(
    reminder: FormReminder, cares: Iterable[FormCare], castings: Sequence[Casting]
) -> Due:
    """Tell how a reminder stands. A new liner is everything done at once.

    Examples
    --------
    >>> asked = FormReminder(form_id=1, kind="waxed", every_uses=20)
    >>> due_of(asked, (), ()).left
    20
    """
    last = next(
        (one for one in cares if one.kind in {reminder.kind, "new_liner"}), None
    )
    uses = uses_since(castings, None if last is None else last.done_on)
    if last is None and castings:
        # What was cast before the log began counts as well.
        uses = castings[0].form_use or uses
    left = reminder.every_uses - uses
    return Due(reminder=reminder, last=last, uses=uses, left=left)


def due_by_form(log: Log) -> dict[int, tuple[Due, ...]]:
    """Return the reminders that are due within three uses, by form.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     due_by_form(open_log(folder))
    {}
    """
    asked = defaultdict(list)
    for one in list_all(log, FormReminder):
        asked[one.form_id].append(one)
    found = {}
    for form_id, reminders in asked.items():
        castings = list_castings(log, form_id=form_id)
        cares = cares_of(log, form_id)
        due = [due_of(one, cares, castings) for one in reminders]
        near = [one for one in due if one.left <= AHEAD_USES]
        if near:
            found[form_id] = tuple(sorted(near, key=lambda one: one.left))
    return found


def leaks_of(
    form: Form, castings: Sequence[Casting], cares: Iterable[FormCare]
) -> tuple[JointLeak, ...]:
    """Tell how often each joint leaked.

    Parameters
    ----------
    form : Form
        Its joints come first, in their order.
    castings : sequence of Casting
        Latest first.
    cares : iterable of FormCare
        Latest first.

    Examples
    --------
    >>> leaks_of(Form(name="A"), (), ())
    ()
    """
    seen: defaultdict[str, list[bool]] = defaultdict(list)
    for casting in castings:
        for state in casting.piece.joints:
            if state.leak is not None:
                seen[state.joint].append(state.leak != NONE)
    sealed = [one for one in cares if one.kind in {"joint_re_sealed", "new_liner"}]
    order = [joint.name for joint in form.joints if joint.name in seen]
    order += [joint for joint in seen if joint not in order]
    found = []
    for joint in order:
        last = next((one for one in sealed if one.joint in {"", joint}), None)
        since = None if last is None else uses_since(castings, last.done_on)
        found.append(
            JointLeak(
                joint=joint,
                leaked=sum(seen[joint]),
                known=len(seen[joint]),
                last_leaked=seen[joint][0],
                since_sealed=since,
            )
        )
    return tuple(found)


def answer_to(
    advice: str, cares: Iterable[FormCare], castings: Sequence[Casting]
) -> FormCare | None:
    """Return what was done about an advice since the last casting it rests on.

    Examples
    --------
    >>> answer_to("refinish", (), ()) is None
    True
    """
    last = max((one.pour.cast_on for one in castings), default=None)
    for one in cares:
        if one.kind in ANSWERS.get(advice, ()) and (
            last is None or one.done_on >= last
        ):
            return one
    return None


def _target(log: Log, form: Form, castings: Sequence[Casting]) -> FinishTarget | None:
    """Return the target of the form's product line, else of its last casting's."""
    line_id = form.product_line_id
    if line_id is None and castings:
        line_id = line_of(castings[0].piece, form)
    if line_id is None:
        return None
    stored = list_all(log, FinishTarget, product_line_id=line_id)
    return stored[0] if stored and is_limiting(stored[0]) else None
