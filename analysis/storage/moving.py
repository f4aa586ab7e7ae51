"""A whole log copied into another database: every row and photo, compared after it."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from itertools import zip_longest
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.errors import InputError, RecordError
from analysis.storage.differing import said
from analysis.storage.drafts import draft_folder
from analysis.storage.engine import reading, writing
from analysis.storage.photo_store import digest, path_of, put, settle
from analysis.storage.tables import LEASE, METADATA, PHOTO

if TYPE_CHECKING:
    from collections.abc import Callable, Generator

    from analysis.storage.engine import Log

# Claims are of processes at work on the old log.
_LEFT_BEHIND = frozenset({LEASE.name})
_ROWS_AT_A_TIME = 500


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedLog:
    """What a copy of a log holds.

    Attributes
    ----------
    rows : dict of str to int
        Rows of each table, found alike in both logs.
    photos : int
        Originals, each with the digest it is named by.
    missing : tuple of str
        Digests of photos whose original the old log has lost or that changed.
    """

    rows: dict[str, int]
    photos: int
    missing: tuple[str, ...]


def migrate_log(
    old: Log, new: Log, tell: Callable[[str], None] | None = None
) -> MovedLog:
    """Copy a log into an empty one and compare them: all of it, or nothing.

    The old log stays as it is. What is saved in it while it is copied is not in the
    new one.

    Parameters
    ----------
    old, new : Log
        Both brought up to date by `open_log`.
    tell : callable, optional
        Told what is being done.

    Raises
    ------
    InputError
        They are the same, or the new one is not empty.
    RecordError
        A row or photo came out otherwise than it went in; the new log is empty then.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as one, tempfile.TemporaryDirectory() as two:
    ...     migrate_log(open_log(one), open_log(two)).photos
    0
    """
    tell = tell or _silent
    if old.url == new.url:
        msg = "Both addresses are of one log: give the new log another."
        raise InputError(msg)
    tables = [one for one in METADATA.sorted_tables if one.name not in _LEFT_BEHIND]
    with reading(old) as source, writing(new) as target:
        for table in tables:
            if target.scalar(sa.select(sa.literal(1)).select_from(table).limit(1)):
                msg = (
                    f"The new log is not empty (it has {said(table.name)} already): "
                    "give an empty one."
                )
                raise InputError(msg)
        tell("Copying the photos")
        photos, missing = _photos(source, old, new)
        for table in tables:
            tell(f"Copying {said(table.name)}")
            _copied(source, target, table)
        rows = {}
        for table in tables:
            tell(f"Comparing {said(table.name)}")
            rows[table.name] = _compared(source, target, table)
        _count_on(target, tables)
    for sha256 in photos:
        settle(new, sha256)
    return MovedLog(rows=rows, photos=len(photos), missing=missing)


def _silent(_what: str) -> None:
    pass


def _photos(
    source: sa.Connection, old: Log, new: Log
) -> tuple[list[str], tuple[str, ...]]:
    """Copy the originals, and what drafts hold; return those kept and those lost."""
    kept, missing = [], []
    for sha256 in source.scalars(sa.select(PHOTO.c.sha256).order_by(PHOTO.c.id)):
        try:
            data = path_of(old, sha256).read_bytes()
        except OSError:
            data = b""
        if digest(data) != sha256:
            missing.append(sha256)
            continue
        put(new, data, sha256)
        if digest(path_of(new, sha256).read_bytes()) != sha256:
            msg = (
                f"Photo {sha256[:12]} came out otherwise than it went in: look at the "
                f"disk with {new.photo_folder}; nothing was copied."
            )
            raise RecordError(msg)
        kept.append(sha256)
    given, taken = draft_folder(old), draft_folder(new)
    if given != taken and given.is_dir():
        taken.mkdir(parents=True, exist_ok=True)
        for path in given.iterdir():
            if path.is_file():
                (taken / path.name).write_bytes(path.read_bytes())
    return kept, tuple(missing)


def _rows(connection: sa.Connection, table: sa.Table) -> Generator[dict[str, Any]]:
    """Yield the rows in the order of their keys."""
    query = sa.select(table).order_by(*table.primary_key.columns)
    streamed = {"yield_per": _ROWS_AT_A_TIME}
    with connection.execute(query, execution_options=streamed) as found:
        for row in found:
            yield dict(row._mapping)  # noqa: SLF001  SQLAlchemy's own name for a dict


def _copied(source: sa.Connection, target: sa.Connection, table: sa.Table) -> None:
    """Copy a table; what refers to rows of the same table is filled in at the end."""
    own = [
        column.name
        for column in table.columns
        if any(key.column.table is table for key in column.foreign_keys)
    ]
    later: list[dict[str, Any]] = []
    batch: list[dict[str, Any]] = []

    def written() -> None:
        if batch:
            target.execute(sa.insert(table), batch)
            batch.clear()

    for row in _rows(source, table):
        told = {name: row[name] for name in own if row[name] is not None}
        if told:
            later.append({"id": row["id"], **told})
        values = _without_null(table, row | dict.fromkeys(told))
        # Rows of a batch go in by the columns of its first: others begin their own.
        if len(batch) == _ROWS_AT_A_TIME or (
            batch and batch[0].keys() != values.keys()
        ):
            written()
        batch.append(values)
    written()
    for values in later:
        mine = table.c.id == values.pop("id")
        target.execute(sa.update(table).where(mine).values(**values))


def _without_null(table: sa.Table, row: dict[str, Any]) -> dict[str, Any]:
    """Leave out what a JSON column does not hold, or it would hold the word null."""
    return {
        name: value
        for name, value in row.items()
        if value is not None or not isinstance(table.c[name].type, sa.JSON)
    }


def _compared(source: sa.Connection, target: sa.Connection, table: sa.Table) -> int:
    """Return how many rows both tables have; refuse where one row is not alike."""
    count = 0
    with (
        closing(_rows(source, table)) as before,
        closing(_rows(target, table)) as after,
    ):
        for old, new in zip_longest(before, after):
            if old != new:
                place = (old or new or {}).get("id", count + 1)
                msg = (
                    f"Row {place} of {said(table.name)} came out otherwise than it "
                    "went in: nothing was copied; tell who looks after the program."
                )
                raise RecordError(msg)
            count += 1
    return count


def _count_on(target: sa.Connection, tables: list[sa.Table]) -> None:
    """Let new keys follow the copied ones, where the database counts by itself."""
    if target.dialect.name != "postgresql":
        return
    for table in tables:
        if "id" in table.c:
            last = target.scalar(sa.select(sa.func.max(table.c.id)))
            target.execute(
                sa.select(
                    # Of an empty table 1 is the next key, not the last one used.
                    sa.func.setval(
                        sa.func.pg_get_serial_sequence(table.name, "id"),
                        last or 1,
                        last is not None,
                    )
                )
            )
