"""What every record shares: save tokens, inserted rows, soft deletion."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from analysis.errors import InputError, NotInLogError
from analysis.model.log_views import Saved
from analysis.storage.engine import Log, reading, writing
from analysis.storage.tables import SAVE

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


def now() -> datetime:
    """Return the time in UTC."""
    return datetime.now(UTC)


def save_once(
    log: Log, token: str, kind: str, work: Callable[[sa.Connection], int]
) -> Saved:
    """Do the work unless this token has been used; work and token are kept together.

    Parameters
    ----------
    log : Log
        The log.
    token : str
        Made by the caller once per form shown; a second press brings it again.
    kind : str
        Which table the record is in.
    work : callable
        Writes the record on the connection given and returns its id.

    Returns
    -------
    Saved
        The record's id, and whether it had been saved before.
    """
    if not token.strip():
        msg = f"A save needs a token, {token!r} was given: make one per form shown."
        raise InputError(msg)
    with writing(log) as connection:
        row = connection.execute(
            sa.select(SAVE.c.record_kind, SAVE.c.record_id).where(SAVE.c.token == token)
        ).one_or_none()
        if row is not None:
            if row.record_kind != kind:
                msg = (
                    f"This save token belongs to a {row.record_kind}, "
                    f"not to a {kind}: make a new one."
                )
                raise InputError(msg)
            return Saved(id=row.record_id, already_saved=True)
        record_id = work(connection)
        connection.execute(
            sa.insert(SAVE).values(
                token=token, record_kind=kind, record_id=record_id, saved_at=now()
            )
        )
    return Saved(id=record_id, already_saved=False)


def saved_id(log: Log, token: str) -> int | None:
    """Return the id of what was saved with a token, None when nothing was.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     saved_id(open_log(folder), "plan 1 pour 1") is None
    True
    """
    with reading(log) as connection:
        found: int | None = connection.scalar(
            sa.select(SAVE.c.record_id).where(SAVE.c.token == token)
        )
    return found


def insert(connection: sa.Connection, table: sa.Table, values: dict[str, Any]) -> int:
    """Insert one row; a name in use or a missing reference gets its sentence."""
    try:
        result = connection.execute(sa.insert(table).values(**values))
    except IntegrityError as error:
        raise refusal(table, values, error) from error
    return int(result.inserted_primary_key[0])  # type: ignore[index]


def insert_all(
    connection: sa.Connection, table: sa.Table, rows: Sequence[dict[str, Any]]
) -> tuple[int, ...]:
    """Insert rows of the same columns at once; return their keys in that order."""
    if not rows:
        return ()
    try:
        with connection.begin_nested():
            return _insert_all(connection, table, rows)
    except IntegrityError:
        # One by one, to say which of them the tables would not take.
        return tuple(insert(connection, table, row) for row in rows)


def _insert_all(
    connection: sa.Connection, table: sa.Table, rows: Sequence[dict[str, Any]]
) -> tuple[int, ...]:
    """Insert rows in as few statements as the database allows."""
    if connection.dialect.name != "sqlite":
        query = sa.insert(table).returning(table.c.id, sort_by_parameter_order=True)
        return tuple(connection.scalars(query, list(rows)))
    # SQLite tells keys row by row only. It gives the next after the largest, and this
    # connection is the one writer's, so the same keys can be given beforehand.
    first = (connection.scalar(sa.select(sa.func.max(table.c.id))) or 0) + 1
    ids = tuple(range(first, first + len(rows)))
    keyed = [row | {"id": key} for key, row in zip(ids, rows, strict=True)]
    connection.execute(sa.insert(table), keyed)
    return ids


def refusal(
    table: sa.Table, values: dict[str, Any], error: IntegrityError
) -> Exception:
    """Say which value the tables would not take."""
    text = str(error.orig).lower()
    what = table.name.replace("_", " ")
    if "foreign key" in text:
        linked = ", ".join(
            f"{column.name.removesuffix('_id').replace('_', ' ')} {values[column.name]}"
            for column in table.columns
            if column.foreign_keys and values.get(column.name) is not None
        )
        msg = f"The {what} refers to {linked}, which is not in the log: choose again."
        return NotInLogError(msg)
    if "unique" in text and "name" in values:
        msg = (
            f"There is already a {what} named {values['name']!r}: "
            "choose another name or open that one."
        )
        return InputError(msg)
    if "unique" in text and "face_name" in values:
        face = f" {values['face_name']!r}" if values["face_name"] else ""
        msg = (
            f"How the face{face} of this form is photographed is kept already: "
            "change what is kept, or name another face."
        )
        return InputError(msg)
    msg = f"The {what} has a value the log cannot keep ({error.orig}): correct it."
    return InputError(msg)


def set_deleted(
    log: Log,
    table: sa.Table,
    record_id: int,
    *,
    deleted: bool,
    owned: sa.Column[Any] | None = None,
) -> None:
    """Hide a record, or bring it back; nothing is erased.

    What it owns (rows that refer to it by the column `owned`) goes with it and comes
    back with it, but not what had been hidden before.
    """
    with writing(log) as connection:
        query = sa.select(table.c.deleted_at).where(table.c.id == record_id)
        row = row_of(connection, query, table, record_id)
        before, after = row.deleted_at, now() if deleted else None
        if (before is not None) == deleted:
            return
        _mark(connection, table, table.c.id == record_id, after)
        if owned is not None:
            same = owned.table.c.deleted_at.is_not_distinct_from(before)
            _mark(connection, owned.table, (owned == record_id) & same, after)


def _mark(
    connection: sa.Connection,
    table: Any,  # noqa: ANN401 - a column's table has no closer type
    which: sa.ColumnElement[bool],
    deleted_at: datetime | None,
) -> None:
    """Set when the rows were hidden; None brings them back."""
    try:
        connection.execute(
            sa.update(table)
            .where(which)
            .values(deleted_at=deleted_at, version=table.c.version + 1)
        )
    except IntegrityError as error:
        msg = (
            f"The {table.name} cannot be brought back because its name is in "
            "use again: rename the other one first."
        )
        if "face_name" in table.c:
            msg = (
                "How a face is photographed cannot be brought back because it is kept "
                "anew for that face: delete that one first."
            )
        raise InputError(msg) from error


def row_of(
    connection: sa.Connection, query: sa.Select[Any], table: sa.Table, record_id: object
) -> Any:  # noqa: ANN401 - rows carry any type
    """Return the one row of a query.

    Raises
    ------
    NotInLogError
        There is none: the record is not in the log.
    """
    row = connection.execute(query).one_or_none()
    if row is None:
        raise NotInLogError(missing(table, record_id))
    return row


def missing(table: sa.Table, record_id: object) -> str:
    """Say that a record is not there."""
    return (
        f"There is no {table.name.replace('_', ' ')} {record_id} in the log: "
        "choose from the list."
    )
