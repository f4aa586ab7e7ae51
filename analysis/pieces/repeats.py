"""What a file's rows must not tell twice, or in two ways."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import TableError

if TYPE_CHECKING:
    from analysis.model.comparison import PieceTable

_DAY = len("2026-02-13")


def check_repeats(table: PieceTable) -> None:
    r"""Refuse a row that stands twice, and a pour that was cast on two days.

    Rows of one piece that differ anywhere are photos, joints or stages of it. A row
    that is the same cell by cell is one line pasted twice, and would count twice.

    Parameters
    ----------
    table : PieceTable
        As read from a file.

    Raises
    ------
    TableError
        With the line, and the one before that it repeats or speaks against.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> check_repeats(read_table("piece,pour,cast_on\n1,A,2026-03-02\n"))
    >>> check_repeats(read_table("piece,pour\n1,A\n1,A\n"))
    Traceback (most recent call last):
    analysis.errors.TableError: Line 3 repeats line 2, piece 1 of pour A: keep one...
    """
    _no_row_twice(table)
    _one_day_each(table)


def _no_row_twice(table: PieceTable) -> None:
    code = np.zeros(len(table), dtype=np.int64)
    for cells in table.text.values():
        levels, which = np.unique(cells, return_inverse=True)
        # Numbered anew after each column, so that no product of levels overflows.
        _, code = np.unique(code * len(levels) + which.reshape(-1), return_inverse=True)
        code = code.reshape(-1)
    _, first = np.unique(code, return_index=True)
    before = first[code]
    again = (before != np.arange(len(table))) & (table.text["piece"] != "")
    if again.any():
        row = int(np.argmax(again))
        msg = (
            f"Line {table.line[row]} repeats line {table.line[before[row]]}, piece "
            f"{table.text['piece'][row]} of pour {table.text['pour'][row]}: keep one. "
            f"Two photos of a piece that gave the same figures need a column that "
            f"tells them apart."
        )
        raise TableError(msg)


def _one_day_each(table: PieceTable) -> None:
    if "cast_on" not in table.text:
        return
    told: dict[str, tuple[str, int]] = {}
    rows = zip(
        table.text["pour"].tolist(),
        table.text["cast_on"].tolist(),
        table.line.tolist(),
        strict=True,
    )
    for pour, cast_on, line in rows:
        if not (pour and cast_on):
            continue
        day, before = told.setdefault(pour, (cast_on[:_DAY], line))
        if day != cast_on[:_DAY]:
            msg = (
                f"Line {line}: pour {pour} was cast on {cast_on[:_DAY]} here and on "
                f"{day} on line {before}: give each pour one day and a name of its own."
            )
            raise TableError(msg)
