"""Giving the originals of a log another address: copied, checked, then recorded."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.errors import InputError
from analysis.storage.engine import in_words, reading, writing
from analysis.storage.log_mark import log_mark
from analysis.storage.photo_address import FOLDER, KEY
from analysis.storage.photo_store import OWNER, digest, path_of, put, settle
from analysis.storage.saving import now
from analysis.storage.tables import DRAFT, PHOTO

if TYPE_CHECKING:
    import os

    from analysis.storage.engine import Log


@dataclass(frozen=True, slots=True, kw_only=True)
class MovedPhotos:
    """What came of giving the originals another address.

    Attributes
    ----------
    log : Log
        As it is to be used from here on.
    copied, there, missing : int
        Photos copied, there already, and of no file anywhere.
    """

    log: Log
    copied: int
    there: int
    missing: int


def give_address(log: Log, folder: str | os.PathLike[str]) -> MovedPhotos:
    """Let a log keep its originals in a folder that machines share.

    Those it has are copied first and checked; the old ones stay where they are. Begun
    again after a cut it goes on.

    Parameters
    ----------
    log : Log
    folder : str or path
        Absolute, as all machines see it. It is made if its parent is there.

    Raises
    ------
    InputError
        The folder cannot be used, or holds the photos of another log.
    RecordError
        Something cannot be written there; the log keeps its old address.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     moved = give_address(open_log(f"{folder}/log"), f"{folder}/shared")
    ...     moved.copied, open_log(f"{folder}/log").photo_folder.name
    (0, 'shared')
    """
    target = _checked(Path(folder))
    mark = log_mark(log)
    new = replace(log, photo_folder=target, has_address=True)
    with in_words(new):
        _take(target, mark)
    copied, there, missing = _copied(log, new)
    with writing(log) as connection:
        # What was saved meanwhile is in the old folder; nobody saves now.
        more = _copied(log, new, connection)
        row = {"content": {FOLDER: str(target)}, "changed_at": now()}
        connection.execute(sa.delete(DRAFT).where(DRAFT.c.key == KEY))
        connection.execute(sa.insert(DRAFT).values(key=KEY, **row))
    return MovedPhotos(log=new, copied=copied + more[0], there=there, missing=missing)


def _checked(folder: Path) -> Path:
    if not folder.is_absolute():
        msg = (
            f"The photo folder must be given whole, as all machines see it, not "
            f"'{folder}': begin with a drive or a slash."
        )
        raise InputError(msg)
    if not folder.parent.is_dir():
        msg = (
            f"The photo folder {folder} cannot be made, since {folder.parent} is not "
            "there: connect the share, or choose another."
        )
        raise InputError(msg)
    return folder


def _take(folder: Path, mark: str) -> None:
    """Make the folder this log's own, unless it is another's."""
    folder.mkdir(exist_ok=True)
    owner = folder / OWNER
    if not owner.is_file():
        owner.write_text(mark, encoding="ascii")
    elif owner.read_text(encoding="ascii", errors="replace").strip() != mark:
        msg = (
            f"The folder {folder} holds the photos of another log: choose one of its "
            "own for this log."
        )
        raise InputError(msg)


def _copied(
    old: Log, new: Log, connection: sa.Connection | None = None
) -> tuple[int, int, int]:
    """Copy what is not there yet; return photos copied, there already, and missing."""
    known = sa.select(PHOTO.c.sha256)
    if connection is None:
        with reading(old) as own:
            listed = tuple(own.scalars(known))
    else:
        listed = tuple(connection.scalars(known))
    copied = there = missing = 0
    for sha256 in listed:
        if path_of(new, sha256).is_file():
            there += 1
            continue
        try:
            data = path_of(old, sha256).read_bytes()
        except OSError:
            missing += 1
            continue
        if digest(data) != sha256:
            missing += 1
            continue
        with in_words(new):
            put(new, data, sha256)
            settle(new, sha256)
        copied += 1
    return copied, there, missing
