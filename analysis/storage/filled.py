"""Columns of a table that hold anything, without a record a row."""

from __future__ import annotations

import gc
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import Any

import sqlalchemy as sa

# A column's cells, one a row; None where no row holds anything.
Cells = Sequence[Any] | None


@contextmanager
def making_many() -> Iterator[None]:
    """Make many small values without being looked through for what could go.

    Each look goes through all that the process holds, again and again while rows come
    in, and finds nothing: in a full server that took longer than the rows themselves.

    Examples
    --------
    >>> with making_many():
    ...     gc.isenabled()
    False
    >>> gc.isenabled()
    True
    """
    mine = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if mine:  # else who called it, or another thread, puts it back
            gc.enable()


def filled_cells(
    connection: sa.Connection,
    wanted: Sequence[sa.ColumnElement[Any]],
    *where: sa.ColumnElement[bool],
    order_by: Sequence[sa.ColumnElement[Any]] = (),
) -> tuple[int, list[Cells]]:
    """Return the columns asked for; those without any value are not fetched.

    Most fields of a record stay blank in most logs, and each costs as much to fetch
    as one that is not. Counting what each holds is one look through the table.

    Parameters
    ----------
    connection : sqlalchemy.Connection
        Of one consistent state.
    wanted : sequence of ColumnElement
        Columns of one table.
    where : ColumnElement
        Which rows.
    order_by : sequence of ColumnElement
        Their order; by default as the database gives them.

    Returns
    -------
    count : int
        n rows.
    cells : list of sequence or None
        One for each of `wanted`: n cells, or None where all would be None.
    """
    counts = [sa.func.count(), *map(sa.func.count, wanted)]
    count, *held = connection.execute(sa.select(*counts).where(*where)).one()
    if not count:
        return 0, [None] * len(wanted)
    filled = [one for one, its in zip(wanted, held, strict=True) if its]
    query = sa.select(*filled).where(*where).order_by(*order_by)
    cells = iter(zip(*connection.execute(query).all(), strict=True))
    return count, [next(cells) if its else None for its in held]
