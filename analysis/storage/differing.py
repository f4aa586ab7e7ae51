"""What two states of a record differ in, and what tables are called, in words."""

from __future__ import annotations

from dataclasses import fields
from datetime import date, time
from typing import Any

from analysis.model.field_words import field_words
from analysis.model.log import JointState, Step
from analysis.model.workshop import FormJoint, MixPart
from analysis.model.writing import day
from analysis.vocabulary import spoken

# Parts are fields of another owner in the registry.
_OWNERS = {
    JointState: "joint",
    Step: "step",
    FormJoint: "form_joint",
    MixPart: "mix_part",
}
_OWN = frozenset({"id", "version"})


def said(name: str) -> str:
    """Return what a table of the log is called in a sentence.

    Examples
    --------
    >>> said("form_joint")
    'form joint'
    """
    return name.replace("_", " ")


def differing(owner: str, stored: object, given: object) -> str:
    """Say in which fields a record was changed by someone else meanwhile.

    Parameters
    ----------
    owner : str
        Whose fields, as in `analysis.fields`.
    stored, given : record
        As it is now, and as this person has it.

    Returns
    -------
    str
        A sentence.

    Examples
    --------
    >>> from analysis.model.log import Pour
    >>> noon, late = (Pour(name="12", cast_on=date(2026, 3, n)) for n in (30, 31))
    >>> print(differing("pour", noon, late))  # doctest: +ELLIPSIS
    Someone else changed ... (cast on: now 30 March 2026, yours 31 March 2026): ...
    """
    parts = [
        _both(owner, item.name, getattr(stored, item.name), getattr(given, item.name))
        for item in fields(stored)  # type: ignore[arg-type]
        if item.name not in _OWN
        and getattr(stored, item.name) != getattr(given, item.name)
    ]
    return (
        f"Someone else changed this {said(owner)} since you opened it "
        f"({'; '.join(parts) or 'to the same values'}): look at both and save again."
    )


def _both(owner: str, name: str, now: object, yours: object) -> str:
    label = field_words(owner, name)
    if name.endswith("_id"):  # the keys themselves say nothing to a reader
        return f"{label}: now another than yours"
    return f"{label}: now {_written(now)}, yours {_written(yours)}"


def _written(value: Any) -> str:  # noqa: ANN401, PLR0911 - a line for each type
    if value is None:
        return "blank"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, (int, float)):
        return f"{value:.12g}"
    if isinstance(value, date):
        return day(value)
    if isinstance(value, time):
        return f"{value:%H:%M}"
    if isinstance(value, (tuple, list)):
        return "; ".join(map(_part, value)) or "none"
    return repr(spoken(str(value)))


def _part(value: object) -> str:
    """Write one joint, step or constituent."""
    owner = _OWNERS[type(value)]
    told = [
        f"{field_words(owner, item.name)} {_written(given)}"
        for item in fields(value)  # type: ignore[arg-type]
        if item.name not in _OWN and (given := getattr(value, item.name)) is not None
    ]
    return ", ".join(told) or "blank"
