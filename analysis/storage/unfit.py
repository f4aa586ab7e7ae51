"""Texts and days that no record takes in, though an older log may hold such."""

from __future__ import annotations

from dataclasses import fields
from datetime import date, datetime

from analysis.checks import plain_text, sensible_day
from analysis.model.field_words import field_words


def refuse_unfit(given: str | date, owner: str, name: str) -> None:
    """Refuse a text with a control character, and a day of another century.

    Asked when a record is saved and not when it is loaded: what a log holds already
    must open, and be edited in its other fields.

    Parameters
    ----------
    given : str or datetime.date
        A field's value.
    owner, name : str
        Whose field, as in `analysis.fields`.

    Raises
    ------
    InputError
        Naming the field and the cure.

    Examples
    --------
    >>> refuse_unfit("struck wet", "pour", "note")
    """
    if isinstance(given, str):
        if not given.isprintable():
            plain_text(given, _said(owner, name))
    elif not isinstance(given, datetime):
        sensible_day(given, _said(owner, name))


def held(record: object) -> frozenset[object]:
    """Return the texts and days of a record and its parts.

    Examples
    --------
    >>> from analysis.model.log import Pour
    >>> "wet" in held(Pour(name="12", cast_on=date(2026, 3, 31), note="wet"))
    True
    """
    found: set[object] = set()
    for item in fields(record):  # type: ignore[arg-type]
        given = getattr(record, item.name)
        if isinstance(given, (str, date)):
            found.add(given)
        elif isinstance(given, tuple):
            found.update(*map(held, given))
    return frozenset(found)


def _said(owner: str, name: str) -> str:
    said = field_words(owner, name)
    return said[:1].upper() + said[1:]
