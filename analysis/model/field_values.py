"""What a field's values may be, and how records and rows of the table keep them."""

from __future__ import annotations

import inspect
from dataclasses import field
from typing import TYPE_CHECKING, Any, TypeVar

from analysis.checks import number, one_of
from analysis.fields import SHARE_UNIT, Field, fields_of, row_fields

if TYPE_CHECKING:
    from collections.abc import Callable

Record = TypeVar("Record")


def checked(record: object, owner: str) -> None:
    """Refuse a record with a number or a word that its field does not allow.

    Parameters
    ----------
    record : object
        A dataclass whose fields bear the names of the owner's.
    owner : str
        Whose fields.

    Raises
    ------
    InputError
        Naming the field, its bounds and what was given.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> checked(SimpleNamespace(air_c=12.5), "pour")
    """
    for one in fields_of(owner):
        value_checked(getattr(record, one.name, None), one)


def value_checked(value: Any, one: Field) -> None:  # noqa: ANN401 - whatever was given
    """Refuse a number or a word that a field does not allow; None is not known.

    Raises
    ------
    InputError
        As `checked`.

    Examples
    --------
    >>> from analysis.fields import column_field
    >>> value_checked(12.5, column_field("air_c"))
    """
    if value is None:
        return
    if one.is_number:
        bounds_unit = "" if one.unit == SHARE_UNIT else one.unit
        number(value, one.factor, low=one.low, high=one.high, unit=bounds_unit)
    elif one.words:
        one_of(value, one.factor, one.words)


def with_fields(owner: str) -> Callable[[type[Record]], type[Record]]:
    """Give a record the fields of an owner that it does not write out itself.

    Those that code reads by name are written out in the class; one that only goes in,
    is shown and is compared needs no more than its entry here. A word is told its
    vocabulary.

    Examples
    --------
    >>> class Empty: pass
    >>> sorted(with_fields("joint")(Empty).__annotations__)
    ['joint', 'leak', 'sealing']
    """

    def completed(kind: type[Record]) -> type[Record]:
        known = inspect.get_annotations(kind)
        for one in fields_of(owner):
            blank = kind.__dict__.get(one.name, "" if one.kind == "text" else None)
            told = {"vocabulary": one.vocabulary} if one.vocabulary else {}
            if one.name not in known:
                known[one.name] = one.annotation
                setattr(kind, one.name, field(default=blank, metadata=told))
            elif told and one.needed:
                setattr(kind, one.name, field(metadata=told))
            elif told:
                setattr(kind, one.name, field(default=blank, metadata=told))
        kind.__annotations__ = known
        return kind

    return completed


def with_columns(kind: type[Record]) -> type[Record]:
    """Give a row of the table of pieces the columns it does not write out itself.

    Examples
    --------
    >>> class Empty: pass
    >>> "humidity_percent" in with_columns(Empty).__annotations__
    True
    """
    known = inspect.get_annotations(kind)
    for one in row_fields():
        if one.column not in known:
            known[one.column] = one.annotation.removesuffix(" | None") + " | None"
            setattr(kind, one.column, None)
    kind.__annotations__ = known
    return kind


def column_value(value: object, one: Field) -> object:
    """Return a record's value as it stands in its column: shares in percent.

    Examples
    --------
    >>> from analysis.fields import column_field
    >>> column_value(0.65, column_field("humidity_percent"))
    65.0
    """
    if isinstance(value, float) and one.name.endswith("_share"):
        return float(f"{100 * value:.15g}")  # 15 digits undo the division on the way in
    return value or None if one.kind == "text" else value


def record_value(value: object, one: Field) -> object:
    """Undo `column_value`.

    Examples
    --------
    >>> from analysis.fields import column_field
    >>> record_value(65.0, column_field("humidity_percent"))
    0.65
    """
    if isinstance(value, float) and one.name.endswith("_share"):
        return value / 100
    return value or "" if one.kind == "text" else value
