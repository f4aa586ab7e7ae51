"""The mark of a log, printed on its cards: another log's cards are told by it."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.model.card import MARK_LENGTH, MARK_SIGNS
from analysis.storage.engine import reading, writing
from analysis.storage.saving import now
from analysis.storage.tables import LOG_MARK

if TYPE_CHECKING:
    from analysis.storage.engine import Log


def drawn_mark() -> str:
    """Draw a mark by lot.

    Examples
    --------
    >>> len(drawn_mark())
    6
    """
    return "".join(secrets.choice(MARK_SIGNS) for _ in range(MARK_LENGTH))


def log_mark(log: Log) -> str:
    """Return the log's mark; made once and kept.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     log_mark(log) == log_mark(log), len(log_mark(log))
    (True, 6)
    """
    with reading(log) as connection:
        found: str | None = connection.scalar(sa.select(LOG_MARK.c.mark))
    if found is not None:
        return found
    made = drawn_mark()
    with writing(log) as connection:
        # Another device may have been faster.
        found = connection.scalar(sa.select(LOG_MARK.c.mark))
        if found is None:
            row = {"id": 1, "mark": made, "created_at": now()}
            connection.execute(sa.insert(LOG_MARK).values(**row))
    return found or made
