"""Rows of an imported table into the log's records."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.errors import InputError
from analysis.fields import row_fields
from analysis.model.field_values import column_value, record_value
from analysis.model.field_words import column_words
from analysis.model.log import JointState, Piece, Pour, steps_of
from analysis.model.workshop import Form, Mix, ProductLine
from analysis.model.writing import day
from analysis.storage.engine import reading
from analysis.storage.records import select, write, write_all
from analysis.storage.saving import insert_all, now
from analysis.storage.tables import BROUGHT_FIGURE, FORM, MIX, PIECE, POUR, PRODUCT_LINE
from analysis.vocabulary import STAGES, spoken

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from analysis.model.log_views import PieceRow
    from analysis.storage.engine import Log

_SHARES = (
    "void_area",
    "joint_band",
    "open_face",
    "honeycomb",
)
_JOINT_MARKS = (
    "joint_length_mm",
    "sand_length_mm",
    "fin_length_mm",
    "arris_loss_mm2_per_m",
)
# What a pour or a form has once, whatever piece it is told beside.
_OF_POUR, _OF_FORM = (
    tuple(
        one.column for one in row_fields(owner) if one.column not in {"pour", "cast_on"}
    )
    for owner in ("pour", "form")
)
_FIGURES = (
    "void_count",
    "face_area_mm2",
    "smallest_counted_mm",
    "joint_band_percent",
    "open_face_percent",
    "honeycomb_percent",
    *_JOINT_MARKS,
)
_MOST = 1e9
Clash = tuple[int, str, str, str]


def clashes(log: Log, rows: Sequence[PieceRow]) -> Iterator[Clash]:
    """Yield (row, column, given, why) for what does not fit the log or itself."""
    with reading(log) as connection:
        pieces, forms = _ids(connection, PIECE), _ids(connection, FORM)
        pours = select(connection, Pour, POUR.c.deleted_at.is_(None))
        told = _told(connection, pours)
    days = {pour.name: pour.cast_on for pour in pours}
    times = Counter(row.piece.strip() for row in rows)
    for at, row in enumerate(rows):
        if row.piece.strip() in pieces:
            yield at, "piece", row.piece, "is in the log already"
        elif times[row.piece.strip()] > 1:
            yield at, "piece", row.piece, "is in the table more than once"
        of_pour = days.setdefault(row.pour.strip(), row.cast_on)
        if of_pour != row.cast_on:
            yield (
                at,
                "cast_on",
                day(row.cast_on),
                f"is another day than that of pour {row.pour}, {day(of_pour)}",
            )
        for kind, name, columns in (
            ("pour", row.pour, _OF_POUR),
            ("form", row.form, _OF_FORM),
        ):
            yield from _contradicted(at, row, kind, (name or "").strip(), columns, told)
        yield from _impossible(at, row)
    yield from _impossible_forms(rows, forms)


def _impossible_forms(
    rows: Sequence[PieceRow], known: Mapping[str, int]
) -> Iterator[Clash]:
    """Yield what no new form can be, all its lines taken together."""
    told = _told_once(rows, "form", _OF_FORM)
    for at, row in enumerate(rows):
        name = (row.form or "").strip()
        if not name or name in known or name not in told:
            continue
        try:
            _form(replace(row, **told.pop(name)))
        except InputError as error:
            yield at, "form", row.form or "", f"cannot be kept: {error}"


def _told(
    connection: sa.Connection, pours: Sequence[Pour]
) -> dict[tuple[str, str, str], Any]:
    """Return what the log says of its pours and forms, by kind, name and column."""
    mixes = {mix.id: mix.name for mix in select(connection, Mix)}
    found: dict[tuple[str, str, str], Any] = {}
    forms = select(connection, Form, FORM.c.deleted_at.is_(None))
    for owner, records in (("pour", pours), ("form", forms)):
        for record in records:
            for one in row_fields(owner):
                value = column_value(getattr(record, one.name), one)
                if one.column == "mix":
                    value = mixes.get(getattr(record, one.name) or 0)
                found[owner, record.name, one.column] = value
    return {key: value for key, value in found.items() if value is not None}


def _contradicted(
    at: int,
    row: PieceRow,
    kind: str,
    name: str,
    columns: Sequence[str],
    told: dict[tuple[str, str, str], Any],
) -> Iterator[Clash]:
    """Yield what another line, or the log, says otherwise of the pour or form."""
    for column in columns if name else ():
        value = getattr(row, column)
        if value is None:
            continue
        value = value.strip() if isinstance(value, str) else value
        before = told.setdefault((kind, name, column), value)
        if before != value and not _alike(before, value):
            yield at, column, f"{value}", f"but {kind} {name} has {before}"


def _alike(before: object, value: object) -> bool:
    """Tell whether two numbers are the same but for a conversion."""
    if isinstance(before, str) or isinstance(value, str):
        return False
    return math.isclose(float(str(before)), float(str(value)), rel_tol=1e-9)


def uses_counted(log: Log, rows: Sequence[PieceRow]) -> tuple[str, ...]:
    """Say where the log counts other form uses than the table gives."""
    with reading(log) as connection:
        known = set(_ids(connection, FORM))
    next_use: dict[str, int] = {}
    other = 0
    for row in sorted(rows, key=lambda one: one.cast_on):
        form = (row.form or "").strip()
        if not form or form in known:
            other += bool(form) and row.form_use is not None
            continue
        counted = next_use.get(form, max(row.form_use or 1, 1))
        next_use[form] = counted + 1
        other += row.form_use is not None and row.form_use != counted
    if not other:
        return ()
    lines = "1 line gives" if other == 1 else f"{other} lines give"
    return (f"Form uses are counted by castings: {lines} another number.",)


def _impossible(at: int, row: PieceRow) -> Iterator[Clash]:
    """Yield what no piece can be."""
    if row.stage is not None and row.stage not in STAGES:
        known = ", ".join(map(spoken, STAGES))
        yield at, "stage", row.stage, f"must be one of {known}"
    for name in _SHARES:
        value = getattr(row, f"{name}_percent")
        if value is not None and not 0 <= value <= 100:  # noqa: PLR2004 - percent
            yield at, f"{name}_percent", f"{value:g}", "must be between 0 and 100"
    yield from _impossible_figures(at, row)
    try:
        _piece(row, 0, {}, {})
        _pour(row, {})
    except InputError as error:
        yield at, "piece", row.piece, f"cannot be kept: {error}"


def _impossible_figures(at: int, row: PieceRow) -> Iterator[Clash]:
    for name in ("void_count", "form_use", *_JOINT_MARKS):
        value = getattr(row, name)
        if value is not None and not 0 <= value <= _MOST:
            yield at, name, f"{value:g}", f"must be between 0 and {_MOST:,.0f}"
    for name in ("face_area_mm2", "smallest_counted_mm"):
        value = getattr(row, name)
        if value is not None and not value > 0:
            yield at, name, f"{value:g}", "must be more than 0"
    for name in _FIGURES if row.void_area_percent is None else ():
        value = getattr(row, name)
        if value is not None:
            shares = column_words("void_area_percent")
            why = f"stands without {shares}: fill that in, or leave this blank"
            yield at, name, f"{value:g}", why


def take_in(connection: sa.Connection, rows: Sequence[PieceRow]) -> int:
    """Write the rows and what they name; return the last piece's id."""
    rows = sorted(rows, key=lambda row: row.cast_on)
    of_forms = _told_once(rows, "form", _OF_FORM)
    of_pours = _told_once(rows, "pour", _OF_POUR)
    forms = _ids(connection, FORM)
    new_forms: dict[str, Form] = {}
    for row in rows:
        name = (row.form or "").strip()
        if row.form is not None and name not in forms and name not in new_forms:
            new_forms[name] = _form(replace(row, **of_forms[name]))
    forms |= _written(connection, new_forms)
    lines = _named(connection, PRODUCT_LINE, ProductLine, rows, "product_line")
    mixes = _named(connection, MIX, Mix, rows, "mix")
    pours = _ids(connection, POUR)
    new_pours: dict[str, Pour] = {}
    for row in rows:
        name = row.pour.strip()
        if name not in pours and name not in new_pours:
            new_pours[name] = _pour(replace(row, **of_pours[name]), mixes)
    pours |= _written(connection, new_pours)
    ids = write_all(
        connection,
        [_piece(row, pours[row.pour.strip()], forms, lines) for row in rows],
    )
    figures = [
        _figures(row, piece_id)
        for row, piece_id in zip(rows, ids, strict=True)
        if row.void_area_percent is not None
    ]
    insert_all(connection, BROUGHT_FIGURE, figures)
    return ids[-1]


def _written(connection: sa.Connection, new: Mapping[str, Any]) -> dict[str, int]:
    """Write new records; return their keys by the names they were given under."""
    ids = write_all(connection, tuple(new.values()))
    return dict(zip(new, ids, strict=True))


def _told_once(
    rows: Sequence[PieceRow], by: str, columns: Sequence[str]
) -> dict[str, dict[str, Any]]:
    """Return what any line tells of each pour or form, by its name."""
    found: dict[str, dict[str, Any]] = {}
    for row in rows:
        mine = found.setdefault((getattr(row, by) or "").strip(), {})
        for column in columns:
            if getattr(row, column) is not None:
                mine.setdefault(column, getattr(row, column))
    return found


def _ids(connection: sa.Connection, table: sa.Table) -> dict[str, int]:
    """Return the key of each name in use."""
    query = sa.select(table.c.name, table.c.id).where(table.c.deleted_at.is_(None))
    return {row.name: row.id for row in connection.execute(query)}


def _named(
    connection: sa.Connection,
    table: sa.Table,
    kind: type[Any],
    rows: Sequence[PieceRow],
    column: str,
) -> dict[str, int]:
    """Return the key of each name in a column, adding the new ones."""
    ids = _ids(connection, table)
    for row in rows:
        name = getattr(row, column)
        if name is not None and name.strip() not in ids:
            ids[name.strip()] = write(connection, kind(name=name))
    return ids


def _kept(row: PieceRow, owner: str) -> dict[str, Any]:
    """Return what a line tells of its pour, piece or form; references apart."""
    return {
        one.name: record_value(getattr(row, one.column), one)
        for one in row_fields(owner)
        if one.kind != "reference"
    }


def _form(row: PieceRow) -> Form:
    """Return a form as its earliest line tells it."""
    return Form(
        name=row.form or "",
        starting_use_count=max((row.form_use or 1) - 1, 0),
        **_kept(row, "form"),
    )


def _pour(row: PieceRow, mixes: dict[str, int]) -> Pour:
    """Return the pour of a line."""
    return Pour(mix_id=mixes.get((row.mix or "").strip()), **_kept(row, "pour"))


def _piece(
    row: PieceRow, pour_id: int, forms: dict[str, int], lines: dict[str, int]
) -> Piece:
    """Return the piece of a line."""
    joint = JointState(sealing=row.joint_sealing, leak=row.leak)
    return Piece(
        pour_id=pour_id,
        form_id=forms.get((row.form or "").strip()),
        product_line_id=lines.get((row.product_line or "").strip()),
        joints=() if joint == JointState() else (joint,),
        steps=steps_of(
            row.vibration_method,
            seconds=row.vibration_s,
            strokes=row.strokes,
            passes=row.passes,
        ),
        **_kept(row, "piece"),
    )


def _figures(row: PieceRow, piece_id: int) -> dict[str, Any]:
    """Return the figures of a line as shares."""
    shares = {
        f"{name}_share": None if value is None else value / 100
        for name in _SHARES
        for value in [getattr(row, f"{name}_percent")]
    }
    shares["void_share"] = shares.pop("void_area_share")
    return shares | {
        "piece_id": piece_id,
        "face_area_mm2": row.face_area_mm2,
        "void_count": row.void_count,
        "stage": row.stage,
        "light": row.light,
        "set_up": row.set_up,
        "smallest_counted_mm": row.smallest_counted_mm,
        "method_version": row.method_version,
        **{name: getattr(row, name) for name in _JOINT_MARKS},
        "created_at": now(),
    }
