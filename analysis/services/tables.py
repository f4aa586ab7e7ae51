"""Tables of pieces, from a file or from the log."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from analysis.pieces.repeats import check_repeats
from analysis.pieces.table import read_table, table_of_columns
from analysis.services.trial_marks import with_trials
from analysis.storage.piece_table import OUTCOMES, piece_columns

if TYPE_CHECKING:
    from analysis.model.comparison import PieceTable
    from analysis.pieces.columns import Column
    from analysis.services.log import Log

__all__ = [
    "columns_of_log",
    "table_from_csv",
    "table_from_log",
    "trials_of_log",
]

# A note is no setting that pieces could share, nor is who counted.
NO_SETTINGS = frozenset({"note", "reviewed"})


def table_from_csv(content: str | bytes) -> PieceTable:
    r"""Read a CSV table of pieces, alike to the log it may come from.

    Parameters
    ----------
    content : str or bytes
        The whole file.

    Raises
    ------
    TableError
        As `analysis.pieces.table.read_table`; or a row stands twice, or a pour has
        two days.

    Examples
    --------
    >>> table = table_from_csv("piece,pour,note,mix\n1,A,damp,grey\n")
    >>> sorted(table.text)
    ['mix', 'piece', 'pour']
    """
    found = read_table(content)
    check_repeats(found)
    return replace(
        found,
        text={key: col for key, col in found.text.items() if key not in NO_SETTINGS},
        number={
            key: col for key, col in found.number.items() if key not in NO_SETTINGS
        },
    )


def table_from_log(log: Log, *, stage: str | None = None) -> PieceTable:
    """Return the log's pieces, all counted from one smallest size.

    Parameters
    ----------
    log : Log
        The log.
    stage : str, optional
        Only readings at this stage; by default each piece's earliest.

    Returns
    -------
    PieceTable
        One row per piece, earliest casting first.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     len(table_from_log(open_log(folder)))
    0
    """
    columns = columns_of_log(log, stage=stage)
    return table_of_columns(columns, len(columns["piece"]))


def trials_of_log(log: Log, *, stage: str | None = None) -> PieceTable:
    """Return the log's pieces with all outcomes, counted from one smallest size.

    Parameters
    ----------
    log : Log
        The log.
    stage : str, optional
        Only readings at this stage; by default each piece's earliest.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     len(trials_of_log(open_log(folder)))
    0
    """
    found = piece_columns(log, stage=stage, common_floor=True, outcomes=True)
    further = {name: found.pop(name) for name in OUTCOMES}
    columns = _told(log, found) | further
    return table_of_columns(columns, len(columns["piece"]))


def columns_of_log(log: Log, *, stage: str | None = None) -> dict[str, Column]:
    """Return the columns of `table_from_log` by their values.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     "note" in columns_of_log(open_log(folder))
    False
    """
    return _told(log, piece_columns(log, stage=stage, common_floor=True))


def _told(log: Log, columns: dict[str, Column]) -> dict[str, Column]:
    """Return what a table tells of pieces, their trials with it."""
    found = with_trials(log, columns)
    return {name: its for name, its in found.items() if name not in NO_SETTINGS}
