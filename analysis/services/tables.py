"""Tables of pieces, from a file or from the log."""

from __future__ import annotations

from dataclasses import fields, replace
from operator import attrgetter
from typing import TYPE_CHECKING

from analysis.model.log_views import PieceRow
from analysis.pieces.table import piece_table, read_table
from analysis.services.trial_marks import with_trials
from analysis.storage.piece_table import piece_table as rows_of_log

if TYPE_CHECKING:
    from analysis.model.comparison import PieceTable
    from analysis.services.log import Log

__all__ = [
    "table_from_csv",
    "table_from_log",
]

# A note is no setting that pieces could share, nor is who counted.
NO_SETTINGS = frozenset({"note", "reviewed"})
_COLUMNS = tuple(f.name for f in fields(PieceRow) if f.name not in NO_SETTINGS)
_cells = attrgetter(*_COLUMNS)


def table_from_csv(content: str | bytes) -> PieceTable:
    r"""Read a CSV table of pieces, alike to the log it may come from.

    Parameters
    ----------
    content : str or bytes
        The whole file.

    Raises
    ------
    TableError
        As `analysis.pieces.table.read_table`.

    Examples
    --------
    >>> table = table_from_csv("piece,pour,note,mix\n1,A,damp,grey\n")
    >>> sorted(table.text)
    ['mix', 'piece', 'pour']
    """
    found = read_table(content)
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
    rows = rows_of_log(log, stage=stage, common_floor=True)
    return piece_table(
        with_trials(
            log, (dict(zip(_COLUMNS, _cells(row), strict=True)) for row in rows)
        )
    )
