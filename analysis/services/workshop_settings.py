"""What a workshop sets once, kept in its log."""

from __future__ import annotations

from dataclasses import asdict, fields
from typing import TYPE_CHECKING

from analysis.checks import plain_text
from analysis.errors import InputError
from analysis.model.settings import Settings
from analysis.model.writing import write_for
from analysis.storage.drafts import load_draft, save_draft

if TYPE_CHECKING:
    from analysis.services.log import Log

_KEY = "settings"


def settings(log: Log) -> Settings:
    """Return what is set; the usual where nothing is, or a value is not known here.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     settings(open_log(folder)).unit
    'mm'
    """
    kept = load_draft(log, _KEY) or {}
    found = Settings()
    for one in fields(Settings):
        value = kept.get(one.name)
        if isinstance(value, str):
            given = asdict(found) | {one.name: value}
            try:
                found = Settings(**given)
            except InputError:
                continue  # kept by another version
    return found


def keep_settings(log: Log, given: Settings) -> None:
    """Keep what is set for everyone on this log.

    Raises
    ------
    InputError
        The name has a control character.
    RecordError
        The log cannot be written to.
    """
    plain_text(given.workshop, "The workshop's name")
    save_draft(log, _KEY, asdict(given))


def apply_settings(log: Log) -> Settings:
    """Write days and heads of sheets as this log's workshop does, from here on.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     apply_settings(open_log(folder)).workshop
    ''
    """
    found = settings(log)
    write_for(day_style=found.day_style, workshop=found.workshop.strip())
    return found
