"""Kinds of columns, and the border every value crosses on its way in.

A range with a finite upper end does the whole job of a type check: SQLite orders text
and blobs above every number, PostgreSQL orders NaN above every number. NaN itself
never gets that far in SQLite (it would become NULL), so `Number` refuses it here.
"""

from __future__ import annotations

import unicodedata
from datetime import UTC, date, datetime, time
from typing import TYPE_CHECKING, Any

import numpy as np
import sqlalchemy as sa
from sqlalchemy.types import TypeDecorator

from analysis.checks import number as checked_number
from analysis.errors import InputError
from analysis.fields import fields_of

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy.engine import Dialect

    from analysis.fields import Field

LARGEST = 1e15
LONGEST_NAME = 200
LONGEST_NOTE = 20000


class Number(TypeDecorator[float]):
    """A finite float; numpy numbers are cast, NaN and text are refused."""

    impl = sa.Double
    cache_ok = True

    def __init__(self, label: str = "number") -> None:
        super().__init__()
        self.label = label

    def process_bind_param(self, value: object, dialect: Dialect) -> float | None:
        """Cast on the way in."""
        del dialect
        if value is None:
            return None
        return checked_number(value, _words(self.label))


class Whole(TypeDecorator[int]):
    """A whole number; numpy integers are cast, everything else is refused."""

    impl = sa.Integer
    cache_ok = True

    def __init__(self, label: str = "number") -> None:
        super().__init__()
        self.label = label

    def process_bind_param(self, value: object, dialect: Dialect) -> int | None:
        """Cast on the way in."""
        del dialect
        if value is None:
            return None
        if isinstance(value, bool) or not isinstance(value, (int, np.integer)):
            msg = f"{_words(self.label)} must be a whole number, {value!r} was given."
            raise InputError(msg)
        return int(value)


class Words(TypeDecorator[str]):
    """Text, composed the same way whichever system typed it (Unicode NFC)."""

    impl = sa.Text
    cache_ok = True

    def __init__(self, label: str = "text", longest: int = LONGEST_NOTE) -> None:
        super().__init__()
        self.label = label
        self.longest = longest

    def process_bind_param(self, value: object, dialect: Dialect) -> str | None:
        """Normalise on the way in."""
        del dialect
        if value is None:
            return None
        if not isinstance(value, str):
            msg = f"{_words(self.label)} must be text, {value!r} was given."
            raise InputError(msg)
        text = unicodedata.normalize("NFC", str(value))
        text = text.encode("utf-8", "replace").decode("utf-8").replace("\x00", "")
        if len(text) > self.longest:
            msg = (
                f"{_words(self.label)} has {len(text)} characters: "
                f"shorten it to {self.longest}."
            )
            raise InputError(msg)
        return text


class UtcTime(TypeDecorator[datetime]):
    """A moment; stored in UTC, refused without a zone."""

    impl = sa.DateTime
    cache_ok = True

    def process_bind_param(self, value: object, dialect: Dialect) -> datetime | None:
        """Turn into UTC on the way in."""
        del dialect
        if value is None:
            return None
        if not isinstance(value, datetime) or value.tzinfo is None:
            msg = f"A time in the log needs its zone, {value!r} was given."
            raise InputError(msg)
        return value.astimezone(UTC).replace(tzinfo=None)

    def process_result_value(self, value: Any, dialect: Dialect) -> datetime | None:  # noqa: ANN401 - the base class's signature
        """Put the zone back."""
        del dialect
        return None if value is None else value.replace(tzinfo=UTC)


class Day(TypeDecorator[date]):
    """A calendar day at the workshop, without a zone to shift it."""

    impl = sa.Date
    cache_ok = True

    def process_bind_param(self, value: object, dialect: Dialect) -> date | None:
        """Refuse a moment in place of a day."""
        del dialect
        if value is None:
            return None
        if isinstance(value, datetime) or not isinstance(value, date):
            msg = f"A day in the log must be a date, {value!r} was given."
            raise InputError(msg)
        return value


class WallTime(TypeDecorator[time]):
    """A wall-clock time at the workshop, without a zone."""

    impl = sa.Time
    cache_ok = True

    def process_bind_param(self, value: object, dialect: Dialect) -> time | None:
        """Refuse what is not a time of day."""
        del dialect
        if value is None:
            return None
        if not isinstance(value, time) or value.tzinfo is not None:
            msg = f"A time of day must be a wall-clock time, {value!r} was given."
            raise InputError(msg)
        return value


def _words(label: str) -> str:
    """Turn a column's name into words for a message."""
    return label.replace("_", " ").capitalize()


def key() -> sa.Column[Any]:
    """Return the primary key."""
    return sa.Column("id", sa.Integer, primary_key=True)


def link(name: str, target: str, *, needed: bool = False) -> sa.Column[Any]:
    """Return a reference to another table's key."""
    return sa.Column(
        name, sa.Integer, sa.ForeignKey(f"{target}.id"), nullable=not needed, index=True
    )


def number(
    name: str, low: float, high: float = LARGEST, *, needed: bool = False
) -> sa.Column[Any]:
    """Return a float column held between two finite ends."""
    return sa.Column(
        name,
        Number(name),
        sa.CheckConstraint(f"{name} >= {low!r} AND {name} <= {high!r}", name=name),
        nullable=not needed,
    )


def whole(
    name: str,
    low: int = 0,
    high: int = 2_000_000_000,
    *,
    needed: bool = False,
    default: int | None = None,
) -> sa.Column[Any]:
    """Return a whole-number column held between two ends."""
    return sa.Column(
        name,
        Whole(name),
        sa.CheckConstraint(
            f"{name} >= {low} AND {name} <= {high} "
            f"AND {name} = CAST({name} AS INTEGER)",
            name=name,
        ),
        nullable=not needed,
        server_default=None if default is None else sa.text(str(default)),
    )


def name_text(name: str, *, needed: bool = False) -> sa.Column[Any]:
    """Return a short text column, never blank."""
    return sa.Column(
        name,
        Words(name, LONGEST_NAME),
        sa.CheckConstraint(f"length(trim({name})) >= 1", name=name),
        nullable=not needed,
    )


def note(name: str = "note") -> sa.Column[Any]:
    """Return a free-text column; empty when nothing was written."""
    return sa.Column(name, Words(name), nullable=False, server_default="")


def word(name: str, allowed: Iterable[str], *, needed: bool = False) -> sa.Column[Any]:
    """Return a column of one of a few fixed words."""
    listed = ", ".join(f"'{entry}'" for entry in allowed)
    return sa.Column(
        name,
        Words(name, LONGEST_NAME),
        sa.CheckConstraint(f"{name} IN ({listed})", name=name),
        nullable=not needed,
    )


def moment(name: str, *, needed: bool = False) -> sa.Column[Any]:
    """Return a column of UTC moments."""
    return sa.Column(name, UtcTime, nullable=not needed)


def kept() -> tuple[sa.Column[Any], ...]:
    """Return the columns of a record that is edited and deleted softly."""
    return (
        sa.Column(
            "version",
            Whole("version"),
            sa.CheckConstraint(
                "version >= 1 AND version <= 1000000000",
                name="version",
            ),
            nullable=False,
            server_default=sa.text("1"),
        ),
        moment("created_at", needed=True),
        moment("deleted_at"),
    )


def unique_while_live(table: str, *columns: str) -> sa.Index:
    """Return an index that lets a deleted record's name be used again."""
    live = sa.text("deleted_at IS NULL")
    return sa.Index(
        f"uq_live_{table}_{'_'.join(columns)}",
        *columns,
        unique=True,
        sqlite_where=live,
        postgresql_where=live,
    )


def columns_of(owner: str) -> tuple[sa.Column[Any], ...]:
    """Return the columns of an owner's fields."""
    return tuple(_column(one) for one in fields_of(owner))


def _column(one: Field) -> sa.Column[Any]:
    """Return a field's column: names are needed, other text is a note."""
    name, needed = one.name, one.needed
    if one.kind == "text":
        return name_text(name, needed=True) if needed else note(name)
    if one.kind in {"word", "reference"}:
        target = "term" if one.kind == "word" else name.removesuffix("_id")
        return link(f"{name.removesuffix('_id')}_id", target, needed=needed)
    if one.kind == "choice":
        return word(name, one.words, needed=needed)
    if one.kind == "number":
        return number(name, one.low, one.high, needed=needed)
    if one.kind == "whole":
        default = 0 if needed else None
        low, high = int(one.low), int(one.high)
        return whole(name, low, high, needed=needed, default=default)
    return sa.Column(name, Day if one.kind == "day" else WallTime, nullable=not needed)
