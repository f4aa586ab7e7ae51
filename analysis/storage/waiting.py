"""Photos of a batch: kept before they are measured, so that nothing is lost."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any
from uuid import uuid4

import sqlalchemy as sa

from analysis.errors import ConflictError, NotInLogError
from analysis.model.waiting import (
    CHECK,
    DONE,
    FAILED,
    GIVEN,
    READY,
    UNKNOWN,
    Asked,
    WaitingPhoto,
)
from analysis.storage.engine import reading, writing
from analysis.storage.photo_store import put
from analysis.storage.photos import photo_row, tidied
from analysis.storage.saving import insert, now
from analysis.storage.tables import PHOTO, READING, WAITING

if TYPE_CHECKING:
    from analysis.model.photo import Photo
    from analysis.storage.engine import Log


def add_waiting(
    log: Log,
    photo_bytes: bytes,
    photo: Photo,
    *,
    stage: str = "as_struck",
    giver: str = "",
) -> int:
    """Keep a photo of a batch; one that waits already is not kept twice.

    Given again, it takes the new stage until someone has said what it shows; one whose
    reading was deleted meanwhile waits anew.

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
    giver : str
        Tells who gives it from others.

    Returns
    -------
    int
        Its key among those that wait.
    """
    with tidied(log, photo.sha256), writing(log) as connection:
        put(log, photo_bytes, photo.sha256)
        photo_id = photo_row(connection, photo, len(photo_bytes))
        anew = {
            "state": GIVEN,
            "why": UNKNOWN,
            "asked": asdict(Asked(stage=stage, giving=uuid4().hex, giver=giver)),
            "changed_at": now(),
        }
        found = connection.execute(
            sa.select(WAITING, READING.c.deleted_at)
            .join(READING, WAITING.c.reading_id == READING.c.id, isouter=True)
            .where(WAITING.c.photo_id == photo_id)
        ).one_or_none()
        if found is None:
            return insert(
                connection, WAITING, {"photo_id": photo_id, "added_at": now()} | anew
            )
        mine = sa.update(WAITING).where(WAITING.c.id == found.id)
        if found.state in {GIVEN, CHECK, FAILED}:
            asked = found.asked | {"stage": stage}
            connection.execute(mine.values(asked=asked, changed_at=now()))
        elif found.state == DONE and found.deleted_at is not None:
            fresh = {"piece_id": None, "problem": "", "reading_id": None}
            connection.execute(mine.values(**anew, **fresh))
        return int(found.id)


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


def drop_unclaimed(log: Log, reading_id: int) -> bool:
    """Hide a reading unless a photo that waits, or has waited, names it as its own.

    Returns
    -------
    bool
        True where it is hidden now.
    """
    with writing(log) as connection:
        named = sa.select(WAITING.c.id).where(WAITING.c.reading_id == reading_id)
        if connection.scalar(named) is not None:
            return False
        done = connection.execute(
            sa.update(READING)
            .where(READING.c.id == reading_id, READING.c.deleted_at.is_(None))
            .values(deleted_at=now(), version=READING.c.version + 1)
        )
        return bool(done.rowcount)


def say_of_waiting(log: Log, photo: WaitingPhoto, *, was: WaitingPhoto) -> None:
    """Note what is proposed, chosen or come of a photo.

    Parameters
    ----------
    log : Log
        The log.
    photo : WaitingPhoto
        As it is to be.
    was : WaitingPhoto
        As it was read: what someone said of it meanwhile stands.

    Raises
    ------
    NotInLogError
        It does not wait any more.
    ConflictError
        Someone said something else of it meanwhile.
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
        as_read = [WAITING.c.id == photo.id, WAITING.c.state == was.state]
        if was.state == READY:  # a proposal may change, what was said may not
            as_read.append(WAITING.c.piece_id == was.piece_id)
        done = connection.execute(sa.update(WAITING).where(*as_read).values(**values))
        if done.rowcount:
            return
        found = connection.execute(
            sa.select(WAITING.c.state, WAITING.c.piece_id).where(
                WAITING.c.id == photo.id
            )
        ).one_or_none()
    if found is None:
        msg = f"Photo {photo.name} does not wait any more: look at the list again."
        raise NotInLogError(msg)
    msg = f"Someone else checked photo {photo.name} meanwhile: look at it again."
    raise ConflictError(msg, stored=found.piece_id, given=photo.piece_id)


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
    for name in ("piece_ids", "form_ids", "compared"):
        asked[name] = tuple(asked.get(name, ()))
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
