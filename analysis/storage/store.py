"""Opening, and what every record shares: save tokens, versions, soft deletion."""

from __future__ import annotations

import logging
import sqlite3
import time
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from analysis.errors import (
    DamagedLogError,
    InputError,
    NotInLogError,
    NoWritingError,
    RecordError,
)
from analysis.model.log_views import Saved
from analysis.storage import migrations
from analysis.storage.beside import finish_restore, tidy, traces
from analysis.storage.engine import (
    Log,
    damaged,
    engine,
    gone,
    in_words,
    locate,
    reading,
    writing,
)
from analysis.storage.photo_address import at_address
from analysis.storage.photo_store import remove_orphans
from analysis.storage.tables import SAVE

if TYPE_CHECKING:
    import os
    from collections.abc import Callable, Sequence


_LOGGER = logging.getLogger(__name__)
# A file is written anew where at least this share of it is empty.
_WORTH_IT = 0.2


def open_log(
    where: str | os.PathLike[str] | None = None, *, create: bool = True
) -> Log:
    """Open a log: make it if new, bring its tables up to date, tidy up.

    Meant to be called once per process; the handle it returns is all the rest needs.

    Parameters
    ----------
    where : str or path, optional
        Folder, SQLite file or SQLAlchemy URL; by default the user's data folder.
    create : bool
        Refuse instead of making a log that is not there.

    Returns
    -------
    Log
        The handle.

    Raises
    ------
    InputError
        Not a URL that can be used.
    NotInLogError
        There is no log, and `create` is False.
    DamagedLogError
        The database is damaged: a backup is to be restored.
    RecordError
        The log is locked away, or from a newer version. One that can be read but not
        written to is opened, and says so in `read_only`.

    Examples
    --------
    >>> import tempfile
    >>> folder = tempfile.TemporaryDirectory()
    >>> log = open_log(folder.name)
    >>> log.file.exists()
    True
    >>> folder.cleanup()
    """
    log = locate(where)
    try:
        if log.file is not None:
            _prepare_file(log, create=create)
        with writing(log) as connection:
            before = migrations.current_revision(connection)
            migrations.upgrade(connection)
            after = migrations.current_revision(connection)
        log = at_address(log)
        if before not in {None, after}:
            give_back_room(log)
        remove_orphans(log)
    except NoWritingError as error:
        return _to_read(log, error)
    tidy(log)
    return log


def give_back_room(log: Log) -> tuple[int, int] | None:
    """Let a file shrink in which much is empty, as after a step that packs it.

    Returns
    -------
    (int, int) or None
        Bytes before and after; None where there was nothing to gain, or no moment
        without readers, or no room for the copy that this takes.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     give_back_room(open_log(folder)) is None
    True
    """
    if log.file is None:
        return None
    before = log.file.stat().st_size
    raw = sqlite3.connect(log.file, timeout=1.0, isolation_level=None)
    try:
        free, pages = (
            raw.execute(f"PRAGMA {name}").fetchone()[0]
            for name in ("freelist_count", "page_count")
        )
        if free < _WORTH_IT * pages:
            return None
        raw.execute("VACUUM")
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    except sqlite3.OperationalError:
        # It is as whole as before, only larger.
        return None
    finally:
        raw.close()
    after = log.file.stat().st_size
    _LOGGER.info(
        "The log %s took %.1f MB and now takes %.1f MB",
        log.file,
        before / 1e6,
        after / 1e6,
    )
    return before, after


def _to_read(log: Log, error: NoWritingError) -> Log:
    """Open a log that cannot be written to for reading, if it is of this version."""
    if log.file is None or not log.file.is_file():
        raise error
    opened = replace(log, read_only=str(error))
    with reading(opened) as connection:
        if migrations.current_revision(connection) != migrations.revisions()[-1]:
            raise error
    return at_address(opened)


def _prepare_file(log: Log, *, create: bool) -> None:
    """Make the file if new, check it if not."""
    file = log.file
    assert file is not None  # noqa: S101 - the caller has asked
    finish_restore(log)
    is_new = not file.exists() or not file.stat().st_size
    if is_new and traces(log):
        raise DamagedLogError(gone(log))
    if is_new and not create:
        msg = f"There is no log at {file}: check the address."
        raise NotInLogError(msg)
    if is_new:
        try:
            file.parent.mkdir(parents=True, exist_ok=True)
            file.touch()
        except OSError as error:
            msg = (
                f"The folder {file.parent} cannot be made "
                f"({error.strerror}): choose another."
            )
            raise RecordError(msg) from None
    with reading(log) as connection:
        if not is_new and connection.scalar(sa.text("PRAGMA quick_check(1)")) != "ok":
            raise DamagedLogError(damaged(log))
        mode = connection.scalar(sa.text("PRAGMA journal_mode"))
    if mode != "wal":
        _switch_to_wal(log)


def _switch_to_wal(log: Log) -> None:
    """Let readers and a writer work side by side; it stays with the file.

    It cannot be switched inside a transaction, and while another process does so the
    file is busy without waiting.
    """
    for pause_s in (0.05, 0.2, 1.0, 0.0):
        try:
            with in_words(log), engine(log.url).connect() as connection:
                raw: Any = connection.connection.driver_connection
                _wal(log, raw)
        except RecordError:
            if not pause_s:
                raise
            time.sleep(pause_s)
        else:
            return


def _wal(log: Log, raw: sqlite3.Connection) -> None:
    """Switch on the driver itself, whose trouble nobody else puts into words."""
    try:
        raw.execute("PRAGMA journal_mode=WAL")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF == sqlite3.SQLITE_BUSY:
            msg = f"The log {log.file} is in use by someone else: try again."
            raise RecordError(msg) from error
        msg = (
            f"The log {log.file} may not be written to ({error}): allow writing "
            "there; nothing was saved."
        )
        raise NoWritingError(msg) from error


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
