"""What lies in a backup, taken out into a fresh folder; nothing that could do harm."""

from __future__ import annotations

import os
import re
import shutil
import zipfile
import zlib
from typing import IO, TYPE_CHECKING

from analysis.errors import InputError, RecordError
from analysis.storage.backup import CHECKSUMS, copy_database, file_digest
from analysis.storage.engine import FILE_NAME

if TYPE_CHECKING:
    from pathlib import Path

_MOST_FILES = 200_000
_LARGEST_BYTES = 500_000_000_000
# Databases of numbers and outlines shrink to a fifth or so, photos not at all.
_LARGEST_RATIO = 100
_CHUNK = 1 << 20
_NAME = re.compile(r"log\.sqlite|CHECKSUMS|LOST|photos/([0-9a-f]{2})/\1[0-9a-f]{62}")
_LINE = re.compile(r"([0-9a-f]{64})  (\S+)")
_DATABASES = (".sqlite", ".sqlite3", ".db")


def gather(backup: Path, into: Path, *, only: str = "") -> None:
    """Bring what is to be restored into a folder of its own."""
    if backup.suffix in _DATABASES:
        copy_database(backup, into / FILE_NAME)
        return
    try:
        with zipfile.ZipFile(backup) as archive:
            entries = archive.infolist()
            _refuse_harm(entries, shutil.disk_usage(into).free)
            for entry in entries:
                if only in {"", entry.filename}:
                    target = into / entry.filename
                    target.parent.mkdir(parents=True, exist_ok=True)
                    with archive.open(entry) as source, target.open("wb") as file:
                        _copy(source, file, entry.file_size)
    except (
        zipfile.BadZipFile,
        zipfile.LargeZipFile,
        NotImplementedError,
        RuntimeError,
        EOFError,
        ValueError,
        zlib.error,
    ) as error:
        if isinstance(error, InputError):
            raise
        msg = f"{backup.name} is not a whole backup ({error}): choose another one."
        raise InputError(msg) from error
    if only and not (into / only).is_file():
        msg = "The zip is not a backup of a log: choose another one."
        raise InputError(msg)


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


def check_files(fresh: Path) -> None:
    """Check every file against its sum, and photos against their name as well."""
    found = {
        path.relative_to(fresh).as_posix(): path
        for path in fresh.rglob("*")
        if path.is_file()
    }
    listed = found.pop(CHECKSUMS, None)
    if FILE_NAME in found and listed is None and len(found) == 1:
        return  # a database by itself
    if listed is None or FILE_NAME not in found:
        msg = "The zip is not a backup of a log: choose another one."
        raise InputError(msg)
    lines = map(_LINE.fullmatch, listed.read_text("ascii", "replace").splitlines())
    sums = {line[2]: line[1] for line in lines if line}
    # The sums are the backup's own; a photo's name is what the log goes by.
    sums |= {name: found[name].name for name in found if name.startswith("photos/")}
    whole = {name: file_digest(path) for name, path in found.items()}
    if whole != sums:
        wrong = sorted(
            name for name in whole | sums if whole.get(name) != sums.get(name)
        )
        msg = f"The backup is damaged at {wrong[0]}: choose another one."
        raise RecordError(msg)
