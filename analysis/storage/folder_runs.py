"""How far the measuring of each folder is, so that it goes on where it ended."""

from __future__ import annotations

from typing import TYPE_CHECKING

import sqlalchemy as sa

from analysis.model.folder import (
    FAILED,
    MEASURED,
    SKIPPED,
    FolderFile,
    FolderOutcome,
    FolderRun,
)
from analysis.storage.engine import reading, writing
from analysis.storage.saving import insert, now
from analysis.storage.tables import FOLDER_PHOTO, FOLDER_RUN, PHOTO, PHOTO_USE, READING

if TYPE_CHECKING:
    from analysis.storage.engine import Log


def begin_run(log: Log, folder: str) -> int:
    """Note that a folder is being measured; return the key of its run.

    One row for each folder: what came of its photos before stays with it.
    """
    moment = now()
    anew = {"started_at": moment, "changed_at": moment, "ended_at": None}
    with writing(log) as connection:
        found = connection.scalar(
            sa.select(FOLDER_RUN.c.id).where(FOLDER_RUN.c.folder == folder)
        )
        if found is None:
            return insert(
                connection, FOLDER_RUN, {"folder": folder, "photos": 0} | anew
            )
        connection.execute(
            sa.update(FOLDER_RUN).where(FOLDER_RUN.c.id == found).values(**anew)
        )
        return int(found)


def count_photos(log: Log, run_id: int, photos: int) -> None:
    """Note how many photos the folder holds."""
    with writing(log) as connection:
        connection.execute(
            sa.update(FOLDER_RUN)
            .where(FOLDER_RUN.c.id == run_id)
            .values(photos=photos, changed_at=now())
        )


def end_run(log: Log, run_id: int) -> None:
    """Note that the folder is through."""
    with writing(log) as connection:
        connection.execute(
            sa.update(FOLDER_RUN)
            .where(FOLDER_RUN.c.id == run_id)
            .values(ended_at=now(), changed_at=now())
        )


def tell_outcome(log: Log, run_id: int, outcome: FolderOutcome) -> None:
    """Note what came of a file; what was said of it before is replaced."""
    values = {
        "byte_count": outcome.file.byte_count,
        "changed_ns": outcome.file.changed_ns,
        "state": outcome.state,
        "problem": outcome.problem,
        "reading_id": outcome.reading_id,
        "asked": outcome.asked,
        "told_at": now(),
    }
    mine = (
        FOLDER_PHOTO.c.folder_run_id == run_id,
        FOLDER_PHOTO.c.path == outcome.file.path,
    )
    with writing(log) as connection:
        done = connection.execute(sa.update(FOLDER_PHOTO).where(*mine).values(**values))
        if not done.rowcount:
            known = {"folder_run_id": run_id, "path": outcome.file.path}
            connection.execute(sa.insert(FOLDER_PHOTO).values(**known, **values))
        connection.execute(
            sa.update(FOLDER_RUN)
            .where(FOLDER_RUN.c.id == run_id)
            .values(changed_at=now())
        )


def told_outcomes(log: Log, run_id: int) -> dict[str, FolderOutcome]:
    """Return what came of each file so far, by its path."""
    query = sa.select(FOLDER_PHOTO).where(FOLDER_PHOTO.c.folder_run_id == run_id)
    with reading(log) as connection:
        return {
            row.path: FolderOutcome(
                file=FolderFile(
                    path=row.path,
                    byte_count=row.byte_count,
                    changed_ns=row.changed_ns,
                ),
                state=row.state,
                problem=row.problem,
                reading_id=row.reading_id,
                asked=row.asked,
            )
            for row in connection.execute(query)
        }


def reading_of_photo(log: Log, sha256: str) -> int | None:
    """Return the latest live reading of a photo, None where there is none."""
    query = (
        sa.select(sa.func.max(READING.c.id))
        .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
        .join(PHOTO, PHOTO_USE.c.photo_id == PHOTO.c.id)
        .where(PHOTO.c.sha256 == sha256, READING.c.deleted_at.is_(None))
    )
    with reading(log) as connection:
        found: int | None = connection.scalar(query)
    return found


def list_runs(log: Log, *, latest: int = 12) -> tuple[FolderRun, ...]:
    """Return the folders that were measured, the last begun first.

    Parameters
    ----------
    log : Log
    latest : int
        How many of the photos measured last are named.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.storage.store import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     end_run(log, begin_run(log, "photos of May"))
    ...     [one.folder for one in list_runs(log)]
    ['photos of May']
    """
    of_run = FOLDER_PHOTO.c.folder_run_id == FOLDER_RUN.c.id
    counts = [
        sa.select(sa.func.count())
        .where(of_run, FOLDER_PHOTO.c.state == state)
        .scalar_subquery()
        .label(state)
        for state in (MEASURED, SKIPPED, FAILED)
    ]
    query = sa.select(FOLDER_RUN, *counts).order_by(
        FOLDER_RUN.c.started_at.desc(), FOLDER_RUN.c.id.desc()
    )
    with reading(log) as connection:
        return tuple(
            FolderRun(
                folder=row.folder,
                photos=row.photos,
                measured=row.measured,
                skipped=row.skipped,
                failed=row.failed,
                started_at=row.started_at,
                changed_at=row.changed_at,
                ended_at=row.ended_at,
                latest=_latest(connection, row.id, latest),
            )
            for row in connection.execute(query).all()
        )


def _latest(
    connection: sa.Connection, run_id: int, count: int
) -> tuple[tuple[str, str], ...]:
    query = (
        sa.select(PHOTO.c.sha256, PHOTO.c.name)
        .select_from(FOLDER_PHOTO)
        .join(READING, FOLDER_PHOTO.c.reading_id == READING.c.id)
        .join(PHOTO_USE, READING.c.photo_use_id == PHOTO_USE.c.id)
        .join(PHOTO, PHOTO_USE.c.photo_id == PHOTO.c.id)
        .where(
            FOLDER_PHOTO.c.folder_run_id == run_id,
            FOLDER_PHOTO.c.state == MEASURED,
            READING.c.deleted_at.is_(None),
        )
        .order_by(FOLDER_PHOTO.c.told_at.desc(), FOLDER_PHOTO.c.id.desc())
        .limit(count)
    )
    return tuple((row.sha256, row.name) for row in connection.execute(query))
