"""How far folders are, for whoever looks on."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

from analysis.storage.folder_runs import list_runs

if TYPE_CHECKING:
    from analysis.model.folder import FolderRun
    from analysis.services.log import Log

_LATELY = timedelta(hours=12)
# A photo of 200 megapixels takes about a minute; a run that was killed says nothing.
_SILENT = timedelta(minutes=5)


def lately(log: Log) -> tuple[FolderRun, ...]:
    """Return the folders that were measured in the last half day, latest first.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     lately(open_log(folder))
    ()
    """
    since = datetime.now(UTC) - _LATELY
    return tuple(one for one in list_runs(log) if one.changed_at >= since)


def is_going(run: FolderRun) -> bool:
    """Tell whether a folder is being measured."""
    silent = datetime.now(UTC) - run.changed_at
    return run.ended_at is None and silent < _SILENT
