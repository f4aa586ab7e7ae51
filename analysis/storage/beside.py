"""What lies beside a log's database: copies put aside, and work that was cut off."""

from __future__ import annotations

import os
import re
import shutil
import tempfile
import time
from contextlib import contextmanager, suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

    from analysis.storage.engine import Log

_SCRATCH = ".at-work-"
_READY = ".restored-"
_PART = ".part"
_OLD_S = 24 * 3600.0
_COMPANIONS = ("-wal", "-shm", "-journal")
# What versions before this one left when they were killed.
_FORMER_SCRATCH = re.compile(r"tmp[a-z0-9_]{8}")


def backup_folder(log: Log) -> Path:
    """Return where the daily copies are."""
    return log.home / "backups"


def new_stamp() -> str:
    """Return a name's part that tells when, to the microsecond."""
    return datetime.now(UTC).strftime("%Y%m%dT%H%M%S%f")


@contextmanager
def scratch(folder: Path) -> Iterator[Path]:
    """Make a folder for work that is removed again, now or at a later start."""
    made = Path(tempfile.mkdtemp(prefix=f"{_SCRATCH}{os.getpid()}-", dir=folder))
    try:
        yield made
    finally:
        shutil.rmtree(made, ignore_errors=True)


def part_of(path: Path) -> Path:
    """Return what a file is called until it is whole; of this process alone."""
    return path.with_name(f"{_SCRATCH}{os.getpid()}-{path.name}{_PART}")


def tidy(log: Log) -> int:
    """Remove what backups and restores that were killed have left; return how many."""
    removed = 0
    for folder in (log.home, backup_folder(log)):
        with suppress(OSError):
            for path in [*folder.iterdir()]:
                if _is_left(path):
                    removed += 1
                    if path.is_dir():
                        shutil.rmtree(path, ignore_errors=True)
                    else:
                        path.unlink(missing_ok=True)
    return removed


def _is_left(path: Path) -> bool:
    """Tell whether nobody works with a temporary file or folder any more."""
    if path.name.startswith(_SCRATCH):
        number = path.name.removeprefix(_SCRATCH).partition("-")[0]
        if number.isdecimal() and process_is_gone(int(number)):
            return True
    elif not (
        _FORMER_SCRATCH.fullmatch(path.name) or path.name.endswith(f".zip{_PART}")
    ):
        return False
    return time.time() - path.stat().st_mtime > _OLD_S


def process_is_gone(pid: int) -> bool:
    """Tell whether a process of this machine has surely ended.

    Examples
    --------
    >>> process_is_gone(os.getpid())
    False
    """
    # On Windows asking so would end the process.
    if os.name != "posix":
        return False
    try:
        os.kill(pid, 0)
    except ProcessLookupError:
        return True
    except (PermissionError, OverflowError):
        return False
    return _is_unburied(pid)


def _is_unburied(pid: int) -> bool:
    """Tell a process that has ended and only waits for its parent to take note.

    Linux tells so in the state behind the name (proc_pid_stat(5)); elsewhere unknown.
    """
    try:
        told = Path(f"/proc/{pid}/stat").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return False
    return told.rpartition(")")[2].split()[0] in {"Z", "X"}


def replaced(log: Log) -> tuple[Path, ...]:
    """Return the databases that restores have put aside, latest first."""
    if log.file is None:
        return ()
    found = log.file.parent.glob(f"replaced-*-{log.file.name}")
    return tuple(sorted(found, reverse=True))


def aside_path(file: Path, stamp: str) -> Path:
    """Return where a database is put aside, a name not in use."""
    return file.with_name(f"replaced-{stamp}-{file.name}")


def make_ready(database: Path, file: Path) -> None:
    """Lay a checked database beside the one it replaces; from here it only goes on."""
    database.replace(file.with_name(f"{_READY}{new_stamp()}-{file.name}"))


def finish_restore(log: Log) -> bool:
    """Put a database that lies ready in its place, what was there aside.

    Done again wherever it was cut off: each step leads on from the one before.

    Returns
    -------
    bool
        True where one lay ready.
    """
    file = log.file
    if file is None:
        return False
    pending = sorted(file.parent.glob(f"{_READY}*-{file.name}"))
    for ready in pending:
        stamp = ready.name.removeprefix(_READY).removesuffix(f"-{file.name}")
        # Companions too: a journal left here would be played into the new database.
        for tail in (*_COMPANIONS, ""):
            old = file.with_name(file.name + tail)
            if old.exists():
                aside = aside_path(file, stamp)
                old.replace(aside.with_name(aside.name + tail))
        ready.replace(file)
    return bool(pending)


def traces(log: Log) -> bool:
    """Tell whether a log has been here, whose database is gone or empty now."""
    photos = log.photo_folder.glob("[0-9a-f][0-9a-f]/" + "[0-9a-f]" * 64)
    return any(photos) or any(backup_folder(log).glob("*.zip")) or bool(replaced(log))
