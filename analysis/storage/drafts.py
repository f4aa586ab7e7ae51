"""Half-filled forms, kept so that a locked phone or a reload loses nothing.

A photo that is not saved yet lies beside the log, named by its sha256; only the latest
few are kept, and no record ever refers to them.
"""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.errors import InputError
from analysis.storage.engine import in_words, reading, writing
from analysis.storage.photo_store import digest
from analysis.storage.saving import now
from analysis.storage.tables import DRAFT

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from analysis.storage.engine import Log

LARGEST_CHARS = 1_000_000
# A whole yard of phones, each with a photo in hand and one before.
PHOTOS_KEPT = 48


def save_draft(log: Log, key: str, content: Mapping[str, Any]) -> None:
    """Keep a draft under a key; the one before it is replaced.

    Parameters
    ----------
    log : Log
        The log.
    key : str
        Which form, e.g. ``"pour"`` or ``"piece 7"``.
    content : mapping
        What JSON can hold.

    Raises
    ------
    InputError
        Something in it cannot be kept, or it is too large.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     save_draft(log, "pour", {"name": "12"})
    ...     load_draft(log, "pour")
    {'name': '12'}
    """
    try:
        text = json.dumps(content, allow_nan=False)
    except (TypeError, ValueError) as error:
        msg = f"The draft {key!r} cannot be kept ({error}): clear that field."
        raise InputError(msg) from None
    if len(text) > LARGEST_CHARS:
        msg = f"The draft {key!r} is too long to keep: shorten its notes."
        raise InputError(msg)
    values = {"content": json.loads(text), "changed_at": now()}
    with writing(log) as connection:
        done = connection.execute(
            sa.update(DRAFT).where(DRAFT.c.key == key).values(**values)
        )
        if done.rowcount == 0:
            connection.execute(sa.insert(DRAFT).values(key=key, **values))


def load_draft(log: Log, key: str) -> dict[str, Any] | None:
    """Return a draft, None when there is none."""
    with reading(log) as connection:
        content: dict[str, Any] | None = connection.scalar(
            sa.select(DRAFT.c.content).where(DRAFT.c.key == key)
        )
    return content


def list_drafts(log: Log, prefix: str = "") -> tuple[str, ...]:
    """Return the keys that begin so, the latest changed first."""
    query = (
        sa.select(DRAFT.c.key)
        .where(DRAFT.c.key.startswith(prefix, autoescape=True))
        .order_by(DRAFT.c.changed_at.desc(), DRAFT.c.key)
    )
    with reading(log) as connection:
        return tuple(connection.scalars(query))


def drop_draft(log: Log, key: str) -> None:
    """Forget a draft, as after saving the form."""
    with writing(log) as connection:
        connection.execute(sa.delete(DRAFT).where(DRAFT.c.key == key))


def keep_draft_photo(log: Log, data: bytes) -> str:
    """Keep a photo that is being worked on; the oldest of them go.

    Parameters
    ----------
    log : Log
        The log.
    data : bytes
        The file as it was given.

    Returns
    -------
    str
        Its sha256, for `draft_photo`.

    Raises
    ------
    RecordError
        It cannot be written.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     draft_photo(log, keep_draft_photo(log, b"photo"))
    b'photo'
    """
    sha256 = digest(data)
    path = draft_folder(log) / sha256
    with in_words(log):
        path.parent.mkdir(parents=True, exist_ok=True)
        part = path.with_name(f"{sha256}.part")
        part.write_bytes(data)
        part.replace(path)
        kept = sorted(path.parent.iterdir(), key=lambda one: one.stat().st_mtime_ns)
        for old in kept[:-PHOTOS_KEPT]:
            old.unlink(missing_ok=True)
    return sha256


def draft_photo(log: Log, sha256: str) -> bytes | None:
    """Return a photo kept by `keep_draft_photo`; None when it is gone or changed."""
    try:
        data = (draft_folder(log) / sha256).read_bytes()
    except OSError:
        return None
    return data if digest(data) == sha256 else None


def draft_folder(log: Log) -> Path:
    """Return the folder of the photos that drafts hold."""
    return log.home / "drafts"
