"""Originals on disk, unchanged, each named by the sha256 of its bytes.

A marker beside the file says that its row is still on the way; the marker goes once the
row is kept. Only a file with a marker and without a row is ever removed, and only while
the writer's turn is held: what a cut-off save left goes, and nothing else does, even
beside an older copy of the database.
"""

from __future__ import annotations

import hashlib
import os
import re
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.errors import InputError, NotInLogError, RecordError
from analysis.storage.engine import reading, writing
from analysis.storage.tables import PHOTO

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.storage.engine import Log

_DIGEST = re.compile(r"[0-9a-f]{64}")
_PART = ".part"
_PENDING = ".pending"
# In a shared folder: the mark of the log whose photos are in it.
OWNER = "log-mark.txt"


def digest(data: bytes) -> str:
    """Return the sha256 of the bytes, 64 hex digits.

    Examples
    --------
    >>> digest(b"")[:8]
    'e3b0c442'
    """
    return hashlib.sha256(data).hexdigest()


def path_of(log: Log, sha256: str) -> Path:
    """Return where the original lies; only a digest ever reaches the disk."""
    if not _DIGEST.fullmatch(sha256):
        msg = f"A photo is named by 64 hex digits, {sha256!r} was given."
        raise InputError(msg)
    return log.photo_folder / sha256[:2] / sha256


def put(log: Log, data: bytes, sha256: str) -> None:
    """Write the original so that it is there whole or not at all.

    The caller holds the writer's turn. Bytes are flushed to disk before the file gets
    its name, and the name before the row that refers to it.
    """
    path = path_of(log, sha256)
    if path.is_file() and digest(path.read_bytes()) == sha256:
        return
    refuse_out_of_reach(log)
    path.parent.mkdir(parents=True, exist_ok=True)
    path.with_suffix(_PENDING).touch()
    part = path.with_suffix(_PART)
    with part.open("wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    part.replace(path)
    flush_folder(path.parent)
    flush_folder(log.photo_folder)


def refuse_out_of_reach(log: Log) -> None:
    """Refuse a shared folder that is not there: it would be made anew, elsewhere.

    Raises
    ------
    RecordError
        The folder lacks the file that says whose photos are in it.
    """
    if log.has_address and not (log.photo_folder / OWNER).is_file():
        msg = (
            f"The photo folder {log.photo_folder} of this log cannot be reached: "
            "connect it, or name it by STRUCKFACE_PHOTOS if it has another path on "
            "this machine; nothing was saved."
        )
        raise RecordError(msg)


def settle(log: Log, sha256: str) -> None:
    """Take the marker away once the row is kept."""
    path_of(log, sha256).with_suffix(_PENDING).unlink(missing_ok=True)


def flush_folder(folder: Path) -> None:
    """Make the names in a folder survive a power cut, where the system can."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def photo_bytes(log: Log, sha256: str) -> bytes:
    """Return the original, bit for bit.

    Parameters
    ----------
    log : Log
        The log.
    sha256 : str
        Of the bytes.

    Returns
    -------
    bytes
        As they were uploaded.

    Raises
    ------
    NotInLogError
        The log has no such photo.
    RecordError
        The file is missing or no longer what was stored.
    """
    path = path_of(log, sha256)
    with reading(log) as connection:
        known = connection.scalar(sa.select(PHOTO.c.id).where(PHOTO.c.sha256 == sha256))
    if known is None:
        msg = f"Photo {sha256[:12]} is not in the log."
        raise NotInLogError(msg)
    try:
        data = path.read_bytes()
    except OSError:
        refuse_out_of_reach(log)
        msg = (
            f"The file of photo {sha256[:12]} is missing from {log.photo_folder}: "
            "restore it from a backup."
        )
        raise RecordError(msg) from None
    if digest(data) != sha256:
        msg = (
            f"The file of photo {sha256[:12]} is no longer the one that was stored: "
            "restore it from a backup."
        )
        raise RecordError(msg)
    return data


def remove_orphans(log: Log, only: str | None = None) -> int:
    """Remove what saves that were cut off have left.

    Parameters
    ----------
    log : Log
        The log.
    only : str, optional
        Look at this photo alone.

    Returns
    -------
    int
        Photos removed.
    """
    pattern = f"[0-9a-f][0-9a-f]/{only or '*'}{_PENDING}"
    if not any(log.photo_folder.glob(pattern)):
        return 0
    removed = 0
    with writing(log) as connection:
        for marker in log.photo_folder.glob(pattern):
            sha256 = marker.stem
            if not _DIGEST.fullmatch(sha256):
                continue
            known = sa.select(PHOTO.c.id).where(PHOTO.c.sha256 == sha256)
            if connection.scalar(known) is None:
                path_of(log, sha256).unlink(missing_ok=True)
                removed += 1
            marker.with_suffix(_PART).unlink(missing_ok=True)
            marker.unlink(missing_ok=True)
    return removed
