"""The pieces of a log in pages: what is asked is looked up, and only a page is read.

What a column holds is asked of the database. What a rule of `analysis.pieces` says
(sealed or open, which reading stands for a piece, how it lies to its target) is asked
of that rule, on the few columns it looks at.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.model.library import LibraryAsk, Neighbours
from analysis.model.log import common
from analysis.model.workshop import FinishTarget, Form
from analysis.pieces.figures import pooled_share
from analysis.pieces.sealing import sealing_of
from analysis.pieces.standing import standing_readings
from analysis.pieces.target import is_limiting, place_to
from analysis.storage.castings import IN_ORDER, LIVE, castings
from analysis.storage.engine import reading
from analysis.storage.filled import making_many
from analysis.storage.reading_lines import lines_of
from analysis.storage.records import select
from analysis.storage.tables import (
    BROUGHT_FIGURE,
    FORM,
    PIECE,
    PIECE_JOINT,
    POUR,
    READING,
    STEP,
)
from analysis.storage.terms import term_names

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Mapping, Sequence
    from datetime import date

    from analysis.model.log_views import Casting, ReadingLine
    from analysis.storage.engine import Log

# Up to so many pieces are asked for by name; more are read with all the others.
_FEW = 1000
_AT_ONCE = 5000  # names read at a time


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryRows:
    """What a page of the library is made of.

    Attributes
    ----------
    castings : tuple of Casting
        In the order asked for.
    count : int
        Pieces that meet what was asked, on all pages.
    lines : dict of int to tuple of ReadingLine
        Every reading of these pieces, latest first.
    standing : dict of int to tuple of ReadingLine
        Those that stand for them.
    brought : dict of int to float
        Void shares that came with a table, 0..1.
    forms : dict of int to Form
        Of these pieces.
    targets : dict of int to FinishTarget
        In force, by product line.
    """

    castings: tuple[Casting, ...]
    count: int
    lines: dict[int, tuple[ReadingLine, ...]]
    standing: dict[int, tuple[ReadingLine, ...]]
    brought: dict[int, float]
    forms: dict[int, Form]
    targets: dict[int, FinishTarget]


def library_rows(log: Log, ask: LibraryAsk, *, start: int, size: int) -> LibraryRows:
    """Return a page of the pieces that meet what was asked.

    Parameters
    ----------
    log : Log
        The log.
    ask : LibraryAsk
        Which pieces, in which order.
    start, size : int
        Place of the first from 0, and how many at most.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.model.library import LibraryAsk
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     library_rows(open_log(folder), LibraryAsk(), start=0, size=20).count
    0
    """
    with reading(log) as connection:
        ids, count = _page_of(connection, ask, start, size)
        found = {one.piece.id: one for one in castings(connection, PIECE.c.id.in_(ids))}
        lines: defaultdict[int, list[ReadingLine]] = defaultdict(list)
        for one in lines_of(connection, piece_ids=ids):
            lines[one.piece_id].append(one)
        of_forms = {one.piece.form_id for one in found.values()}
        forms = select(connection, Form, FORM.c.id.in_(of_forms - {None}))
        every = [one for its in lines.values() for one in its]
        return LibraryRows(
            castings=tuple(found[key] for key in ids),
            count=count,
            lines={key: tuple(its) for key, its in lines.items()},
            standing=standing_readings(every, stage=ask.stage),
            brought=_brought(connection, ask.stage, ids),
            forms={one.id or 0: one for one in forms},
            targets=_targets(connection),
        )


def neighbours(log: Log, ask: LibraryAsk, piece_id: int) -> Neighbours:
    """Return which pieces stand beside one among those asked for.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.model.library import LibraryAsk
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     neighbours(open_log(folder), LibraryAsk(), 1).place is None
    True
    """
    with reading(log) as connection:
        ids = _all_of(connection, ask)
    if piece_id not in ids:
        return Neighbours(place=None, count=len(ids), before=None, after=None)
    at = ids.index(piece_id)
    return Neighbours(
        place=at,
        count=len(ids),
        before=ids[at - 1] if at else None,
        after=ids[at + 1] if at + 1 < len(ids) else None,
    )


def faces_of(log: Log, reading_ids: Iterable[int]) -> dict[int, dict[str, Any]]:
    """Return the faces of readings as JSON holds them, voids and all else left.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     faces_of(open_log(folder), [1])
    {}
    """
    query = sa.select(READING.c.id, READING.c.face)
    with reading(log) as connection:
        found = connection.execute(query.where(READING.c.id.in_(list(reading_ids))))
        return {row.id: row.face for row in found}


def _page_of(
    connection: sa.Connection, ask: LibraryAsk, start: int, size: int
) -> tuple[list[int], int]:
    """Return the keys of a page and how many there are in all."""
    if _needs_rules(ask):
        ids = _all_of(connection, ask)
        return ids[start : start + size], len(ids)
    query = _query(connection, ask)
    count = connection.scalar(sa.select(sa.func.count()).select_from(query.subquery()))
    page = query.limit(size).offset(start)
    return [row.id for row in connection.execute(page)], int(count or 0)


def _needs_rules(ask: LibraryAsk) -> bool:
    """Tell whether more than columns is asked for."""
    rules = (ask.sealing, ask.method, ask.place, ask.stage)
    by_column = ask.order in {"newest", "oldest"}
    return bool(ask.text.split()) or any(rules) or not by_column


def _query(connection: sa.Connection, ask: LibraryAsk) -> sa.Select[Any]:
    """Return what columns can tell, in the order of casting."""
    where: list[sa.ColumnElement[bool]] = [LIVE]
    if ask.form_id is not None:
        where.append(PIECE.c.form_id == ask.form_id)
    if ask.pour_id is not None:
        where.append(PIECE.c.pour_id == ask.pour_id)
    if ask.from_day is not None:
        where.append(POUR.c.cast_on >= ask.from_day)
    if ask.to_day is not None:
        where.append(POUR.c.cast_on <= ask.to_day)
    if ask.form_type is not None:
        names = term_names(connection)
        called = [key for key, name in names.items() if name == ask.form_type]
        where.append(FORM.c.form_type_id.in_(called))
    order = IN_ORDER if ask.order == "oldest" else [one.desc() for one in IN_ORDER]
    return (
        sa.select(
            PIECE.c.id,
            PIECE.c.name.label("piece"),
            POUR.c.name.label("pour"),
            FORM.c.name.label("form"),
            PIECE.c.product_line_id.label("product_line_id"),
            FORM.c.product_line_id.label("of_form_line_id"),
        )
        .join(POUR, PIECE.c.pour_id == POUR.c.id)
        .outerjoin(FORM, PIECE.c.form_id == FORM.c.id)
        .where(*where)
        .order_by(*order)
    )


def _all_of(connection: sa.Connection, ask: LibraryAsk) -> list[int]:
    """Return the keys of all pieces asked for, in the order asked for."""
    query = _query(connection, ask)
    called = _called(connection, ask.text.casefold().split())
    if called is not None and len(called) <= _FEW:
        query = query.where(PIECE.c.id.in_(called))
    rows = list(connection.execute(query))
    if called is not None:
        rows = [row for row in rows if row[0] in called]
    if ask.sealing is not None:
        kinds = _common_words(connection, PIECE_JOINT.c.sealing_id)
        rows = [
            row for row in rows if sealing_of(kinds.get(row.id) or "") == ask.sealing
        ]
    if ask.method is not None:
        methods = _common_words(connection, STEP.c.method_id)
        rows = [row for row in rows if methods.get(row.id) == ask.method]
    if ask.place or ask.stage or ask.order.endswith("voids"):
        rows = _by_figure(connection, ask, rows)
    if ask.order == "name":
        rows.sort(key=lambda row: _as_counted(row.piece))
    return [row.id for row in rows]


def _called(connection: sa.Connection, words: list[str]) -> set[int] | None:
    """Return the pieces in whose names, those of pour and form too, all words are.

    None where no word is asked for. The database does not fold letters as Python does;
    so names are read, without joins and order, and those of a pour or form looked at
    once. A word holds no blank, so it lies in one of the three names, and many names
    may be looked through as one text with blanks between them.
    """
    if not words:
        return None
    pour_names, form_names = (
        [
            (row[0], row[1])
            for row in connection.execute(sa.select(one.c.id, one.c.name))
        ]
        for one in (POUR, FORM)
    )
    asked = [
        (word, _holding(pour_names, word), _holding(form_names, word)) for word in words
    ]
    query = sa.select(PIECE.c.id, PIECE.c.name, PIECE.c.pour_id, PIECE.c.form_id)
    found: set[int] = set()
    for part in connection.execute(query).partitions(_AT_ONCE):
        rows = list(part)
        whole = _folded(row[1] for row in rows)
        for word, pours, forms in asked:
            if not (pours or forms or word in whole):
                rows = []
                break
            rows = [
                row
                for row in rows
                if word in row[1].casefold() or row[2] in pours or row[3] in forms
            ]
        found.update(row[0] for row in rows)
    return found


def _folded(names: Iterable[str]) -> str:
    """Return names as one text, their letters folded."""
    return "\n".join(names).casefold()


def _holding(names: Sequence[tuple[int, str]], word: str) -> set[int]:
    """Return the keys of the names that hold a word."""
    if word not in _folded(name for _, name in names):
        return set()
    return {key for key, name in names if word in name.casefold()}


def _as_counted(name: str) -> list[tuple[int, int, str]]:
    """Sort names as people count: 2 before 10."""
    parts = re.split(r"(\d+)", name.casefold())
    # Numbers before words: the 0 or 1 in front keeps the two from being compared.
    return [
        (0, int(part), "") if part.isdecimal() else (1, 0, part)
        for part in parts
        if part
    ]


def _common_words(
    connection: sa.Connection, column: sa.Column[Any]
) -> dict[int, str | None]:
    """Return the word that all parts of a piece share, by the piece's own rule."""
    names = term_names(connection)
    words: defaultdict[int, list[str | None]] = defaultdict(list)
    query = sa.select(column.table.c.piece_id, column.label("word"))
    for row in connection.execute(query):
        words[row.piece_id].append(names.get(row.word))
    return {key: common(tuple(its)) for key, its in words.items()}


def _by_figure(
    connection: sa.Connection, ask: LibraryAsk, rows: list[Any]
) -> list[Any]:
    """Keep and sort by what was measured."""
    lines = _lines(connection, [row.id for row in rows])
    standing = standing_readings(lines, stage=ask.stage)
    brought = _brought(connection, ask.stage)
    if ask.stage is not None:
        rows = [row for row in rows if row.id in standing or row.id in brought]
    if ask.place is not None:
        place = _placing(standing, brought, _targets(connection))
        rows = [row for row in rows if place(row) == ask.place]
    if not ask.order.endswith("voids"):
        return rows
    shares = {
        key: share
        for key, its in standing.items()
        if (share := pooled_share(its)) is not None
    }
    # What was measured stands before what a table brought. Pieces without either come
    # last whichever way the others are sorted.
    shares = {**brought, **shares}
    known = [row for row in rows if row.id in shares]
    known.sort(key=lambda row: shares[row.id], reverse=ask.order == "most voids")
    return known + [row for row in rows if row.id not in shares]


def _lines(connection: sa.Connection, ids: list[int]) -> list[ReadingLine]:
    """Return the readings of pieces, a part of the keys in each question."""
    found: list[ReadingLine] = []
    with making_many():
        for start in range(0, len(ids), _AT_ONCE):
            part = ids[start : start + _AT_ONCE]
            found.extend(lines_of(connection, piece_ids=part))
    return found


def places_since(log: Log, since: date) -> Counter[str]:
    """Count how the pieces cast since a day lie to their targets.

    Parameters
    ----------
    log : Log
        The log.
    since : datetime.date
        The first day.

    Returns
    -------
    Counter of str
        By `analysis.model.library.PLACES`.

    Examples
    --------
    >>> import tempfile
    >>> from datetime import date
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     places_since(open_log(folder), date(2026, 3, 31))
    Counter()
    """
    with reading(log) as connection:
        targets = _targets(connection)
        rows = list(connection.execute(_query(connection, LibraryAsk(from_day=since))))
        # Where nothing is to be held against, nothing need be read.
        aimed = [row for row in rows if _line_of(row) in targets]
        ids = [row.id for row in aimed]
        standing = standing_readings(_lines(connection, ids))
        few = ids if len(ids) <= _FEW else None
        place = _placing(standing, _brought(connection, None, few), targets)
        return Counter(place(row) for row in aimed)


def _line_of(row: Any) -> int:  # noqa: ANN401 - rows carry any type
    """Return the product line of a row's piece, 0 without one."""
    return int(row.product_line_id or row.of_form_line_id or 0)


def _placing(
    standing: Mapping[int, tuple[ReadingLine, ...]],
    brought: Mapping[int, float],
    targets: Mapping[int, FinishTarget],
) -> Callable[[Any], str]:
    """Return what tells how a row's piece lies to its target."""

    def place(row: Any) -> str:  # noqa: ANN401 - rows carry any type
        target = targets.get(_line_of(row))
        return place_to(target, standing.get(row.id, ()), brought.get(row.id))

    return place


def _targets(connection: sa.Connection) -> dict[int, FinishTarget]:
    """Return the targets in force, by product line."""
    found: dict[int, FinishTarget] = {}
    for one in select(connection, FinishTarget):  # latest first
        found.setdefault(one.product_line_id, one)
    return {key: one for key, one in found.items() if is_limiting(one)}


def _brought(
    connection: sa.Connection, stage: str | None, ids: list[int] | None = None
) -> dict[int, float]:
    """Return the shares that came with a table, 0..1."""
    query = sa.select(BROUGHT_FIGURE.c.piece_id, BROUGHT_FIGURE.c.void_share)
    if stage is not None:
        query = query.where(BROUGHT_FIGURE.c.stage == stage)
    if ids is not None:
        query = query.where(BROUGHT_FIGURE.c.piece_id.in_(ids))
    return {row.piece_id: row.void_share for row in connection.execute(query)}
