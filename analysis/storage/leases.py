"""Work that only one process does at a time: claimed for a while, then free again.

A claim is a row that runs out by itself, so that work whose process was killed is taken
up by another. It is renewed while the work goes on; a process of this machine that is
gone is told by its number and need not be waited for.
"""

from __future__ import annotations

import os
import socket
import threading
from contextlib import contextmanager, suppress
from datetime import timedelta
from functools import lru_cache
from typing import TYPE_CHECKING
from uuid import uuid4

import sqlalchemy as sa

from analysis.errors import RecordError
from analysis.storage.beside import process_is_gone
from analysis.storage.engine import writing
from analysis.storage.saving import now
from analysis.storage.tables import LEASE

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import datetime

    from analysis.storage.engine import Log

LEASE_S = 60.0


@contextmanager
def claimed(
    log: Log, work: str, *, holder: str | None = None, lease_s: float = LEASE_S
) -> Iterator[bool]:
    """Claim work for as long as the block lasts.

    Parameters
    ----------
    log : Log
        The log.
    work : str
        Names it.
    holder : str, optional
        Who claims it, this process if not given.
    lease_s : float
        How long a claim stands that is not renewed.

    Yields
    ------
    bool
        False where another process has it: leave it alone then.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     with claimed(log, "x") as mine, claimed(log, "x", holder="b") as other:
    ...         mine, other
    (True, False)
    """
    by = holder or this_process(os.getpid())
    if not _claim(log, work, by, lease_s):
        yield False
        return
    through = threading.Event()
    keeper = threading.Thread(
        target=_keep, args=(log, work, by, lease_s, through), daemon=True, name="lease"
    )
    keeper.start()
    try:
        yield True
    finally:
        through.set()
        keeper.join()
        # It runs out anyway.
        with suppress(RecordError), writing(log) as connection:
            connection.execute(sa.delete(LEASE).where(*_own(work, by)))


@lru_cache(maxsize=4)
def this_process(pid: int) -> str:
    """Return what tells this process from all others."""
    return f"{socket.gethostname()}/{pid}/{uuid4().hex[:12]}"


def _own(work: str, by: str) -> tuple[sa.ColumnElement[bool], ...]:
    return LEASE.c.work == work, LEASE.c.holder == by


def _claim(log: Log, work: str, by: str, lease_s: float) -> bool:
    moment = now()
    values = {"holder": by, "until": moment + timedelta(seconds=lease_s)}
    with writing(log) as connection:
        found = connection.execute(
            sa.select(LEASE.c.holder, LEASE.c.until).where(LEASE.c.work == work)
        ).one_or_none()
        if found is None:
            connection.execute(sa.insert(LEASE).values(work=work, **values))
            return True
        if _stands(found.holder, found.until, moment, lease_s):
            return False
        connection.execute(
            sa.update(LEASE).where(LEASE.c.work == work).values(**values)
        )
        return True


def _stands(holder: str, until: datetime, moment: datetime, lease_s: float) -> bool:
    """Tell whether a claim still holds; one far ahead is of a clock set back since."""
    left_s = (until - moment).total_seconds()
    return 0 < left_s <= 2 * max(lease_s, LEASE_S) and not _is_gone(holder)


def _is_gone(holder: str) -> bool:
    """Tell whether a process of this machine has ended; others may be alive."""
    host, _, rest = holder.partition("/")
    pid = rest.partition("/")[0]
    if host != socket.gethostname() or not pid.isdecimal():
        return False
    return process_is_gone(int(pid))


def _keep(
    log: Log, work: str, by: str, lease_s: float, through: threading.Event
) -> None:
    """Renew a claim until the work is through."""
    while not through.wait(lease_s / 3):
        # A busy moment is made up for at the next.
        with suppress(RecordError), writing(log) as connection:
            connection.execute(
                sa.update(LEASE)
                .where(*_own(work, by))
                .values(until=now() + timedelta(seconds=lease_s))
            )
