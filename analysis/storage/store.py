"""Opening a log: made if new, brought up to date, shrunk where much of it is empty."""

from __future__ import annotations

import logging
import sqlite3
import time
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.errors import DamagedLogError, NotInLogError, NoWritingError, RecordError
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

if TYPE_CHECKING:
    import os
    from pathlib import Path


_LOGGER = logging.getLogger(__name__)
# A file is written anew where at least this share of it is empty.
_WORTH_IT = 0.2
# From here on a file is looked through once a day, not at each opening.
_LARGE_BYTES = 500_000_000


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
        if not is_new and not _looked_through_today(file):
            if connection.scalar(sa.text("PRAGMA quick_check(1)")) != "ok":
                raise DamagedLogError(damaged(log))
            _note_looked_through(file)
        mode = connection.scalar(sa.text("PRAGMA journal_mode"))
    if mode != "wal":
        _switch_to_wal(log)


def _looked_through_today(file: Path) -> bool:
    """Tell whether a large file, this very one, was found whole today.

    Looking through takes a second a gigabyte: a small log is looked through whenever
    it is opened, a large one once a day. What breaks later that day is found by
    whoever reads it.
    """
    found = file.stat()
    if found.st_size < _LARGE_BYTES:
        return False
    with suppress(OSError, ValueError):
        size, of_day = _looked(file).read_text(encoding="ascii").split(maxsplit=1)
        return of_day == _today_of(found) and int(size) <= found.st_size
    return False


def _note_looked_through(file: Path) -> None:
    found = file.stat()
    if found.st_size >= _LARGE_BYTES:
        with suppress(OSError):
            told = f"{found.st_size} {_today_of(found)}"
            _looked(file).write_text(told, encoding="ascii")


def _looked(file: Path) -> Path:
    return file.with_name(f"{file.name}-looked-through")


def _today_of(found: os.stat_result) -> str:
    """Return the day and which file it is: one put in its place is another."""
    return f"{datetime.now(UTC).date()} {found.st_dev} {found.st_ino}"


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
