"""The log's records: one way to add, change, list and hide each kind of them."""

from __future__ import annotations

from dataclasses import asdict
from datetime import date, time
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypeVar

import sqlalchemy as sa
from sqlalchemy.exc import IntegrityError

from analysis.errors import ConflictError, NotInLogError
from analysis.model.afterwards import (
    HandFigures,
    Outcome,
    ReferencePiece,
    Repair,
    SeenMark,
    Verdict,
)
from analysis.model.batch_marks import BatchMark
from analysis.model.log import JointState, Piece, Pour, Step
from analysis.model.workshop import (
    FinishTarget,
    Form,
    FormCare,
    FormJoint,
    FormReminder,
    Mix,
    MixPart,
    PhotoRecipe,
    ProductLine,
)
from analysis.storage import tables
from analysis.storage.differing import differing
from analysis.storage.engine import reading, writing
from analysis.storage.order import ORDER_OF_POURS
from analysis.storage.record_rows import (
    Kind,
    Part,
    read_parts,
    row_values,
    value_of,
    write_parts,
)
from analysis.storage.saving import (
    insert,
    insert_all,
    missing,
    now,
    refusal,
    save_once,
    set_deleted,
)
from analysis.storage.terms import term_keys, term_names
from analysis.storage.unfit import held

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.log_views import Saved
    from analysis.storage.engine import Log

Record = TypeVar(
    "Record",
    ProductLine,
    FinishTarget,
    Form,
    Mix,
    Pour,
    Piece,
    Outcome,
    Repair,
    HandFigures,
    Verdict,
    ReferencePiece,
    SeenMark,
    BatchMark,
    FormCare,
    FormReminder,
    PhotoRecipe,
)


def _named(table: sa.Table, *parts: Part) -> Kind:
    """Return a kind that is listed by name."""
    return Kind(table=table, order=(table.c.name, table.c.id), parts=parts)


def _added(table: sa.Table) -> Kind:
    """Return a kind that is listed as it was added."""
    return Kind(table=table, order=(table.c.id,))


_FORM_JOINTS = Part(
    field="joints", table=tables.FORM_JOINT, value=FormJoint, owner="form_id"
)
_MIX_PARTS = Part(field="parts", table=tables.MIX_PART, value=MixPart, owner="mix_id")
_JOINTS = Part(
    field="joints", table=tables.PIECE_JOINT, value=JointState, owner="piece_id"
)
_STEPS = Part(field="steps", table=tables.STEP, value=Step, owner="piece_id")
_KINDS: MappingProxyType[type[Any], Kind] = MappingProxyType(
    {
        ProductLine: _named(tables.PRODUCT_LINE),
        FinishTarget: Kind(
            table=tables.FINISH_TARGET, order=(tables.FINISH_TARGET.c.id.desc(),)
        ),
        Form: _named(tables.FORM, _FORM_JOINTS),
        Mix: _named(tables.MIX, _MIX_PARTS),
        Pour: Kind(
            table=tables.POUR,
            order=tuple(column.desc() for column in ORDER_OF_POURS),
            owned=tables.PIECE.c.pour_id,
        ),
        Piece: Kind(
            table=tables.PIECE,
            order=(tables.PIECE.c.pour_id.desc(), tables.PIECE.c.id),
            parts=(_JOINTS, _STEPS),
        ),
        Outcome: _added(tables.OUTCOME),
        Repair: _added(tables.REPAIR),
        HandFigures: _added(tables.HAND_FIGURES),
        Verdict: _added(tables.VERDICT),
        ReferencePiece: _added(tables.REFERENCE_PIECE),
        SeenMark: _added(tables.SEEN_MARK),
        BatchMark: _added(tables.BATCH_MARK),
        FormCare: _added(tables.FORM_CARE),
        FormReminder: _added(tables.FORM_REMINDER),
        PhotoRecipe: _added(tables.PHOTO_RECIPE),
    }
)


def add(log: Log, record: Record, *, save_token: str) -> Saved:
    """Keep a new record.

    Parameters
    ----------
    log : Log
        The log.
    record : ProductLine, FinishTarget, Form, Mix, Pour, Piece, Outcome, ...
        Its `id` and `version` are not looked at.
    save_token : str
        Made once per form shown.

    Returns
    -------
    Saved
        The new id.

    Raises
    ------
    InputError
        The name is in use, or a value cannot be kept.
    NotInLogError
        It refers to a record that is not there.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     add(log, Form(name="Trough A"), save_token="one")
    ...     add(log, Form(name="Trough A"), save_token="one")
    Saved(id=1, already_saved=False)
    Saved(id=1, already_saved=True)
    """
    kind = _KINDS[type(record)]
    return save_once(
        log, save_token, kind.table.name, lambda connection: write(connection, record)
    )


def write(connection: sa.Connection, record: Record) -> int:
    """Insert a record with its parts on a connection that writes."""
    kind = _KINDS[type(record)]
    values = row_values(connection, kind.table, record) | {"created_at": now()}
    record_id = insert(connection, kind.table, values)
    write_parts(connection, kind, record_id, record)
    return record_id


def write_all(connection: sa.Connection, records: Sequence[Record]) -> tuple[int, ...]:
    """Insert records of one kind with their parts; return their keys in that order."""
    if not records:
        return ()
    kind = _KINDS[type(records[0])]
    keys = term_keys(connection)
    stamp = {"created_at": now()}
    rows = [row_values(connection, kind.table, one, keys) | stamp for one in records]
    ids = insert_all(connection, kind.table, rows)
    for part in kind.parts:
        its = [
            row_values(connection, part.table, value, keys)
            | {part.owner: record_id, "position": position}
            for record_id, record in zip(ids, records, strict=True)
            for position, value in enumerate(getattr(record, part.field))
        ]
        insert_all(connection, part.table, its)
    return ids


def change(log: Log, record: Record) -> None:
    """Keep an edited record; what it was before is kept in the history.

    Nothing is written where nothing is edited: a second tap is no second edit.

    Parameters
    ----------
    log : Log
        The log.
    record : as for `add`
        As loaded, with changes; carries the `id` and `version` it was loaded with.

    Raises
    ------
    ConflictError
        Someone else changed it since; both are in `stored` and `given`.
    NotInLogError
        It is not in the log.
    """
    kind = _KINDS[type(record)]
    table = kind.table
    with writing(log) as connection:
        stored = _only(connection, type(record), record.id)
        if stored.version != record.version:
            told = differing(table.name, stored, record)
            raise ConflictError(told, stored=stored, given=record)
        if record == stored:
            return
        record_id = int(stored.id or 0)
        connection.execute(
            sa.insert(tables.EDIT).values(
                record_kind=table.name,
                record_id=record_id,
                version=stored.version,
                before=_as_json(stored),
                edited_at=now(),
            )
        )
        kept = held(stored)
        values = row_values(connection, table, record, kept=kept)
        values["version"] = stored.version + 1
        try:
            connection.execute(
                sa.update(table).where(table.c.id == record_id).values(**values)
            )
        except IntegrityError as error:
            raise refusal(table, values, error) from error
        for part in kind.parts:
            connection.execute(
                sa.delete(part.table).where(part.table.c[part.owner] == record_id)
            )
        write_parts(connection, kind, record_id, record, kept)


def load(log: Log, kind: type[Record], record_id: int) -> Record:
    """Return one record, hidden or not.

    Raises
    ------
    NotInLogError
        It is not in the log.
    """
    with reading(log) as connection:
        return _only(connection, kind, record_id)


def list_all(
    log: Log, kind: type[Record], *, hidden: bool = False, **matching: object
) -> tuple[Record, ...]:
    """Return the records of a kind that are not hidden, or those that are.

    Parameters
    ----------
    log : Log
        The log.
    kind : type
        Which kind.
    hidden : bool
        The hidden ones instead, to bring back.
    **matching : object
        Column and value each record must have, e.g. ``piece_id=7``.

    Returns
    -------
    tuple
        Pours latest first, targets newest first, named things by name.
    """
    table = _KINDS[kind].table
    where: list[sa.ColumnElement[bool]] = [table.c.deleted_at.is_(None) != hidden]
    where += [table.c[name] == value for name, value in matching.items()]
    with reading(log) as connection:
        return select(connection, kind, *where)


def hide(log: Log, kind: type[Record], record_id: int) -> None:
    """Delete a record so that it can be brought back; a pour takes its pieces along."""
    of = _KINDS[kind]
    set_deleted(log, of.table, record_id, deleted=True, owned=of.owned)


def bring_back(log: Log, kind: type[Record], record_id: int) -> None:
    """Undo `hide`."""
    of = _KINDS[kind]
    set_deleted(log, of.table, record_id, deleted=False, owned=of.owned)


def history(log: Log, kind: type[Record], record_id: int) -> tuple[dict[str, Any], ...]:
    """Return what a record was before each edit, oldest first."""
    query = (
        sa.select(tables.EDIT.c.before)
        .where(
            tables.EDIT.c.record_kind == _KINDS[kind].table.name,
            tables.EDIT.c.record_id == record_id,
        )
        .order_by(tables.EDIT.c.id)
    )
    with reading(log) as connection:
        return tuple(connection.scalars(query))


def select(
    connection: sa.Connection,
    kind: type[Record],
    *where: sa.ColumnElement[bool],
) -> tuple[Record, ...]:
    """Return the records that meet all conditions."""
    of = _KINDS[kind]
    query = sa.select(of.table).where(*where).order_by(*of.order)
    rows = connection.execute(query).all()
    names = term_names(connection)
    owners = sa.select(of.table.c.id).where(*where)
    parts = {
        part.field: read_parts(connection, part, owners, names) for part in of.parts
    }
    return tuple(
        value_of(kind, row, names, {name: tuple(parts[name][row.id]) for name in parts})
        for row in rows
    )


def _only(connection: sa.Connection, kind: type[Record], record_id: object) -> Record:
    """Return the record of that id, or say that it is not there."""
    table = _KINDS[kind].table
    found = select(connection, kind, table.c.id == record_id)
    if not found:
        raise NotInLogError(missing(table, record_id))
    return found[0]


def _as_json(value: Any) -> dict[str, Any]:  # noqa: ANN401 - any record
    """Return a record as JSON holds it."""
    return {
        name: given.isoformat() if isinstance(given, (date, time)) else given
        for name, given in asdict(value).items()
    }
