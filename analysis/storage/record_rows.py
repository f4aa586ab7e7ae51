"""How a record and its parts stand in rows: words as keys, parts in their order."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, fields
from datetime import date
from functools import cache
from operator import attrgetter
from typing import Any

import sqlalchemy as sa

from analysis.storage.saving import insert
from analysis.storage.terms import term_id
from analysis.storage.unfit import refuse_unfit


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """A field of several values, kept in order as rows of another table."""

    field: str
    table: sa.Table
    value: type[Any]
    owner: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Kind:
    """Where a kind of record lives. Fields and columns bear the same names."""

    table: sa.Table
    order: tuple[sa.ColumnElement[Any], ...]
    parts: tuple[Part, ...] = ()
    owned: sa.Column[Any] | None = None


def row_values(
    connection: sa.Connection,
    table: sa.Table,
    value: object,
    keys: dict[tuple[str, str], int] | None = None,
    kept: frozenset[object] = frozenset(),
) -> dict[str, Any]:
    """Return a value's row: words become keys, names lose stray blanks.

    `keys` are those of `term_keys`, where many values are written at once; `kept` is
    what the log holds already and may go on holding.
    """
    row: dict[str, Any] = {}
    for item in fields(value):  # type: ignore[arg-type]
        if item.name in {"id", "version"}:
            continue
        given = getattr(value, item.name)
        if isinstance(given, (str, date)) and given not in kept:
            refuse_unfit(given, table.name, item.name)
        vocabulary = _vocabulary(item.metadata, value)
        if vocabulary is not None:
            row[f"{item.name}_id"] = term_id(connection, vocabulary, given, keys)
        elif item.name in table.c:
            row[item.name] = given.strip() if item.name == "name" else given
    return row


def _vocabulary(metadata: Any, value: object) -> str | None:  # noqa: ANN401 - dataclass metadata
    """Return the vocabulary a field's word is from, if any."""
    if "vocabulary_in" in metadata:
        return str(getattr(value, metadata["vocabulary_in"]))
    found: str | None = metadata.get("vocabulary")
    return found


def value_of(
    kind: type[Any],
    row: Any,  # noqa: ANN401 - rows carry any type
    names: dict[int, str],
    parts: dict[str, tuple[Any, ...]],
) -> Any:  # noqa: ANN401 - one of many kinds
    """Return a row's value."""
    plain, words = _columns(kind)  # type: ignore[arg-type]
    given: dict[str, Any] = {
        name: getattr(row, name) for name in plain if name not in parts
    }
    for name, column in words:
        key = getattr(row, column)
        given[name] = None if key is None else names[key]
    return kind(**given, **parts)


@cache
def _columns(kind: type[Any]) -> tuple[tuple[str, ...], tuple[tuple[str, str], ...]]:
    """Return a value's plain columns, and its words with the column of their key."""
    words = [
        item.name
        for item in fields(kind)
        if "vocabulary" in item.metadata or "vocabulary_in" in item.metadata
    ]
    plain = tuple(item.name for item in fields(kind) if item.name not in words)
    return plain, tuple((name, f"{name}_id") for name in words)


def write_parts(
    connection: sa.Connection,
    kind: Kind,
    record_id: int,
    record: object,
    kept: frozenset[object] = frozenset(),
) -> None:
    """Insert a record's parts in their order."""
    for part in kind.parts:
        for position, value in enumerate(getattr(record, part.field)):
            row = row_values(connection, part.table, value, kept=kept)
            row |= {part.owner: record_id, "position": position}
            insert(connection, part.table, row)


def read_parts(
    connection: sa.Connection,
    part: Part,
    owners: sa.Select[Any],
    names: dict[int, str],
) -> defaultdict[int, list[Any]]:
    """Return the parts of each record, in their order."""
    found: defaultdict[int, list[Any]] = defaultdict(list)
    owner = part.table.c[part.owner]
    query = (
        sa.select(part.table)
        .where(owner.in_(owners))
        .order_by(owner, part.table.c.position)
    )
    # Thousands of pieces share a few values: each of them is made once.
    made: dict[tuple[Any, ...], Any] = {}
    columns = [
        column.name
        for column in part.table.c
        if column.name not in {"id", part.owner, "position"}
    ]
    told = attrgetter(part.owner, *columns)
    for row in connection.execute(query).all():
        record_id, *values = told(row)
        key = tuple(values)
        if key not in made:
            made[key] = value_of(part.value, row, names, {})
        found[record_id].append(made[key])
    return found
