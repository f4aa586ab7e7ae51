"""Photos of a batch: kept before they are measured, so that nothing is lost."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa

from analysis.errors import NotInLogError
from analysis.model.waiting import DONE, GIVEN, READY, Asked, WaitingPhoto
from analysis.record.engine import reading, writing
from analysis.record.photo_store import put
from analysis.record.photos import photo_row, tidied
from analysis.record.store import insert, now
from analysis.record.tables import PHOTO, WAITING

if TYPE_CHECKING:
    from analysis.model.photo import Photo
    from analysis.record.engine import Log


def add_waiting(
    log: Log, photo_bytes: bytes, photo: Photo, *, stage: str = "as_struck"
) -> int:
    """Keep a photo of a batch; one that waits already is not kept twice.

    Parameters
    ----------
    log : Log
        The log.
    photo_bytes : bytes
        The file as uploaded.
    photo : Photo
        The same, decoded.
    stage : str
        Of the face.

    Returns
    -------
    int
        Its key among those that wait.

    Examples
    --------
    >>> add_waiting.__name__
    'add_waiting'
    """
    with tidied(log, photo.sha256), writing(log) as connection:
        put(log, photo_bytes, photo.sha256)
        photo_id = photo_row(connection, photo, len(photo_bytes))
        found = connection.scalar(
            sa.select(WAITING.c.id).where(WAITING.c.photo_id == photo_id)
        )
        if found is not None:
            return int(found)
        values = {
            "photo_id": photo_id,
            "state": GIVEN,
            "why": "unknown",
            "asked": asdict(Asked(stage=stage)),
            "added_at": now(),
            "changed_at": now(),
        }
        return insert(connection, WAITING, values)


def list_waiting(log: Log) -> tuple[WaitingPhoto, ...]:
    """Return the photos of the batch in the order they were taken, then given."""
    query = (
        sa.select(WAITING, PHOTO.c.sha256, PHOTO.c.name, PHOTO.c.taken_at)
        .join(PHOTO, WAITING.c.photo_id == PHOTO.c.id)
        .order_by(WAITING.c.id)
    )
    with reading(log) as connection:
        found = [_value(row) for row in connection.execute(query)]
    return tuple(sorted(found, key=lambda one: (one.taken_at or "", one.id)))


def next_ready(log: Log) -> WaitingPhoto | None:
    """Return the photo that is to be measured next."""
    ready = [one for one in list_waiting(log) if one.state == READY]
    return min(ready, key=lambda one: one.id) if ready else None


def say_of_waiting(log: Log, photo: WaitingPhoto) -> None:
    """Note what is proposed, chosen or come of a photo.

    Raises
    ------
    NotInLogError
        It does not wait any more.
    """
    values = {
        "state": photo.state,
        "piece_id": photo.piece_id,
        "why": photo.why,
        "asked": asdict(photo.asked),
        "problem": photo.problem,
        "reading_id": photo.reading_id,
        "changed_at": now(),
    }
    with writing(log) as connection:
        done = connection.execute(
            sa.update(WAITING).where(WAITING.c.id == photo.id).values(**values)
        )
        if done.rowcount == 0:
            msg = f"Photo {photo.name} does not wait any more: look at the list again."
            raise NotInLogError(msg)


def put_aside(log: Log, waiting_id: int) -> None:
    """Take a photo out of the batch; the file stays with the log."""
    with writing(log) as connection:
        connection.execute(sa.delete(WAITING).where(WAITING.c.id == waiting_id))


def clear_done(log: Log) -> None:
    """Take out what is measured and saved."""
    with writing(log) as connection:
        connection.execute(sa.delete(WAITING).where(WAITING.c.state == DONE))


def _value(row: Any) -> WaitingPhoto:  # noqa: ANN401 - rows carry any type
    asked = dict(row.asked)
    outline = asked["outline"]
    asked["outline"] = None if outline is None else tuple((x, y) for x, y in outline)
    for name in ("piece_ids", "form_ids"):
        asked[name] = tuple(asked[name])
    return WaitingPhoto(
        id=row.id,
        sha256=row.sha256,
        name=row.name,
        taken_at=row.taken_at,
        piece_id=row.piece_id,
        state=row.state,
        why=row.why,
        asked=Asked(**asked),
        problem=row.problem,
        reading_id=row.reading_id,
    )
