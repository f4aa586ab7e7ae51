"""What was cast, as columns: settings and conditions of every piece, without records.

A record is made and checked for each piece where a page shows it. The table of a large
log needs columns only: they come from SQL as they are, and what a record's door would
check is checked once for each value that occurs.
"""

from __future__ import annotations

import itertools
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
from analysis.storage.filled import filled_cells
from analysis.storage.order import ORDER_OF_POURS
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

    from numpy.typing import NDArray

    from analysis.fields import Field
    from analysis.storage.filled import Cells

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
_STARTING_USES = "starting_use_count"


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
    keys = (PIECE.c.id, PIECE.c.pour_id, PIECE.c.form_id, PIECE.c.product_line_id)
    count, (ids, pours, forms, lines, *cells) = filled_cells(
        connection, (*keys, *_told("piece", PIECE)), PIECE.c.deleted_at.is_(None)
    )
    if not count:
        return [], {}
    its_pour, of_pours = _of_pours(connection, _keys(pours, count), names)
    # Sorted and numbered here: SQLite takes seconds for what NumPy does in none.
    key = _keys(ids, count)
    order = np.lexsort((key, its_pour))
    # Pieces of hidden pours, -1, stand in front and go.
    order = order[its_pour[order] >= 0]
    if not len(order):
        return [], {}
    columns = _columns("piece", cells, count, names) | of_pours
    its_form, of_forms = _of_forms(connection, _keys(forms, count), names)
    columns |= of_forms
    columns["product_line"] = _named(connection, PRODUCT_LINE, _column(lines, count))
    columns = {name: column.taken(order) for name, column in columns.items()}
    columns["form_use"] = _uses(columns.pop(_STARTING_USES), its_form[order])
    in_order = key[order]
    columns |= _of_parts(connection, in_order, columns["piece"], names)
    return in_order.tolist(), columns


def _uses(before: Column, form: NDArray[np.int64]) -> Column:
    """Return which casting in its form each piece is; None without a form.

    The starting count, plus its place among the castings in that form; what
    `analysis.storage.castings.FORM_USE` says to the database.
    """
    # Runs of one form, each in order of casting, since the sort is stable. Codes begin
    # at -1, so that -2 in front begins a run too; a place less its run's start counts.
    by_form = np.argsort(form, kind="stable")
    row = np.arange(len(form))
    first = np.flatnonzero(np.diff(form[by_form], prepend=-2))
    place = np.empty_like(row)
    place[by_form] = row - np.repeat(first, np.diff(first, append=len(row)))
    counts = zip(before.cells(), place.tolist(), strict=True)
    return coded([None if start is None else start + 1 + at for start, at in counts])


def _column(cells: Cells, count: int) -> Column:
    return alike(None, count) if cells is None else coded(cells)


def _keys(cells: Cells, count: int) -> NDArray[np.int64]:
    """Return keys, -1 where there is none."""
    if cells is None:
        return np.full(count, -1, dtype=np.int64)
    return np.array([-1 if one is None else one for one in cells], dtype=np.int64)


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
    owner: str, cells: Sequence[Cells], count: int, names: dict[int, str]
) -> dict[str, Column]:
    """Return the columns that `_told` asked for, each value looked at once."""
    found = {}
    for one, its in zip(_plain(owner), cells, strict=True):
        column = _column(its, count)
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
    connection: sa.Connection, pours: NDArray[np.int64], names: dict[int, str]
) -> tuple[NDArray[np.int64], dict[str, Column]]:
    """Return the place of each piece's pour in order of casting, and what it tells.

    The place of a pour that is hidden is -1.
    """
    count, (ids, mixes, *cells) = filled_cells(
        connection,
        (POUR.c.id, POUR.c.mix_id, *_told("pour", POUR)),
        POUR.c.deleted_at.is_(None),
        order_by=ORDER_OF_POURS,
    )
    at = places(pours, _keys(ids, count))
    if not count:
        return at, {}
    columns = _columns("pour", cells, count, names)
    columns["mix"] = _named(connection, MIX, _column(mixes, count))
    return at, {name: column.taken(at) for name, column in columns.items()}


def _of_forms(
    connection: sa.Connection, forms: NDArray[np.int64], names: dict[int, str]
) -> tuple[NDArray[np.int64], dict[str, Column]]:
    """Return the place of each piece's form, and what it tells; hidden forms too.

    The place where there is no form is -1.
    """
    count, (ids, called, before, *cells) = filled_cells(
        connection,
        (FORM.c.id, FORM.c.name, FORM.c.starting_use_count, *_told("form", FORM)),
    )
    at = places(forms, _keys(ids, count))
    if not count:
        return at, {_STARTING_USES: alike(None, len(forms))}
    columns = _columns("form", cells, count, names)
    columns["form"] = _column(called, count)
    columns[_STARTING_USES] = _column(before, count)
    without = np.flatnonzero(at < 0)
    blank = [None] * len(without)
    return at, {
        name: column.taken(at).put(without, blank) for name, column in columns.items()
    }


def _named(connection: sa.Connection, table: sa.Table, keys: Column) -> Column:
    """Return the names behind keys; None where there is none."""
    rows = connection.execute(sa.select(table.c.id, table.c.name)).all()
    return keys.mapped({row.id: row.name for row in rows}.get)


def _of_parts(
    connection: sa.Connection,
    ids: NDArray[np.int64],
    called: Column,
    names: dict[int, str],
) -> dict[str, Column]:
    """Return what the joints and the steps of each piece come to.

    Thousands of pieces share a few ways of sealing and vibrating: each is made once,
    as a piece of its own, which knows what its joints and steps come to.
    """
    joints = _parts(connection, PIECE_JOINT, ids)
    steps = _parts(connection, STEP, ids)
    # One number for each pair of a way of sealing and a way of vibrating.
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


def _parts(
    connection: sa.Connection, table: sa.Table, ids: NDArray[np.int64]
) -> Column:
    """Return each piece's rows of a table of parts, in their order; () without any."""
    count, (of_piece, position, *cells) = filled_cells(
        connection, (table.c.piece_id, table.c.position, *_content(table))
    )
    if not count:
        return alike((), len(ids))
    each = (itertools.repeat(None, count) if its is None else its for its in cells)
    row = coded([*zip(*each, strict=True)])
    owner = _keys(of_piece, count)
    order = np.lexsort((_keys(position, count), owner))
    owner = owner[order]
    part = row.taken(order)
    # Rows of one piece stand together: most pieces have one, whose place is enough.
    start = np.flatnonzero(np.diff(owner, prepend=owner[0] - 1))
    parts = np.diff(start, append=len(owner))
    values: dict[tuple[_Part, ...], int] = {
        (one,): place for place, one in enumerate(part.values)
    }
    code = part.code[start]
    for piece in np.flatnonzero(parts > 1).tolist():
        its = part.code[start[piece] : start[piece] + parts[piece]].tolist()
        together = tuple(part.values[place] for place in its)
        code[piece] = values.setdefault(together, len(values))
    values.setdefault((), len(values))
    at = places(ids, owner[start])
    return Column(values=tuple(values), code=np.where(at < 0, values[()], code[at]))


def _made(kind: type[Any], table: sa.Table, part: _Part, names: dict[int, str]) -> Any:  # noqa: ANN401 - one of two kinds
    """Return the value of a part's row."""
    by_name = {one.name: cell for one, cell in zip(_content(table), part, strict=True)}
    return value_of(kind, SimpleNamespace(**by_name), names, {})
