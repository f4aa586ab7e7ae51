"""Where the log of this machine lives, for what must lie beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.storage.engine import data_folder

if TYPE_CHECKING:
    from pathlib import Path


def log_folder() -> Path:
    """Return the folder of the log in use.

    Examples
    --------
    >>> log_folder().name != ""
    True
    """
    return data_folder()
