"""Half-filled forms, kept so that a locked phone or a reload loses nothing."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.errors import InputError
from analysis.record.engine import reading, writing
from analysis.record.store import now
from analysis.record.tables import DRAFT

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.record.engine import Log

LARGEST_CHARS = 1_000_000


def save_draft(log: Log, key: str, content: Mapping[str, Any]) -> None:
    """Keep a draft under a key; the one before it is replaced.

    Parameters
    ----------
    log : Log
        The log.
    key : str
        Which form, e.g. ``"pour"`` or ``"piece 7"``.
    content : mapping
        What JSON can hold.

    Raises
    ------
    InputError
        Something in it cannot be kept, or it is too large.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.record.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     save_draft(log, "pour", {"name": "12"})
    ...     load_draft(log, "pour")
    {'name': '12'}
    """
    try:
        text = json.dumps(content, allow_nan=False)
    except (TypeError, ValueError) as error:
        msg = f"The draft {key!r} cannot be kept ({error}): clear that field."
        raise InputError(msg) from None
    if len(text) > LARGEST_CHARS:
        msg = f"The draft {key!r} is too long to keep: shorten its notes."
        raise InputError(msg)
    values = {"content": json.loads(text), "changed_at": now()}
    with writing(log) as connection:
        done = connection.execute(
            sa.update(DRAFT).where(DRAFT.c.key == key).values(**values)
        )
        if done.rowcount == 0:
            connection.execute(sa.insert(DRAFT).values(key=key, **values))


def load_draft(log: Log, key: str) -> dict[str, Any] | None:
    """Return a draft, None when there is none."""
    with reading(log) as connection:
        content: dict[str, Any] | None = connection.scalar(
            sa.select(DRAFT.c.content).where(DRAFT.c.key == key)
        )
    return content


def list_drafts(log: Log, prefix: str = "") -> tuple[str, ...]:
    """Return the keys that begin so, the latest changed first."""
    query = (
        sa.select(DRAFT.c.key)
        .where(DRAFT.c.key.startswith(prefix, autoescape=True))
        .order_by(DRAFT.c.changed_at.desc(), DRAFT.c.key)
    )
    with reading(log) as connection:
        return tuple(connection.scalars(query))


def drop_draft(log: Log, key: str) -> None:
    """Forget a draft, as after saving the form."""
    with writing(log) as connection:
        connection.execute(sa.delete(DRAFT).where(DRAFT.c.key == key))
