"""The whole log in one zip, and back; a copy of the database every day.

A zip holds ``log.sqlite``, each original under ``photos/`` and ``CHECKSUMS`` with the
sha256 of every other file. The daily copy leaves the photos out: they never change and
lie beside it.
"""

from __future__ import annotations

import hashlib
import os
import re
import shutil
import sqlite3
import tempfile
import zipfile
from contextlib import closing, suppress
from datetime import UTC, date, datetime
from pathlib import Path
from typing import IO, TYPE_CHECKING

import sqlalchemy as sa

from analysis.errors import InputError, RecordError
from analysis.storage.engine import FILE_NAME, Log, locate, reading
from analysis.storage.photo_store import flush_folder, path_of
from analysis.storage.store import open_log
from analysis.storage.tables import PHOTO

if TYPE_CHECKING:
    from collections.abc import Iterator

CHECKSUMS = "CHECKSUMS"
DAYS_KEPT = 14
_MOST_FILES = 200_000
_LARGEST_BYTES = 500_000_000_000
# Databases of numbers and outlines shrink to a fifth or so, photos not at all.
_LARGEST_RATIO = 100
_CHUNK = 1 << 20
_NAME = re.compile(r"log\.sqlite|CHECKSUMS|photos/([0-9a-f]{2})/\1[0-9a-f]{62}")
_LINE = re.compile(r"([0-9a-f]{64})  (\S+)")
_DAILY = re.compile(r"log-(\d{4}-\d{2}-\d{2})\.zip")


def back_up(log: Log, target: str | os.PathLike[str], *, photos: bool = True) -> Path:
    """Write the log to one zip; it appears whole or not at all.

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
        A photo is missing or changed, or the disk is full.

    Examples
    --------
    >>> import tempfile
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
    part = path.with_name(path.name + ".part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=path.parent) as folder:
            copy = Path(folder) / FILE_NAME
            _copy_database(log.file, copy)
            with part.open("wb") as file:
                _fill(log, copy, file, photos=photos)
                file.flush()
                os.fsync(file.fileno())
        part.replace(path)
        flush_folder(path.parent)
    except (OSError, sqlite3.Error) as error:
        msg = f"The backup {path} could not be written ({error}): choose another place."
        raise RecordError(msg) from error
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    return path


def _copy_database(source: Path, target: Path) -> None:
    """Copy a database that may be in use, as it is at one moment."""
    with (
        closing(sqlite3.connect(source)) as original,
        closing(sqlite3.connect(target)) as copy,
    ):
        original.backup(copy)
        copy.execute("PRAGMA journal_mode=DELETE")  # one file, no companions


def _photos_in(database: Path) -> tuple[str, ...]:
    """Return the photos a copied database refers to."""
    with reading(locate(database)) as connection:
        return tuple(connection.scalars(sa.select(PHOTO.c.sha256)))


def _fill(log: Log, database: Path, file: IO[bytes], *, photos: bool) -> None:
    """Write the zip's files; each is checked on its way in."""
    sums = []
    with zipfile.ZipFile(file, "w") as archive:
        archive.write(database, FILE_NAME, zipfile.ZIP_DEFLATED)
        sums.append(f"{_digest(database)}  {FILE_NAME}")
        for sha256 in _photos_in(database) if photos else ():
            path = path_of(log, sha256)
            if not path.is_file() or _digest(path) != sha256:
                msg = (
                    f"Photo {sha256[:12]} is missing or changed in {log.photo_folder}: "
                    "put it back from an older backup, then back up again."
                )
                raise RecordError(msg)
            name = f"photos/{sha256[:2]}/{sha256}"
            archive.write(path, name, zipfile.ZIP_STORED)
            sums.append(f"{sha256}  {name}")
        archive.writestr(CHECKSUMS, "\n".join(sums) + "\n")


def _digest(path: Path) -> str:
    """Return a file's sha256."""
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()


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
        The zip.
    folder : path
        Where the log is to be.
    replace : bool
        A log that is there is moved aside, to a name with the time in it; otherwise
        it is an error. Nothing is erased.

    Returns
    -------
    Log
        Open, its tables up to date.

    Raises
    ------
    InputError
        Not a backup, or harmful, or there is a log already.
    RecordError
        The backup is damaged, or the disk is full.
    """
    log = locate(folder)
    assert log.file is not None  # noqa: S101 - a folder always holds a file
    if not replace and log.file.exists():
        msg = f"There is a log at {log.file} already: choose an empty folder."
        raise InputError(msg)
    try:
        log.file.parent.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=log.file.parent) as scratch:
            fresh = Path(scratch)
            _unpack(Path(backup), fresh)
            _check(fresh, log)
            _move_in(fresh, log)
    except OSError as error:
        msg = f"The backup could not be restored ({error}): the log is as it was."
        raise RecordError(msg) from error
    return open_log(folder)


def _unpack(backup: Path, into: Path) -> None:
    """Unpack the known files, counting what really comes out."""
    try:
        with zipfile.ZipFile(backup) as archive:
            entries = archive.infolist()
            _refuse_harm(entries, shutil.disk_usage(into).free)
            for entry in entries:
                target = into / entry.filename
                target.parent.mkdir(parents=True, exist_ok=True)
                with archive.open(entry) as source, target.open("wb") as file:
                    _copy(source, file, entry.file_size)
    except (zipfile.BadZipFile, NotImplementedError, RuntimeError, EOFError) as error:
        msg = f"{backup.name} is not a whole backup ({error}): choose another one."
        raise InputError(msg) from error


def _refuse_harm(entries: list[zipfile.ZipInfo], free: int) -> None:
    """Refuse names that lead elsewhere and files that swell without end."""
    names = [entry.filename for entry in entries]
    strange = [name for name in names if not _NAME.fullmatch(name)]
    if strange or len(set(names)) < len(names):
        what = f"a file {strange[0]!r}" if strange else "a file twice"
        msg = f"The backup holds {what}, which no log has: choose another one."
        raise InputError(msg)
    size = sum(entry.file_size for entry in entries)
    packed = sum(entry.compress_size for entry in entries)
    if (
        len(entries) > _MOST_FILES
        or size > _LARGEST_BYTES
        or size > _LARGEST_RATIO * max(packed, _CHUNK)
    ):
        msg = (
            f"The backup unpacks to {size / 1e6:.0f} MB in {len(entries)} files from "
            f"{packed / 1e6:.1f} MB, which no log does: choose another one."
        )
        raise InputError(msg)
    if size > free:
        msg = (
            f"The backup needs {size / 1e6:.0f} MB and {free / 1e6:.0f} MB are free: "
            "make room, then restore again."
        )
        raise InputError(msg)


def _copy(source: IO[bytes], file: IO[bytes], size: int) -> None:
    """Copy at most the size that was declared."""
    left = size
    while chunk := source.read(_CHUNK):
        left -= len(chunk)
        if left < 0:
            msg = "The backup holds more than it says: choose another one."
            raise InputError(msg)
        file.write(chunk)
    file.flush()
    os.fsync(file.fileno())


def _check(fresh: Path, log: Log) -> None:
    """Check every file against its sum, the database, and that no photo is missing."""
    listed = fresh / CHECKSUMS
    if not listed.is_file() or not (fresh / FILE_NAME).is_file():
        msg = "The zip is not a backup of a log: choose another one."
        raise InputError(msg)
    lines = map(_LINE.fullmatch, listed.read_text("ascii", "replace").splitlines())
    sums = {line[2]: line[1] for line in lines if line}
    listed.unlink()
    found = {
        path.relative_to(fresh).as_posix(): _digest(path)
        for path in fresh.rglob("*")
        if path.is_file()
    }
    if found != sums:
        wrong = sorted(
            name for name in found | sums if found.get(name) != sums.get(name)
        )
        msg = f"The backup is damaged at {wrong[0]}: choose another one."
        raise RecordError(msg)
    with closing(sqlite3.connect(fresh / FILE_NAME)) as database:
        try:
            state = database.execute("PRAGMA integrity_check(1)").fetchone()[0]
        except sqlite3.DatabaseError as error:
            state = str(error)
    if state != "ok":
        msg = f"The database in the backup is damaged ({state}): choose another one."
        raise RecordError(msg)
    for sha256 in _photos_in(fresh / FILE_NAME):
        beside = path_of(log, sha256)
        if f"photos/{sha256[:2]}/{sha256}" in found:
            continue
        if not beside.is_file() or _digest(beside) != sha256:
            msg = (
                f"The backup has no photo {sha256[:12]} and neither has "
                f"{log.photo_folder}: restore a backup with photos."
            )
            raise RecordError(msg)


def _move_in(fresh: Path, log: Log) -> None:
    """Move what was checked to its place: photos first, the database last."""
    assert log.file is not None  # noqa: S101 - a folder always holds a file
    for path in (fresh / "photos").glob("*/*"):
        target = path_of(log, path.name)
        target.parent.mkdir(parents=True, exist_ok=True)
        path.replace(target)
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")
    for tail in ("", "-wal", "-shm"):
        old = log.file.with_name(log.file.name + tail)
        if old.exists():
            old.replace(log.file.with_name(f"replaced-{stamp}-{log.file.name}{tail}"))
    (fresh / FILE_NAME).replace(log.file)
    flush_folder(log.file.parent)


def backup_folder(log: Log) -> Path:
    """Return where the daily copies are."""
    return log.photo_folder.parent / "backups"


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
