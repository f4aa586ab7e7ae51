"""A form's passport: what was done to it, what is due, where it leaks."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.workshop import FinishTarget, FormCare, FormReminder


@dataclass(frozen=True, slots=True, kw_only=True)
class Due:
    """A care that a reminder asks for.

    Attributes
    ----------
    reminder : FormReminder
        What is asked.
    last : FormCare or None
        When it was done last.
    uses : int
        Castings since; all of them where it was never done.
    left : int
        Uses left until it is due; 0 or less is due now.
    """

    reminder: FormReminder
    last: FormCare | None
    uses: int
    left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class JointLeak:
    """How often a joint leaked, of the castings in which that was written down.

    Attributes
    ----------
    joint : str
        Its name; empty where castings name no joint.
    leaked, known : int
        Castings.
    last_leaked : bool
        Whether it leaked at the last one known.
    since_sealed : int or None
        Castings since it was re-sealed; None where it never was.
    """

    joint: str
    leaked: int
    known: int
    last_leaked: bool
    since_sealed: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Passport:
    """What the log keeps of a form beside its castings.

    Attributes
    ----------
    cares : tuple of FormCare
        Latest first.
    due : tuple of Due
        Of every reminder, the most pressing first.
    leaks : tuple of JointLeak
        By joint.
    target : FinishTarget or None
        In force for its product line.
    answered : FormCare or None
        What was done about the advice that stands.
    """

    cares: tuple[FormCare, ...]
    due: tuple[Due, ...]
    leaks: tuple[JointLeak, ...]
    target: FinishTarget | None
    answered: FormCare | None
