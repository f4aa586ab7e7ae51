"""What was cast, as columns: settings and conditions of every piece, without records.

A record is made and checked for each piece where a page shows it. The table of a large
log needs columns only: they come from SQL as they are, and what a record's door would
check is checked once for each value that occurs.
"""

from __future__ import annotations

from functools import partial
from types import SimpleNamespace
from typing import TYPE_CHECKING, Any

import numpy as np
import sqlalchemy as sa

from analysis.checks import all_named
from analysis.fields import row_fields
from analysis.model.field_values import column_value, value_checked
from analysis.model.log import JointState, Piece, Step
from analysis.pieces.columns import Column, alike, coded, places
from analysis.storage.castings import FORM_USE, IN_ORDER, LIVE
from analysis.storage.record_rows import value_of
from analysis.storage.tables import (
    FORM,
    MIX,
    PIECE,
    PIECE_JOINT,
    POUR,
    PRODUCT_LINE,
    STEP,
)
from analysis.storage.terms import term_names

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.fields import Field

# Read off all steps and joints of a piece.
_OF_PARTS = (
    "joint_sealing",
    "leak",
    "vibration_method",
    "vibration_s",
    "strokes",
    "passes",
)
_Part = tuple[Any, ...]


def cast_columns(connection: sa.Connection) -> tuple[list[int], dict[str, Column]]:
    """Return the pieces that are not hidden, earliest casting first, and their columns.

    Returns
    -------
    ids : list of int
        Keys of n pieces.
    columns : dict of str to Column
        Those of `PieceRow` that are of the casting, n rows each.

    Raises
    ------
    InputError
        A value that its field does not allow.
    """
    names = term_names(connection)
    query = (
        sa.select(
            PIECE.c.id,
            PIECE.c.pour_id,
            PIECE.c.form_id,
            PIECE.c.product_line_id,
            FORM_USE,
            *_told("piece", PIECE),
        )
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .outerjoin(FORM, PIECE.c.form_id == FORM.c.id)
        .where(LIVE)
        .order_by(*IN_ORDER)
    )
    rows = connection.execute(query).all()
    if not rows:
        return [], {}
    ids, pours, forms, lines, uses, *cells = zip(*rows, strict=True)
    columns = _columns("piece", cells, names)
    columns |= _of_pours(connection, pours, names)
    columns |= _of_forms(connection, forms, names)
    columns |= _of_parts(connection, ids, columns["piece"], names)
    columns["form_use"] = coded(uses)
    columns["product_line"] = _named(connection, PRODUCT_LINE, coded(lines))
    return list(ids), columns


def _plain(owner: str) -> list[Field]:
    """Return the fields of an owner that stand in a piece's row; references apart."""
    return [one for one in row_fields(owner) if one.kind != "reference"]


def _told(owner: str, table: sa.Table) -> list[sa.Column[Any]]:
    """Return the columns of a table that a piece's row tells."""
    return [
        table.c[f"{one.name}_id" if one.kind == "word" else one.name]
        for one in _plain(owner)
    ]


def _columns(
    owner: str, cells: Sequence[Sequence[Any]], names: dict[int, str]
) -> dict[str, Column]:
    """Return the columns that `_told` asked for, each value looked at once."""
    found = {}
    for one, its in zip(_plain(owner), cells, strict=True):
        column = coded(its)
        if one.kind == "word":
            column = column.mapped(lambda key: None if key is None else names[key])
        if one.needed and one.kind == "text":
            all_named(column.values, f"The {owner}")
        if one.is_number or one.words:
            for value in column.values:
                value_checked(value, one)
        told = one.kind == "text" and "" not in column.values  # each its own value
        found[one.column] = (
            column if told else column.mapped(partial(column_value, one=one))
        )
    return found


def _of_pours(
    connection: sa.Connection, pours: Sequence[int], names: dict[int, str]
) -> dict[str, Column]:
    """Return what pours tell of their pieces."""
    query = sa.select(POUR.c.id, POUR.c.mix_id, *_told("pour", POUR))
    rows = connection.execute(query.where(POUR.c.deleted_at.is_(None))).all()
    ids, mixes, *cells = zip(*rows, strict=True)
    columns = _columns("pour", cells, names)
    columns["mix"] = _named(connection, MIX, coded(mixes))
    at = places(pours, ids)
    return {name: column.taken(at) for name, column in columns.items()}


def _of_forms(
    connection: sa.Connection, forms: Sequence[int | None], names: dict[int, str]
) -> dict[str, Column]:
    """Return what forms tell of the pieces cast in them; hidden forms too."""
    rows = connection.execute(
        sa.select(FORM.c.id, FORM.c.name, *_told("form", FORM))
    ).all()
    if not rows:
        return {}
    ids, called, *cells = zip(*rows, strict=True)
    columns = _columns("form", cells, names) | {"form": coded(called)}
    at = places([key or -1 for key in forms], ids)  # -1 where there is no form
    without = np.flatnonzero(at < 0)
    blank = [None] * len(without)
    return {
        name: column.taken(at).put(without, blank) for name, column in columns.items()
    }


def _named(connection: sa.Connection, table: sa.Table, keys: Column) -> Column:
    """Return the names behind keys; None where there is none."""
    rows = connection.execute(sa.select(table.c.id, table.c.name)).all()
    return keys.mapped({row.id: row.name for row in rows}.get)


def _of_parts(
    connection: sa.Connection,
    ids: Sequence[int],
    called: Column,
    names: dict[int, str],
) -> dict[str, Column]:
    """Return what the joints and the steps of each piece come to.

    Thousands of pieces share a few ways of sealing and vibrating: each is made once,
    as a piece of its own, which knows what its joints and steps come to.
    """
    joints = _parts(connection, PIECE_JOINT, ids)
    steps = _parts(connection, STEP, ids)
    _, first, code = np.unique(
        joints.code * len(steps.values) + steps.code,
        return_index=True,
        return_inverse=True,
    )
    made = [
        Piece(
            name=called.values[called.code[row]],
            pour_id=0,
            joints=tuple(
                _made(JointState, PIECE_JOINT, one, names)
                for one in joints.values[joints.code[row]]
            ),
            steps=tuple(
                _made(Step, STEP, one, names) for one in steps.values[steps.code[row]]
            ),
        )
        for row in first.tolist()
    ]
    return {
        name: Column(
            values=tuple(getattr(one, name) for one in made), code=code.reshape(-1)
        )
        for name in _OF_PARTS
    }


def _content(table: sa.Table) -> list[sa.Column[Any]]:
    return [one for one in table.c if one.name not in {"id", "piece_id", "position"}]


def _parts(connection: sa.Connection, table: sa.Table, ids: Sequence[int]) -> Column:
    """Return each piece's rows of a table of parts, in their order; () without any."""
    query = sa.select(table.c.piece_id, *_content(table))
    rows = connection.execute(query.order_by(table.c.piece_id, table.c.position)).all()
    if not rows:
        return alike((), len(ids))
    of_piece, *cells = zip(*rows, strict=True)
    part = coded(list(zip(*cells, strict=True)))
    # Rows of one piece stand together: most pieces have one, whose place is enough.
    owner = np.array(of_piece, dtype=np.int64)
    start = np.flatnonzero(np.diff(owner, prepend=owner[0] - 1))
    count = np.diff(start, append=len(owner))
    values: dict[tuple[_Part, ...], int] = {
        (one,): place for place, one in enumerate(part.values)
    }
    code = part.code[start]
    for piece in np.flatnonzero(count > 1).tolist():
        its = part.code[start[piece] : start[piece] + count[piece]].tolist()
        together = tuple(part.values[place] for place in its)
        code[piece] = values.setdefault(together, len(values))
    values.setdefault((), len(values))
    at = places(ids, owner[start])
    return Column(values=tuple(values), code=np.where(at < 0, values[()], code[at]))


def _made(kind: type[Any], table: sa.Table, part: _Part, names: dict[int, str]) -> Any:  # noqa: ANN401 - one of two kinds
    """Return the value of a part's row."""
    by_name = {one.name: cell for one, cell in zip(_content(table), part, strict=True)}
    return value_of(kind, SimpleNamespace(**by_name), names, {})
