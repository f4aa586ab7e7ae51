"""Readings and tables as files for other programs."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from analysis.errors import NotInLogError
from analysis.monitoring.output import track_json
from analysis.pieces.grid import write_csv, write_xlsx
from analysis.report.coco import coco_annotations
from analysis.services.photos import (
    encoded,
    read_photo,
    reading_answer,
    reading_overlay,
    void_rows,
)
from analysis.services.pieces import lines_to_show
from analysis.storage.photo_store import photo_bytes
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.log_views import ReadingLine
    from analysis.model.monitoring import Track
    from analysis.services.log import Log

    Table = tuple[tuple[str, ...], list[list[str | float | None]]]

__all__ = [
    "annotated_png",
    "annotations_json",
    "line_of_piece",
    "reading_json",
    "table_csv",
    "table_xlsx",
    "track_table",
    "void_table",
]


def line_of_piece(log: Log, piece_id: int) -> ReadingLine:
    """Return the reading that stands for a piece, else its latest.

    Raises
    ------
    NotInLogError
        The piece has none.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     line_of_piece(open_log(folder), 1)
    Traceback (most recent call last):
    analysis.errors.NotInLogError: This piece has no reading: measure a face of it.
    """
    lines = lines_to_show(log, piece_id)
    if not lines:
        msg = "This piece has no reading: measure a face of it."
        raise NotInLogError(msg)
    return lines[0]


def reading_json(log: Log, line: ReadingLine) -> bytes:
    """Return a reading with the keys of the command line's ``measure``, as JSON."""
    answer = reading_answer(load_reading(log, line.id))
    return json.dumps(answer, indent=1, allow_nan=False).encode()


def annotated_png(log: Log, line: ReadingLine) -> bytes:
    """Return the photo at full size with its voids outlined.

    Raises
    ------
    StruckfaceError
        The photo cannot be read.
    """
    photo = read_photo(photo_bytes(log, line.photo_sha256), line.photo_name)
    return encoded(reading_overlay(photo, load_reading(log, line.id)))


def annotations_json(log: Log, lines: Sequence[ReadingLine] | None = None) -> bytes:
    """Return readings in the COCO layout, as JSON.

    Parameters
    ----------
    log : Log
        The log.
    lines : sequence of ReadingLine, optional
        All readings of the log by default.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     json.loads(annotations_json(open_log(folder)))["images"]
    []
    """
    lines = list_readings(log) if lines is None else lines
    named = [(line.photo_name, load_reading(log, line.id)) for line in lines]
    return json.dumps(coco_annotations(named), allow_nan=False).encode()


def table_csv(table: Table) -> bytes:
    r"""Return a table as CSV; no cell of it is taken for a formula.

    Examples
    --------
    >>> table_csv((("piece", "percent"), [["=1+1", 0.5], ["7", None]]))
    b"piece,percent\r\n'=1+1,0.5\r\n7,\r\n"
    """
    names, rows = table
    return write_csv(names, rows, separator=",", decimal=".", encoding="utf-8")


def table_xlsx(table: Table, title: str = "table") -> bytes:
    """Return a table as a spreadsheet; text stays text.

    Examples
    --------
    >>> table_xlsx((("piece",), [["=1+1"]]))[:2]
    b'PK'
    """
    names, rows = table
    return write_xlsx(names, rows, title=title)[0]


def track_table(track: Track) -> Table:
    """Return the pours of a chart as a table, signals by the names of their rules.

    Examples
    --------
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> names, rows = track_table(track(pieces([0.01, 0.02])))
    >>> names[:4], rows[1][2:4]
    (('pour', 'cast_on', 'n_pieces', 'value_percent'), [1, 2.0])
    """
    return _table(track_json(track)["points"])


def void_table(log: Log, line: ReadingLine) -> Table:
    """Return the counted voids of a reading as a table, largest first."""
    return _table(void_rows(load_reading(log, line.id)))


def _table(rows: object) -> Table:
    """Return rows by name as a table, lists in a cell parted by semicolons."""
    found = list(rows) if isinstance(rows, list) else []
    names = tuple(found[0]) if found else ()
    return names, [
        [
            "; ".join(map(str, cell)) if isinstance(cell, list) else cell
            for cell in row.values()
        ]
        for row in found
    ]
