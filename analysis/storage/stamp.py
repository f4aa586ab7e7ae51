"""Tell cheaply whether a log may have changed."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.storage.engine import Log


def stamp(log: Log) -> str | None:
    """Return what differs after every change of the log.

    Returns
    -------
    str or None
        Size and time of the SQLite file and of its write-ahead file; None for a
        database server, where there is nothing cheap to look at.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     stamp(log) == stamp(log)
    True
    """
    if log.file is None:
        return None
    parts = []
    for path in (log.file, log.file.with_name(log.file.name + "-wal")):
        try:
            found = path.stat()
        except FileNotFoundError:
            continue
        parts.append(f"{path.name} {found.st_size} {found.st_mtime_ns}")
    return "; ".join(parts)
