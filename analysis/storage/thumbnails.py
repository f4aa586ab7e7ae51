"""Small pictures kept beside the originals; made again where one is gone."""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from typing import TYPE_CHECKING, Any

from analysis.storage.beside import part_of
from analysis.storage.photo_store import path_of

if TYPE_CHECKING:
    from pathlib import Path

    from analysis.storage.engine import Log

_FOLDER = "thumbnails"
_MARK = 12


def kept_thumbnail(log: Log, sha256: str, face: dict[str, Any] | None) -> bytes | None:
    """Return the small picture of a photo with this face, None where none is kept.

    Parameters
    ----------
    log : Log
        The log.
    sha256 : str
        Of the photo.
    face : dict or None
        As JSON holds it: another outline is another picture.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     keep_thumbnail(log, 64 * "a", None, b"small")
    ...     kept_thumbnail(log, 64 * "a", None)
    b'small'
    """
    with suppress(OSError):
        return _path(log, sha256, face).read_bytes()
    return None


def keep_thumbnail(
    log: Log, sha256: str, face: dict[str, Any] | None, picture: bytes
) -> None:
    """Keep a small picture; where it cannot be written it is made again next time."""
    if log.read_only:
        return
    path = _path(log, sha256, face)
    with suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        part = part_of(path)
        part.write_bytes(picture)
        part.replace(path)


def _path(log: Log, sha256: str, face: dict[str, Any] | None) -> Path:
    """Name a picture by its photo and what is drawn on it."""
    original = path_of(log, sha256)
    drawn = json.dumps(face, sort_keys=True).encode()
    mark = hashlib.sha256(drawn).hexdigest()[:_MARK]
    folder = log.home / _FOLDER / original.parent.name
    return folder / f"{sha256}-{mark}.jpg"
