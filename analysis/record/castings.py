"""Forms, pours and pieces."""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Any, TypeVar

import sqlalchemy as sa

from analysis.errors import NotInLogError
from analysis.model.log import Form, JointState, Piece, Pour, Step
from analysis.record.engine import reading, writing
from analysis.record.store import (
    insert,
    missing,
    now,
    save_once,
    set_deleted,
    term_id,
    term_names,
    update,
)
from analysis.record.tables import FORM, PIECE, PIECE_JOINT, POUR, STEP

if TYPE_CHECKING:
    from analysis.model.log import Saved
    from analysis.record.engine import Log

Record = TypeVar("Record", Form, Pour, Piece)


def add_form(log: Log, form: Form, *, save_token: str) -> Saved:
    """Keep a new form.

    Raises
    ------
    InputError
        A form of that name is in use.
    """

    def work(connection: sa.Connection) -> int:
        values = _form_values(connection, form)
        return insert(connection, FORM, values | {"created_at": now()})

    return save_once(log, save_token, "form", work)


def add_pour(log: Log, pour: Pour, *, save_token: str) -> Saved:
    """Keep a new pour.

    Raises
    ------
    InputError
        A pour of that name is in use.
    """

    def work(connection: sa.Connection) -> int:
        return insert(connection, POUR, _pour_values(pour) | {"created_at": now()})

    return save_once(log, save_token, "pour", work)


def add_piece(log: Log, piece: Piece, *, save_token: str) -> Saved:
    """Keep a new piece with its joints and steps.

    Raises
    ------
    InputError
        A piece of that name is in use.
    NotInLogError
        Its pour or form is not in the log.
    """

    def work(connection: sa.Connection) -> int:
        values = _piece_values(connection, piece) | {"created_at": now()}
        piece_id = insert(connection, PIECE, values)
        _insert_parts(connection, piece_id, piece)
        return piece_id

    return save_once(log, save_token, "piece", work)


def update_form(log: Log, form: Form) -> None:
    """Keep an edited form; refuse when someone else changed it since.

    Raises
    ------
    ConflictError
        With both in `stored` and `given`.
    """
    with writing(log) as connection:
        stored = _one(FORM, form.id, _forms(connection, FORM.c.id == form.id))
        values = _form_values(connection, form)
        update(connection, FORM, values, stored=stored, given=form)


def update_pour(log: Log, pour: Pour) -> None:
    """Keep an edited pour; refuse when someone else changed it since.

    Raises
    ------
    ConflictError
        With both in `stored` and `given`.
    """
    with writing(log) as connection:
        stored = _one(POUR, pour.id, _pours(connection, POUR.c.id == pour.id))
        update(connection, POUR, _pour_values(pour), stored=stored, given=pour)


def update_piece(log: Log, piece: Piece) -> None:
    """Keep an edited piece; refuse when someone else changed it since.

    Raises
    ------
    ConflictError
        With both in `stored` and `given`.
    """
    with writing(log) as connection:
        stored = _one(PIECE, piece.id, _pieces(connection, PIECE.c.id == piece.id))
        values = _piece_values(connection, piece)
        update(connection, PIECE, values, stored=stored, given=piece)
        piece_id = int(piece.id or 0)
        for table in (PIECE_JOINT, STEP):
            connection.execute(sa.delete(table).where(table.c.piece_id == piece_id))
        _insert_parts(connection, piece_id, piece)


def load_form(log: Log, form_id: int) -> Form:
    """Return one form."""
    with reading(log) as connection:
        return _one(FORM, form_id, _forms(connection, FORM.c.id == form_id))


def load_pour(log: Log, pour_id: int) -> Pour:
    """Return one pour."""
    with reading(log) as connection:
        return _one(POUR, pour_id, _pours(connection, POUR.c.id == pour_id))


def load_piece(log: Log, piece_id: int) -> Piece:
    """Return one piece."""
    with reading(log) as connection:
        return _one(PIECE, piece_id, _pieces(connection, PIECE.c.id == piece_id))


def list_forms(log: Log) -> tuple[Form, ...]:
    """Return the forms, by name."""
    with reading(log) as connection:
        return _forms(connection, FORM.c.deleted_at.is_(None))


def list_pours(log: Log) -> tuple[Pour, ...]:
    """Return the pours, latest first."""
    with reading(log) as connection:
        return _pours(connection, POUR.c.deleted_at.is_(None))


def list_pieces(log: Log, *, pour_id: int | None = None) -> tuple[Piece, ...]:
    """Return the pieces, those of the latest pour first.

    Parameters
    ----------
    log : Log
        The log.
    pour_id : int, optional
        Only this pour's.

    Returns
    -------
    tuple of Piece
        Without the deleted ones.
    """
    live = PIECE.c.deleted_at.is_(None) & POUR.c.deleted_at.is_(None)
    if pour_id is not None:
        live &= PIECE.c.pour_id == pour_id
    with reading(log) as connection:
        return _pieces(connection, live)


def delete_form(log: Log, form_id: int) -> None:
    """Hide a form; its castings keep it."""
    set_deleted(log, FORM, form_id, deleted=True)


def delete_pour(log: Log, pour_id: int) -> None:
    """Hide a pour and with it its pieces."""
    set_deleted(log, POUR, pour_id, deleted=True)


def delete_piece(log: Log, piece_id: int) -> None:
    """Hide a piece."""
    set_deleted(log, PIECE, piece_id, deleted=True)


def restore_form(log: Log, form_id: int) -> None:
    """Bring a hidden form back."""
    set_deleted(log, FORM, form_id, deleted=False)


def restore_pour(log: Log, pour_id: int) -> None:
    """Bring a hidden pour back."""
    set_deleted(log, POUR, pour_id, deleted=False)


def restore_piece(log: Log, piece_id: int) -> None:
    """Bring a hidden piece back."""
    set_deleted(log, PIECE, piece_id, deleted=False)


def _one(table: sa.Table, record_id: object, found: tuple[Record, ...]) -> Record:
    """Return the only record, or say that it is not there."""
    if not found:
        raise NotInLogError(missing(table, record_id))
    return found[0]


def _form_values(connection: sa.Connection, form: Form) -> dict[str, Any]:
    return {
        "name": form.name.strip(),
        "form_type_id": term_id(connection, "form_type", form.form_type),
        "starting_use_count": form.starting_use_count,
        "note": form.note,
    }


def _pour_values(pour: Pour) -> dict[str, Any]:
    return {
        "name": pour.name.strip(),
        "cast_on": pour.cast_on,
        "cast_at": pour.cast_at,
        "note": pour.note,
    }


def _piece_values(connection: sa.Connection, piece: Piece) -> dict[str, Any]:
    return {
        "name": piece.name.strip(),
        "pour_id": piece.pour_id,
        "form_id": piece.form_id,
        "release_agent_id": term_id(connection, "release_agent", piece.release_agent),
        "note": piece.note,
    }


def _insert_parts(connection: sa.Connection, piece_id: int, piece: Piece) -> None:
    """Insert the joints and steps of a piece."""
    for position, state in enumerate(piece.joints):
        values = {
            "piece_id": piece_id,
            "position": position,
            "joint": state.joint,
            "sealing_id": term_id(connection, "joint_sealing", state.sealing),
            "leak_id": term_id(connection, "leak", state.leak),
        }
        insert(connection, PIECE_JOINT, values)
    for position, step in enumerate(piece.steps):
        values = {
            "piece_id": piece_id,
            "position": position,
            "method_id": term_id(connection, "vibration_method", step.method),
            "seconds": step.seconds,
        }
        insert(connection, STEP, values)


def _forms(
    connection: sa.Connection, where: sa.ColumnElement[bool]
) -> tuple[Form, ...]:
    names = term_names(connection)
    rows = connection.execute(sa.select(FORM).where(where).order_by(FORM.c.name))
    return tuple(
        Form(
            id=row.id,
            version=row.version,
            name=row.name,
            form_type=names.get(row.form_type_id),
            starting_use_count=row.starting_use_count,
            note=row.note,
        )
        for row in rows
    )


def _pours(
    connection: sa.Connection, where: sa.ColumnElement[bool]
) -> tuple[Pour, ...]:
    rows = connection.execute(
        sa.select(POUR).where(where).order_by(POUR.c.cast_on.desc(), POUR.c.id.desc())
    )
    return tuple(
        Pour(
            id=row.id,
            version=row.version,
            name=row.name,
            cast_on=row.cast_on,
            cast_at=row.cast_at,
            note=row.note,
        )
        for row in rows
    )


def _pieces(
    connection: sa.Connection, where: sa.ColumnElement[bool]
) -> tuple[Piece, ...]:
    names = term_names(connection)
    chosen = sa.select(PIECE).join(POUR, PIECE.c.pour_id == POUR.c.id).where(where)
    rows = connection.execute(
        chosen.order_by(POUR.c.cast_on.desc(), POUR.c.id.desc(), PIECE.c.id)
    ).all()
    ids = chosen.with_only_columns(PIECE.c.id)
    joints: defaultdict[int, list[JointState]] = defaultdict(list)
    for row in _parts(connection, PIECE_JOINT, ids):
        joints[row.piece_id].append(
            JointState(
                joint=row.joint,
                sealing=names.get(row.sealing_id),
                leak=names.get(row.leak_id),
            )
        )
    steps: defaultdict[int, list[Step]] = defaultdict(list)
    for row in _parts(connection, STEP, ids):
        steps[row.piece_id].append(
            Step(method=names.get(row.method_id), seconds=row.seconds)
        )
    return tuple(
        Piece(
            id=row.id,
            version=row.version,
            name=row.name,
            pour_id=row.pour_id,
            form_id=row.form_id,
            joints=tuple(joints[row.id]),
            release_agent=names.get(row.release_agent_id),
            steps=tuple(steps[row.id]),
            note=row.note,
        )
        for row in rows
    )


def _parts(
    connection: sa.Connection, table: sa.Table, ids: sa.Select[Any]
) -> sa.CursorResult[Any]:
    """Return the rows that belong to the chosen pieces, in order."""
    return connection.execute(
        sa.select(table)
        .where(table.c.piece_id.in_(ids))
        .order_by(table.c.piece_id, table.c.position)
    )
