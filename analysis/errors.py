"""Refusals. Each message is one sentence: what, what was given, what to do."""

from __future__ import annotations


class StruckfaceError(Exception):
    """Base of every refusal the project makes on purpose.

    Examples
    --------
    >>> issubclass(PhotoError, StruckfaceError)
    True
    """


class InputError(StruckfaceError, ValueError):
    """A value given by the user is outside what can be worked with."""


class PhotoError(InputError):
    """The file is not a photo that can be measured."""


class ScaleError(InputError):
    """The scale is missing, impossible or contradicts itself."""


class FaceError(InputError):
    """The face outline, a left-out area or a joint line cannot be used."""


class PairError(InputError):
    """Two photos cannot be measured as one pair."""


class TableError(InputError):
    """A table of pieces cannot be read as one."""


class BusyError(StruckfaceError):
    """So much waits for this machine that no more is taken on now."""


class RecordError(StruckfaceError):
    """The log cannot be read or written."""


class DamagedLogError(RecordError):
    """The log's database is damaged: a backup is to be restored."""


class NoWritingError(RecordError):
    """The log can perhaps be read, but nothing can be written: read-only, or full."""


class NewerLogError(DamagedLogError):
    """A newer version of the program has written the log: update, or go back."""


class NotInLogError(RecordError, LookupError):
    """The record asked for is not in the log."""


class ConflictError(RecordError):
    """Someone else changed the record since it was read.

    Attributes
    ----------
    stored, given : object
        The record as it is now, and as it was to be saved.
    """

    def __init__(
        self, message: str, *, stored: object = None, given: object = None
    ) -> None:
        super().__init__(message)
        self.stored = stored
        self.given = given
