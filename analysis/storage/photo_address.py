"""Originals at an address of their own: a folder that all machines of a log share.

The log itself says where, so that every machine that opens it uses the same folder. A
machine that sees it under another path says so by STRUCKFACE_PHOTOS. A file in the
folder bears the log's mark: where it is missing the folder is not there, and a folder
of another log is never taken.
"""

from __future__ import annotations

import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.storage.engine import reading
from analysis.storage.photo_store import OWNER
from analysis.storage.tables import DRAFT

if TYPE_CHECKING:
    from analysis.storage.engine import Log

HERE = "STRUCKFACE_PHOTOS"
KEY = "photo folder"
FOLDER = "folder"


def at_address(log: Log) -> Log:
    """Return a log with its originals where it says they are; touches no file.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     at_address(open_log(folder)).has_address
    False
    """
    with reading(log) as connection:
        kept = connection.scalar(sa.select(DRAFT.c.content).where(DRAFT.c.key == KEY))
    folder = kept.get(FOLDER) if isinstance(kept, dict) else None
    if not isinstance(folder, str) or not folder:
        return log
    here = os.environ.get(HERE, "").strip() or folder
    return replace(log, photo_folder=Path(here), has_address=True)


def is_reached(log: Log) -> bool:
    """Tell whether the originals of a log can be reached at all.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     is_reached(open_log(folder))
    True
    """
    return not log.has_address or (log.photo_folder / OWNER).is_file()
