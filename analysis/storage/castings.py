"""Pours and their pieces: form uses, the last casting in a form, a pour at once."""

from __future__ import annotations

import itertools
import re
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.errors import InputError
from analysis.model.log import JointState, Piece, Pour
from analysis.model.log_views import Casting, CastingName
from analysis.model.workshop import Form
from analysis.storage.engine import reading
from analysis.storage.filled import making_many
from analysis.storage.order import ORDER_OF_POURS
from analysis.storage.records import load, select, write
from analysis.storage.saving import save_once
from analysis.storage.tables import FORM, PIECE, POUR

if TYPE_CHECKING:
    from collections.abc import Collection, Sequence

    from analysis.model.log_views import Saved
    from analysis.storage.engine import Log

_FEW = 1000
LIVE = PIECE.c.deleted_at.is_(None) & POUR.c.deleted_at.is_(None)
IN_ORDER = (*ORDER_OF_POURS, PIECE.c.id)
# Which casting in its form a live piece is: the starting count, plus its place among
# the castings in that form by date; NULL without a form.
FORM_USE = (
    FORM.c.starting_use_count
    + sa.func.row_number().over(partition_by=PIECE.c.form_id, order_by=IN_ORDER)
).label("form_use")


def form_uses(*forms: sa.ColumnElement[bool]) -> sa.Subquery:
    """Return ``piece_id, form_use`` of every live piece that has a form.

    Castings are counted form by form, so conditions on the form leave the uses of
    those that are left as they are.
    """
    return (
        sa.select(PIECE.c.id.label("piece_id"), FORM_USE)
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .join(FORM, PIECE.c.form_id == FORM.c.id)
        .where(LIVE, *forms)
        .subquery()
    )


def list_castings(
    log: Log,
    *,
    pour_id: int | None = None,
    form_id: int | None = None,
    piece_ids: Collection[int] | None = None,
    limit: int | None = None,
) -> tuple[Casting, ...]:
    """Return the pieces with their pours and form uses, latest casting first.

    A large log takes seconds to make a record of each: ask for those you need, or for
    `casting_names`.

    Parameters
    ----------
    log : Log
        The log.
    pour_id, form_id : int, optional
        Only those of this pour, of this form.
    piece_ids : collection of int, optional
        Only these pieces.
    limit : int, optional
        At most so many.

    Returns
    -------
    tuple of Casting
        Without the hidden ones.
    """
    where: list[sa.ColumnElement[bool]] = []
    if pour_id is not None:
        where.append(PIECE.c.pour_id == pour_id)
    if form_id is not None:
        where.append(PIECE.c.form_id == form_id)
    if piece_ids is not None:
        where.append(PIECE.c.id.in_(piece_ids))
    with reading(log) as connection:
        return castings(connection, *where, limit=limit)


def casting_names(log: Log) -> dict[int, CastingName]:
    """Return what every piece that is not hidden is called, latest casting first.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     casting_names(open_log(folder))
    {}
    """
    query = (
        sa.select(PIECE.c.id, PIECE.c.name, POUR.c.name.label("pour"), POUR.c.cast_on)
        .add_columns(PIECE.c.form_id)
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .where(LIVE)
        .order_by(*(column.desc() for column in IN_ORDER))
    )
    with making_many(), reading(log) as connection:
        return {
            key: CastingName(piece=piece, pour=pour, cast_on=day, form_id=form_id)
            for key, piece, pour, day, form_id in connection.execute(query)
        }


def has_pieces(log: Log) -> bool:
    """Tell whether the log has a piece that is not hidden.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     has_pieces(open_log(folder))
    False
    """
    query = sa.select(PIECE.c.id).join(POUR, PIECE.c.pour_id == POUR.c.id)
    with reading(log) as connection:
        return connection.scalar(query.where(LIVE).limit(1)) is not None


def last_casting(log: Log, form_id: int) -> Casting | None:
    """Return what was done last time with this form, None when it is new.

    Returns
    -------
    Casting or None
        The latest by date and time.

    Examples
    --------
    >>> import tempfile
    >>> from datetime import date
    >>> from analysis.storage.records import add
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     form = add(log, Form(name="Trough A"), save_token="form").id
    ...     pieces = [Piece(name="1", pour_id=0, form_id=form)]
    ...     pour = Pour(name="1", cast_on=date(2026, 3, 31))
    ...     _ = add_pour_with_pieces(log, pour, pieces, save_token="pour")
    ...     last_casting(log, form).form_use
    1
    """
    with reading(log) as connection:
        found = castings(connection, PIECE.c.form_id == form_id, limit=1)
    return found[0] if found else None


def like_last(log: Log, form_id: int, *, name: str, pour_id: int = 0) -> Piece:
    """Return a new piece set up as the last one in this form.

    What was done is taken over; what came of it (leaks, times, notes) is not. For a
    new form the form's own joints, sealing and release agent are taken.

    Parameters
    ----------
    log : Log
        The log.
    form_id : int
        The form.
    name : str
        The new piece's name.
    pour_id : int
        Its pour; 0 while that is not saved yet.

    Returns
    -------
    Piece
        Not saved yet.
    """
    last = last_casting(log, form_id)
    if last is None:
        form = load(log, Form, form_id)
        return Piece(
            name=name,
            pour_id=pour_id,
            form_id=form_id,
            product_line_id=form.product_line_id,
            release_agent=form.release_agent,
            joints=tuple(
                JointState(joint=joint.name, sealing=joint.default_sealing)
                for joint in form.joints
            ),
        )
    return as_new(last.piece, name, pour_id=pour_id)


def as_new(piece: Piece, name: str, *, pour_id: int = 0) -> Piece:
    """Return a piece made the same way; what came of it is left blank.

    Examples
    --------
    >>> as_new(Piece(name="7", pour_id=3, note="chipped"), "8").note
    ''
    """
    return replace(
        piece,
        id=None,
        version=0,
        name=name,
        pour_id=pour_id,
        joints=tuple(replace(state, leak=None) for state in piece.joints),
        fill_s=None,
        strike_after_h=None,
        sealing_min=None,
        sealing_cost=None,
        note="",
    )


def next_names(
    log: Log, kind: type[Piece | Pour], *, count: int = 1
) -> tuple[str, ...]:
    """Suggest names that follow the last one given: ``"P-009"``, ``"P-010"``.

    Parameters
    ----------
    log : Log
        The log.
    kind : type
        Piece or Pour.
    count : int
        How many, 1 or more.

    Returns
    -------
    tuple of str
        None of them in use; they count from 1 in an empty log.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     next_names(open_log(folder), Piece, count=2)
    ('1', '2')
    """
    table = PIECE if kind is Piece else POUR
    with reading(log) as connection:
        names = list(connection.scalars(sa.select(table.c.name).order_by(table.c.id)))
    last = names[-1] if names else "0"
    # The last number in it: digits behind which no other digit comes.
    digits = re.search(r"\d+(?=\D*$)", last)
    if digits is None:
        head, number, width, tail = f"{last} ", 1, 1, ""
    else:
        head, tail = last[: digits.start()], last[digits.end() :]
        number, width = int(digits[0]), len(digits[0])
    used = set(names)
    numbers = itertools.count(number + 1)
    free = (
        name
        for number in numbers
        if (name := f"{head}{number:0{width}}{tail}") not in used
    )
    return tuple(itertools.islice(free, count))


def add_pour_with_pieces(
    log: Log, pour: Pour, pieces: Sequence[Piece], *, save_token: str
) -> Saved:
    """Keep a pour and all its pieces, or nothing.

    Parameters
    ----------
    log : Log
        The log.
    pour : Pour
        The new pour.
    pieces : sequence of Piece
        Their `pour_id` is set here.
    save_token : str
        Made once per form shown.

    Returns
    -------
    Saved
        The pour's id.

    Raises
    ------
    InputError
        A name is in use or given twice; nothing was saved.
    """

    def work(connection: sa.Connection) -> int:
        pour_id = write(connection, pour)
        for piece in pieces:
            write(connection, replace(piece, pour_id=pour_id))
        return pour_id

    names = [piece.name.strip() for piece in pieces]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        msg = f"Piece {twice[0]!r} is in the table twice: give each its own name."
        raise InputError(msg)
    return save_once(log, save_token, "pour", work)


def castings(
    connection: sa.Connection,
    *where: sa.ColumnElement[bool],
    limit: int | None = None,
) -> tuple[Casting, ...]:
    """Return castings, latest first."""
    chosen = (
        sa.select(PIECE.c.id)
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .where(LIVE, *where)
        .order_by(*(column.desc() for column in IN_ORDER))
        .limit(limit)
    )
    order = list(connection.scalars(chosen))
    if not order:
        return ()
    # Some are told by their keys: finding them anew takes a look through the log.
    ids: Any = order if len(order) <= _FEW else chosen.subquery().select()
    pieces = {
        piece.id: piece for piece in select(connection, Piece, PIECE.c.id.in_(ids))
    }
    of_them = sa.select(PIECE.c.pour_id).where(PIECE.c.id.in_(ids))
    pours = {pour.id: pour for pour in select(connection, Pour, POUR.c.id.in_(of_them))}
    all_of_them = not where and limit is None
    forms = sa.select(PIECE.c.form_id).where(PIECE.c.id.in_(ids))
    uses = form_uses(*(() if all_of_them else (FORM.c.id.in_(forms),)))
    use: dict[int, Any] = {
        row.piece_id: row.form_use
        for row in connection.execute(sa.select(uses).where(uses.c.piece_id.in_(ids)))
    }
    return tuple(
        Casting(
            piece=pieces[key], pour=pours[pieces[key].pour_id], form_use=use.get(key)
        )
        for key in order
    )


def is_live_piece(log: Log, piece_id: int) -> bool:
    """Tell whether a piece is in the log and neither it nor its pour is hidden.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     is_live_piece(open_log(folder), 1)
    False
    """
    query = (
        sa.select(PIECE.c.id)
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .where(LIVE, PIECE.c.id == piece_id)
    )
    with reading(log) as connection:
        return connection.scalar(query) is not None


def piece_ids(log: Log) -> dict[str, int]:
    """Return the key of each piece that is not hidden, by its name.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     piece_ids(open_log(folder))
    {}
    """
    query = sa.select(PIECE.c.name, PIECE.c.id).join(POUR, PIECE.c.pour_id == POUR.c.id)
    with reading(log) as connection:
        return {row.name: row.id for row in connection.execute(query.where(LIVE))}
