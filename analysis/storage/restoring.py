"""A backup put in the place of a log: all of it, or nothing.

Everything is unpacked beside the log, checked, and brought up to this program's tables
there. Only then is the log touched: a database that works takes the new state in one
transaction, one that is damaged or gone gives its place up to a file that lies ready,
and the next start ends what was cut off. What was there before is kept, and can be
restored like a backup.
"""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.errors import InputError, RecordError
from analysis.storage import beside, migrations
from analysis.storage.backup import (
    LOST,
    copy_database,
    daily_backups,
    is_whole,
    photos_in,
)
from analysis.storage.backup_contents import check_files, gather
from analysis.storage.engine import (
    FILE_NAME,
    UNREADABLE,
    Log,
    locate,
    reading,
    writing,
)
from analysis.storage.photo_store import flush_folder, path_of
from analysis.storage.store import open_log
from analysis.storage.tables import METADATA

if TYPE_CHECKING:
    import os
    from collections.abc import Iterable


_GARBLED = "names in it are garbled"


def restore(
    backup: str | os.PathLike[str],
    folder: str | os.PathLike[str],
    *,
    replace: bool = False,
) -> Log:
    """Put a backup into a folder, once all of it has been checked.

    Parameters
    ----------
    backup : path
        The zip, or a database that an earlier restore has put aside.
    folder : path
        Where the log is to be.
    replace : bool
        A log that is there is kept aside, under a name with the time in it; otherwise
        it is an error. Nothing is erased, and no original is written over.

    Returns
    -------
    Log
        Open, its tables up to date.

    Raises
    ------
    InputError
        Not a backup, or harmful, or there is a log already.
    RecordError
        The backup is damaged, of a newer version, or the disk is full. The log is as
        it was.
    """
    log = locate(folder)
    assert log.file is not None  # noqa: S101 - a folder always holds a file
    if not replace and log.file.exists():
        msg = f"There is a log at {log.file} already: choose an empty folder."
        raise InputError(msg)
    try:
        log.file.parent.mkdir(parents=True, exist_ok=True)
        with beside.scratch(log.file.parent) as fresh:
            gather(Path(backup).absolute(), fresh)
            check_files(fresh)
            _bring_up(fresh / FILE_NAME)
            _check_photos(fresh, log)
            _keep_photos(fresh, log)
            _put_in_place(fresh / FILE_NAME, log)
    except (OSError, *UNREADABLE) as error:
        what = _GARBLED if isinstance(error, UnicodeDecodeError) else error
        msg = f"The backup could not be restored ({what}): the log is as it was."
        raise RecordError(msg) from error
    return open_log(folder)


def restorable(log: Log) -> tuple[Path, ...]:
    """Return all that a log can be put back from, latest first.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     restorable(open_log(folder))
    ()
    """
    whole = beside.backup_folder(log).glob("whole-*.zip")
    found = [*daily_backups(log), *whole, *beside.replaced(log)]
    return tuple(sorted(found, key=lambda path: path.stat().st_mtime, reverse=True))


def last_good(log: Log) -> Path | None:
    """Return the latest state that can be restored, None where there is none.

    Each is looked into, the latest first: a damaged backup, or a copy of the damaged
    log itself, is no way back.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     last_good(open_log(folder)) is None
    True
    """
    return next((path for path in restorable(log) if is_good(path, log)), None)


def is_good(backup: Path, log: Log) -> bool:
    """Tell whether a backup's database can be used; its photos are not looked at."""
    try:
        with beside.scratch(log.home) as fresh:
            gather(backup, fresh, only=FILE_NAME)
            _bring_up(fresh / FILE_NAME)
    except (OSError, *UNREADABLE, InputError, RecordError):
        return False
    return True


def begin_anew(folder: str | os.PathLike[str]) -> Log:
    """Put a log that cannot be opened aside and begin an empty one.

    Examples
    --------
    >>> import tempfile
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     begin_anew(folder).file.exists()
    True
    """
    log = locate(folder)
    assert log.file is not None  # noqa: S101 - a folder always holds a file
    try:
        with beside.scratch(log.file.parent) as fresh:
            database = fresh / FILE_NAME
            database.touch()
            _upgrade(database)
            _give_way(database, log)
    except OSError as error:
        msg = f"No log can be begun in {log.file.parent} ({error}): choose another."
        raise RecordError(msg) from error
    return open_log(folder)


def _bring_up(database: Path) -> None:
    """Check a database that came from elsewhere, and bring its tables up to date."""
    with closing(sqlite3.connect(database)) as raw:
        try:
            raw.execute("PRAGMA trusted_schema=OFF")
            state = raw.execute("PRAGMA integrity_check(1)").fetchone()[0]
            if raw.execute("PRAGMA foreign_key_check").fetchone():
                state = "a record refers to one that is not there"
            # Triggers, views and virtual tables run what whoever made the file put in;
            # a log has none.
            strange = raw.execute(
                "SELECT type, name FROM sqlite_master WHERE type NOT IN "
                "('table', 'index') OR sql LIKE 'CREATE VIRTUAL%'"
            ).fetchone()
        except UNREADABLE as error:
            is_garbled = isinstance(error, UnicodeDecodeError)
            state, strange = _GARBLED if is_garbled else str(error), None
    if state != "ok":
        msg = f"The database in the backup is damaged ({state}): choose another one."
        raise RecordError(msg)
    if strange is not None:
        _refuse_strange(" ".join(strange))
    _upgrade(database)
    with reading(locate(database)) as connection:
        found = sa.inspect(connection)
        tables = {
            table: {column["name"] for column in found.get_columns(table)}
            for table in found.get_table_names()
        }
    tables.pop("alembic_version", None)
    wanted = {
        name: {column.name for column in table.columns}
        for name, table in METADATA.tables.items()
    }
    if tables != wanted:
        names = tables.keys() ^ wanted.keys() or {
            name for name in wanted if tables[name] != wanted[name]
        }
        _refuse_strange(f"another table {min(names)}")


def _refuse_strange(what: str) -> None:
    msg = f"The database in the backup has {what}, unlike any log: choose another one."
    raise InputError(msg)


def _upgrade(database: Path) -> None:
    with writing(locate(database)) as connection:
        migrations.upgrade(connection)


def _check_photos(fresh: Path, log: Log) -> None:
    """Refuse a backup whose photos are neither in it nor here, nor told as lost."""
    lost = fresh / LOST
    told = set(lost.read_text("ascii", "replace").split()) if lost.is_file() else set()
    for sha256 in photos_in(fresh / FILE_NAME):
        path = path_of(log, sha256)
        if (
            sha256 not in told
            and not _in(fresh, sha256).is_file()
            and not is_whole(path, sha256)
        ):
            msg = (
                f"The backup has no photo {sha256[:12]} and neither has "
                f"{log.photo_folder}: restore a backup with photos."
            )
            raise RecordError(msg)


def _in(fresh: Path, sha256: str) -> Path:
    return fresh / "photos" / sha256[:2] / sha256


def _keep_photos(fresh: Path, log: Log) -> None:
    """Move in the originals that are missing here; one that is whole stays."""
    folders = set()
    for sha256 in photos_in(fresh / FILE_NAME):
        target, source = path_of(log, sha256), _in(fresh, sha256)
        if source.is_file() and not is_whole(target, sha256):
            target.parent.mkdir(parents=True, exist_ok=True)
            source.replace(target)
            folders.add(target.parent)
    _flush(folders)


def _flush(folders: Iterable[Path]) -> None:
    for folder in folders:
        flush_folder(folder)


def _put_in_place(database: Path, log: Log) -> None:
    """Let the log take the state of a database that is checked; keep the old one."""
    file = log.file
    assert file is not None  # noqa: S101 - a folder always holds a file
    if not _works(file):
        _give_way(database, log)
        return
    aside = beside.aside_path(file, beside.new_stamp())
    part = beside.part_of(aside)
    copy_database(file, part)
    part.replace(aside)
    try:
        _match_pages(database, file)
        copy_database(database, file)
    except UNREADABLE:
        aside.unlink()  # it was not replaced
        raise


def _works(file: Path) -> bool:
    """Tell whether a database can take part in a transaction."""
    if not file.is_file() or not file.stat().st_size:
        return False
    try:
        with closing(sqlite3.connect(file)) as raw:
            return bool(raw.execute("PRAGMA quick_check(1)").fetchone() == ("ok",))
    except UNREADABLE:
        return False


def _match_pages(database: Path, file: Path) -> None:
    """Give a copy the page size of the database it is to replace: WAL asks for it."""
    with (
        closing(sqlite3.connect(file)) as old,
        closing(sqlite3.connect(database)) as new,
    ):
        size = old.execute("PRAGMA page_size").fetchone()[0]
        if new.execute("PRAGMA page_size").fetchone()[0] != size:
            new.execute(f"PRAGMA page_size={size:d}")
            new.execute("VACUUM")


def _give_way(database: Path, log: Log) -> None:
    """Put a database in the place of one that does not work."""
    assert log.file is not None  # noqa: S101 - a folder always holds a file
    beside.make_ready(database, log.file)
    flush_folder(log.file.parent)
    beside.finish_restore(log)
    flush_folder(log.file.parent)
