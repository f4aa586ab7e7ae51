"""Columns of a table that hold anything, without a record a row."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import sqlalchemy as sa

# A column's cells, one a row; None where no row holds anything.
Cells = Sequence[Any] | None


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
