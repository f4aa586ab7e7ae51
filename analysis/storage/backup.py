"""The whole log in one zip; a copy of the database every day.

A zip holds ``log.sqlite``, each original under ``photos/``, ``LOST`` where originals
are missing, and ``CHECKSUMS`` with the sha256 of every other file. The daily copy
leaves the photos out: they never change and lie beside it.
"""

from __future__ import annotations

import hashlib
import os
import re
import sqlite3
import time
import zipfile
from contextlib import closing, suppress
from datetime import date, datetime
from pathlib import Path
from typing import IO, TYPE_CHECKING

import sqlalchemy as sa

from analysis.errors import DamagedLogError, InputError, RecordError
from analysis.storage.beside import backup_folder, part_of, scratch
from analysis.storage.engine import (
    BUSY_TIMEOUT_S,
    FILE_NAME,
    Log,
    damaged,
    locate,
    reading,
)
from analysis.storage.photo_store import flush_folder, path_of
from analysis.storage.tables import PHOTO

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

__all__ = [
    "back_up",
    "back_up_daily",
    "backup_folder",
    "daily_backups",
    "lost_photos",
]

CHECKSUMS, LOST = "CHECKSUMS", "LOST"
DAYS_KEPT = 14
_DAILY = re.compile(r"log-(\d{4}-\d{2}-\d{2})\.zip")


def back_up(log: Log, target: str | os.PathLike[str], *, photos: bool = True) -> Path:
    """Write the log to one zip; it appears whole or not at all.

    A photo that is missing or changed is left out and listed (`lost_photos`); it must
    not keep all others from being backed up.

    Parameters
    ----------
    log : Log
        The log.
    target : path
        The zip to write; one that is there is replaced.
    photos : bool
        With the originals.

    Returns
    -------
    pathlib.Path
        The zip.

    Raises
    ------
    InputError
        The log is on a database server, which has its own way.
    RecordError
        The log is damaged, or the disk is full.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(f"{folder}/log")
    ...     back_up(log, f"{folder}/log.zip").name
    'log.zip'
    """
    if log.file is None:
        msg = (
            "The log is on a database server: back it up with the server's own tools "
            "and copy the photo folder."
        )
        raise InputError(msg)
    path = Path(target).absolute()
    part = part_of(path)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with scratch(path.parent) as folder:
            copy = folder / FILE_NAME
            copy_database(log.file, copy)
            with part.open("wb") as file:
                _fill(log, copy, file, photos=photos)
                file.flush()
                os.fsync(file.fileno())
        part.replace(path)
        flush_folder(path.parent)
    except UnicodeDecodeError as error:
        raise DamagedLogError(damaged(log)) from error
    except (OSError, sqlite3.Error) as error:
        msg = f"The backup {path} could not be written ({error}): choose another place."
        raise RecordError(msg) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return path


def copy_database(source: Path, target: Path) -> None:
    """Copy a database that may be in use, as it is at one moment.

    Where the target is a database in use, all of it changes in one transaction: who
    reads it sees the old state or the new one, and so does the next start after a cut.
    """
    with (
        closing(sqlite3.connect(f"{source.as_uri()}?mode=ro", uri=True)) as original,
        closing(sqlite3.connect(target, timeout=BUSY_TIMEOUT_S)) as copy,
    ):
        is_new = target.stat().st_size == 0
        original.backup(copy, progress=_no_longer_than(BUSY_TIMEOUT_S))
        if is_new:
            copy.execute("PRAGMA journal_mode=DELETE")  # one file, no companions


def _no_longer_than(busy_s: float) -> Callable[[int, int, int], None]:
    """Give up on a database that someone else writes to: SQLite itself tries on."""
    end = time.monotonic() + busy_s

    def check(state: int, _left: int, _pages: int) -> None:
        waits = state in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
        if waits and time.monotonic() > end:
            msg = "it is in use by someone else: try again in a moment"
            raise sqlite3.OperationalError(msg)

    return check


def photos_in(database: Path) -> tuple[str, ...]:
    """Return the photos a copied database refers to."""
    with reading(locate(database)) as connection:
        return tuple(connection.scalars(sa.select(PHOTO.c.sha256)))


def lost_photos(backup: str | os.PathLike[str]) -> tuple[str, ...]:
    """Return the photos that were missing when a backup was made, by sha256.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     lost_photos(back_up(open_log(f"{folder}/log"), f"{folder}/log.zip"))
    ()
    """
    with zipfile.ZipFile(backup) as archive:
        if LOST not in archive.namelist():
            return ()
        return tuple(archive.read(LOST).decode("ascii", "replace").split())


def _fill(log: Log, database: Path, file: IO[bytes], *, photos: bool) -> None:
    """Write the zip's files; each is checked on its way in."""
    sums, lost = [], []
    with zipfile.ZipFile(file, "w") as archive:
        archive.write(database, FILE_NAME, zipfile.ZIP_DEFLATED)
        sums.append(f"{file_digest(database)}  {FILE_NAME}")
        for sha256 in photos_in(database) if photos else ():
            path = path_of(log, sha256)
            if not is_whole(path, sha256):
                lost.append(sha256)
                continue
            name = f"photos/{sha256[:2]}/{sha256}"
            archive.write(path, name, zipfile.ZIP_STORED)
            sums.append(f"{sha256}  {name}")
        if lost:
            text = ("\n".join(lost) + "\n").encode()
            archive.writestr(LOST, text)
            sums.append(f"{hashlib.sha256(text).hexdigest()}  {LOST}")
        archive.writestr(CHECKSUMS, "\n".join(sums) + "\n")


def file_digest(path: Path) -> str:
    """Return a file's sha256."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


def is_whole(path: Path, sha256: str) -> bool:
    """Tell whether an original is there with the bytes its name says."""
    try:
        return path.is_file() and file_digest(path) == sha256
    except OSError:
        return False


def daily_backups(log: Log) -> tuple[Path, ...]:
    """Return the daily copies, latest first."""
    return tuple(path for _, path in _daily(log))


def _daily(log: Log) -> Iterator[tuple[str, Path]]:
    """Yield day and path of each daily copy, latest first."""
    paths = backup_folder(log).glob("log-*.zip")
    dated = ((_DAILY.fullmatch(path.name), path) for path in paths)
    yield from sorted(((day[1], path) for day, path in dated if day), reverse=True)


def back_up_daily(log: Log, *, today: date | None = None) -> Path | None:
    """Copy the database once a day and let the oldest copies go.

    Parameters
    ----------
    log : Log
        The log; one on a server is left to the server.
    today : datetime.date, optional
        Local day, now if not given.

    Returns
    -------
    pathlib.Path or None
        The new copy; None when today's is there.
    """
    if log.file is None:
        return None
    day = today or datetime.now().astimezone().date()
    path = backup_folder(log) / f"log-{day.isoformat()}.zip"
    if path.exists():
        return None
    back_up(log, path, photos=False)
    for old in daily_backups(log)[DAYS_KEPT:]:
        old.unlink(missing_ok=True)
    return path
