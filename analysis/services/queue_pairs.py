"""Photos of a batch that are one face in two lights: found, proposed, confirmed."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import ConflictError, NotInLogError, StruckfaceError
from analysis.imaging.photo import luminance
from analysis.imaging.registration import register
from analysis.imaging.registration_blocks import laid_on
from analysis.matching.two_lights import likely_pairs
from analysis.matching.whose import Shown
from analysis.model.waiting import BY_HAND, CHECK, DONE, FAILED, READY
from analysis.pairs.doubts import lamp_moved
from analysis.services.log import photo_bytes
from analysis.services.photos import preview, read_photo
from analysis.storage.waiting import list_waiting, say_of_waiting

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from analysis.model.points import Points
    from analysis.model.waiting import WaitingPhoto
    from analysis.services.log import Log

_MEANWHILE = (NotInLogError, ConflictError)
# The content is compared no larger than this: it says whether, not how exactly.
_COMPARED_PX = 1280


def find_pairs(log: Log) -> None:
    """Compare neighbours in time by what they show; note which are one face.

    The one with a card, which gives the scale, is the first of a pair; else the earlier
    one. What was compared once is not compared again.
    """
    waiting = {one.id: one for one in list_waiting(log) if one.state == CHECK}
    for one_id, other_id in likely_pairs(_shown(waiting.values())):
        one, other = waiting[one_id], waiting[other_id]
        pair = sorted((one, other), key=lambda photo: not photo.asked.has_scale)
        first, second = pair
        asked = first.asked
        if _in_pair(one, waiting.values()) or _in_pair(other, waiting.values()):
            continue
        if second.sha256 in asked.compared:
            continue
        new = replace(asked, compared=(*asked.compared, second.sha256))
        if _one_face_two_lights(log, first, second):
            new = replace(new, pair_sha256=second.sha256)
        said = replace(first, asked=new)
        with suppress(*_MEANWHILE):
            say_of_waiting(log, said, was=first)
            waiting[first.id] = said


def _shown(waiting: Iterable[WaitingPhoto]) -> tuple[Shown, ...]:
    return tuple(
        Shown(
            id=one.id,
            taken_at=None if not one.taken_at else datetime.fromisoformat(one.taken_at),
            piece_ids=one.asked.piece_ids,
            form_ids=one.asked.form_ids,
        )
        for one in waiting
    )


def _in_pair(photo: WaitingPhoto, waiting: Iterable[WaitingPhoto]) -> bool:
    return bool(photo.asked.pair_sha256) or any(
        one.asked.pair_sha256 == photo.sha256 for one in waiting
    )


def _one_face_two_lights(log: Log, first: WaitingPhoto, second: WaitingPhoto) -> bool:
    try:
        here, there = (_light(log, one) for one in (first, second))
        inside = np.ones(here.shape, dtype=bool)
        lying = register(here, there, inside)
    except StruckfaceError:
        return False
    size = (here.shape[0], here.shape[1])
    laid, shown = laid_on(there, lying.to_second, size)
    return lamp_moved(here, laid, shown)


def _light(log: Log, waiting: WaitingPhoto) -> NDArray[np.float32]:
    photo = read_photo(photo_bytes(log, waiting.sha256), waiting.name)
    return luminance(preview(photo.pixels, _COMPARED_PX))


def pair_of(
    photo: WaitingPhoto, waiting: Sequence[WaitingPhoto]
) -> tuple[WaitingPhoto, WaitingPhoto] | None:
    """Return the proposed pair that a photo is in, the first one first.

    None where there is none, or the other one was said to be something else meanwhile.
    """
    to_check = {one.sha256: one for one in waiting if one.state == CHECK}
    for first in to_check.values():
        second = to_check.get(first.asked.pair_sha256)
        if second is not None and photo.id in {first.id, second.id}:
            return first, second
    return None


def confirm_pair(
    log: Log,
    pair: tuple[WaitingPhoto, WaitingPhoto],
    piece_id: int,
    outline: Points | None,
) -> None:
    """Say that two photos are one face in two lights; they are measured together.

    The second waits for the first, and comes back to be checked by itself where the
    pair cannot be measured.

    Raises
    ------
    NotInLogError
        One does not wait any more.
    ConflictError
        Someone else said something of one meanwhile.
    """
    for at, photo in enumerate(pair):
        asked = replace(photo.asked, outline=outline if at == 0 else None)
        asked = replace(
            asked,
            second_sha256=pair[1].sha256 if at == 0 else "",
            first_sha256=pair[0].sha256 if at == 1 else "",
        )
        why = photo.why if piece_id == photo.piece_id else BY_HAND
        said = replace(
            photo, state=READY, piece_id=piece_id, why=why, asked=asked, problem=""
        )
        say_of_waiting(log, said, was=photo)


def part_pair(
    log: Log, pair: tuple[WaitingPhoto, WaitingPhoto]
) -> tuple[WaitingPhoto, WaitingPhoto]:
    """Say that two photos are not one face; each is checked by itself.

    Raises
    ------
    NotInLogError
        The first does not wait any more.
    ConflictError
        Someone else said something of it meanwhile.
    """
    first = replace(pair[0], asked=replace(pair[0].asked, pair_sha256=""))
    say_of_waiting(log, first, was=pair[0])
    return first, pair[1]


def with_first(log: Log, second: WaitingPhoto) -> WaitingPhoto:
    """Return the second photo of a pair as it is once the first was tried."""
    firsts = {one.sha256: one for one in list_waiting(log)}
    first = firsts.get(second.asked.first_sha256)
    if first is not None and first.state == DONE:
        return replace(second, state=DONE, reading_id=first.reading_id)
    if first is not None and first.state not in {FAILED, CHECK}:
        return second
    asked = replace(second.asked, first_sha256="")
    return replace(second, state=CHECK, asked=asked)
