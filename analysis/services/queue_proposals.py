"""Which piece each photo that waits is proposed to be of."""

from __future__ import annotations

from collections import Counter
from contextlib import suppress
from dataclasses import replace
from datetime import datetime
from typing import TYPE_CHECKING

from analysis.errors import ConflictError, NotInLogError
from analysis.matching.whose import Candidate, Shown, propose_pieces
from analysis.model.waiting import CHECK, DONE, READY, WaitingPhoto
from analysis.services.log import casting_names, list_readings, readings_by_piece
from analysis.storage.waiting import list_waiting, say_of_waiting

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.services.log import Log


def propose(log: Log) -> None:
    """Propose a piece for each photo that is not checked yet."""
    known_ones = list_waiting(log)
    waiting = [one for one in known_ones if one.state == CHECK]
    photos = [
        Shown(
            id=one.id,
            taken_at=None if not one.taken_at else datetime.fromisoformat(one.taken_at),
            piece_ids=one.asked.piece_ids,
            form_ids=one.asked.form_ids,
            settled=one.piece_id if one.state in {READY, DONE} else None,
        )
        for one in known_ones
        if one.state in {CHECK, READY, DONE}
    ]
    candidates = _candidates(log, known_ones)
    found = {one.id: one for one in propose_pieces(photos, candidates)}
    for one in waiting:
        new = replace(one, piece_id=found[one.id].piece_id, why=found[one.id].why)
        # Measured by hand meanwhile, or long ago: the latest reading of it.
        for known in list_readings(log, sha256=one.sha256)[:1]:
            new = replace(one, state=DONE, piece_id=known.piece_id, reading_id=known.id)
        if new != one:
            with suppress(NotInLogError, ConflictError):
                say_of_waiting(log, new, was=one)


def _candidates(log: Log, waiting: Iterable[WaitingPhoto]) -> tuple[Candidate, ...]:
    photographed = Counter(
        {key: count for key, (count, _) in readings_by_piece(log).items()}
    )
    photographed.update(
        one.piece_id
        for one in waiting
        if one.state == READY and one.piece_id is not None
    )
    return tuple(
        Candidate(
            piece_id=key,
            form_id=one.form_id,
            cast_on=one.cast_on,
            photos=photographed[key],
        )
        for key, one in casting_names(log).items()
    )
