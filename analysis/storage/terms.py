"""Vocabularies: words are added by using them, renamed and merged without loss.

A record holds the key of the word it was given. Renaming changes what the key is
called; merging makes one word stand for another and can be taken back, since the
records keep the key they had.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.checks import one_of, plain_text
from analysis.errors import InputError, NotInLogError
from analysis.model.log_views import Term, TermChange
from analysis.storage.engine import reading, writing
from analysis.storage.saving import insert, missing, now
from analysis.storage.tables import METADATA, TERM, TERM_CHANGE
from analysis.vocabulary import RESERVED, VOCABULARIES

if TYPE_CHECKING:
    from analysis.storage.engine import Log


def term_id(
    connection: sa.Connection,
    vocabulary: str,
    name: str | None,
    keys: dict[tuple[str, str], int] | None = None,
) -> int | None:
    """Return the key of a word, adding the word when new; a blank is not known.

    With `keys`, those of `term_keys`, the log is not asked and a new word joins them.
    """
    if name is None or not name.strip():
        return None
    wanted = " ".join(name.split())
    if keys is None:
        found = _find(connection, vocabulary, wanted)
    else:
        found = keys.get((vocabulary, wanted))
    if found is not None:
        return found
    plain_text(name, "The word")
    values = {"vocabulary": vocabulary, "name": wanted, "created_at": now()}
    added = insert(connection, TERM, values)
    _note(connection, added, "added", "", wanted)
    if keys is not None:
        keys[vocabulary, wanted] = added
    return added


def term_keys(connection: sa.Connection) -> dict[tuple[str, str], int]:
    """Return the key of each word by its vocabulary and name, merged ones too."""
    rows = connection.execute(sa.select(TERM.c.vocabulary, TERM.c.name, TERM.c.id))
    return {(row.vocabulary, row.name): row.id for row in rows}


def _find(connection: sa.Connection, vocabulary: str, name: str) -> int | None:
    """Return the key of a word that is there."""
    found = connection.scalar(
        sa.select(TERM.c.id).where(TERM.c.vocabulary == vocabulary, TERM.c.name == name)
    )
    return None if found is None else int(found)


def term_names(connection: sa.Connection) -> dict[int, str]:
    """Return what each key is called today; merged words bear the other's name."""
    own = _own(connection)
    return {key: own[_last(own, key)][0] for key in own}


def _own(connection: sa.Connection) -> dict[int, tuple[str, int | None]]:
    """Return each key's own name and the key it was merged into."""
    rows = connection.execute(sa.select(TERM.c.id, TERM.c.name, TERM.c.merged_into_id))
    return {row.id: (row.name, row.merged_into_id) for row in rows}


def _last(own: dict[int, tuple[str, int | None]], key: int) -> int:
    """Follow the merges to their end; `merge_terms` lets no circle arise."""
    following = own[key][1]
    while following is not None:
        key, following = following, own[following][1]
    return key


def list_terms(log: Log, vocabulary: str) -> tuple[Term, ...]:
    """Return the words in use, the most used first.

    Parameters
    ----------
    log : Log
        The log.
    vocabulary : str
        One of `analysis.vocabulary.VOCABULARIES`.

    Returns
    -------
    tuple of Term
        Without those merged into others.
    """
    one_of(vocabulary, "Vocabulary", VOCABULARIES)
    with reading(log) as connection:
        rows = connection.execute(
            sa.select(TERM).where(TERM.c.vocabulary == vocabulary)
        ).all()
        own = _own(connection)
        uses: Counter[int] = Counter()
        for key, count in _uses(connection).items():
            uses[_last(own, key)] += count
    terms = (
        Term(id=row.id, vocabulary=vocabulary, name=row.name, uses=uses[row.id])
        for row in rows
        if row.merged_into_id is None
    )
    return tuple(sorted(terms, key=lambda term: (-term.uses, term.name)))


def words(log: Log, vocabulary: str) -> tuple[str, ...]:
    """Return what to offer: the words in use, then the starting ones.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     _ = add_term(log, "gloss", "eggshell")
    ...     words(log, "gloss")
    ('eggshell', 'matt', 'satin', 'gloss')
    """
    used = tuple(term.name for term in list_terms(log, vocabulary))
    return tuple(dict.fromkeys((*used, *VOCABULARIES[vocabulary])))


def _uses(connection: sa.Connection) -> Counter[int]:
    """Count how often each key is held."""
    # Read off the tables, so that no column that holds words can be forgotten here.
    columns = [
        column
        for table in METADATA.tables.values()
        for column in table.columns
        if table not in {TERM, TERM_CHANGE}
        and any(link.column.table is TERM for link in column.foreign_keys)
    ]
    held = sa.union_all(
        *(
            sa.select(column.label("key")).where(column.is_not(None))
            for column in columns
        )
    ).subquery()
    query = sa.select(held.c.key, sa.func.count()).group_by(held.c.key)
    return Counter({row[0]: row[1] for row in connection.execute(query)})


def add_term(log: Log, vocabulary: str, name: str) -> int:
    """Add a word and return its key.

    Raises
    ------
    InputError
        A blank, or no such vocabulary.
    """
    one_of(vocabulary, "Vocabulary", VOCABULARIES)
    with writing(log) as connection:
        key = term_id(connection, vocabulary, name)
    if key is None:
        msg = "A word for the list is blank: type one."
        raise InputError(msg)
    return key


def rename_term(log: Log, vocabulary: str, old: str, new: str) -> None:
    """Call a word something else, in every record that holds it.

    Raises
    ------
    InputError
        The word is one of the three with a fixed meaning, or the new name is taken:
        merge the two instead.
    NotInLogError
        There is no such word.
    """
    plain_text(new, "The new name")
    wanted = " ".join(new.split())
    if not wanted:
        msg = f"The new name for {old!r} is blank: type one."
        raise InputError(msg)
    with writing(log) as connection:
        key = _changeable(connection, vocabulary, old)
        if wanted in RESERVED or _find(connection, vocabulary, wanted) is not None:
            msg = f"{wanted!r} is in the list already: merge the two instead."
            raise InputError(msg)
        connection.execute(sa.update(TERM).where(TERM.c.id == key).values(name=wanted))
        _note(connection, key, "renamed", old, wanted)


def merge_terms(log: Log, vocabulary: str, old: str, into: str) -> None:
    """Let one word stand for another from now on; `part_term` takes it back.

    Raises
    ------
    InputError
        The same word twice, a word with a fixed meaning, or one merged the other way.
    NotInLogError
        There is no such word.
    """
    with writing(log) as connection:
        key = _changeable(connection, vocabulary, old)
        target = _find(connection, vocabulary, into)
        if target is None:
            msg = f"There is no {into!r} in the list: choose from the list."
            raise NotInLogError(msg)
        if _last(_own(connection), target) == key:
            msg = f"{into!r} already stands for {old!r}: choose two different words."
            raise InputError(msg)
        connection.execute(
            sa.update(TERM).where(TERM.c.id == key).values(merged_into_id=target)
        )
        _note(connection, key, "merged", old, into)


def part_term(log: Log, vocabulary: str, name: str) -> None:
    """Take a merge back: the records that held the word bear its name again.

    Raises
    ------
    NotInLogError
        There is no such word.
    """
    with writing(log) as connection:
        key = _changeable(connection, vocabulary, name)
        connection.execute(
            sa.update(TERM).where(TERM.c.id == key).values(merged_into_id=None)
        )
        _note(connection, key, "parted", name, name)


def term_history(log: Log, vocabulary: str) -> tuple[TermChange, ...]:
    """Return what was done to a vocabulary, oldest first."""
    query = (
        sa.select(TERM.c.vocabulary, TERM_CHANGE)
        .join(TERM, TERM_CHANGE.c.term_id == TERM.c.id)
        .where(TERM.c.vocabulary == vocabulary)
        .order_by(TERM_CHANGE.c.id)
    )
    with reading(log) as connection:
        return tuple(
            TermChange(
                vocabulary=row.vocabulary,
                change=row.change,
                before=row.before,
                after=row.after,
                changed_at=row.changed_at,
            )
            for row in connection.execute(query)
        )


def _changeable(connection: sa.Connection, vocabulary: str, name: str) -> int:
    """Return the key of a word that may be changed."""
    if name in RESERVED:
        msg = f"{name!r} has a fixed meaning and stays: change another word."
        raise InputError(msg)
    key = _find(connection, vocabulary, name)
    if key is None:
        raise NotInLogError(missing(TERM, repr(name)))
    return key


def _note(
    connection: sa.Connection, key: int, change: str, before: str, after: str
) -> None:
    """Write down what was done to a word."""
    connection.execute(
        sa.insert(TERM_CHANGE).values(
            term_id=key, change=change, before=before, after=after, changed_at=now()
        )
    )
