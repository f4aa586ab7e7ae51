"""Which piece a photo of a folder is of, by side-car, card or folder name."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING
from uuid import uuid4

from analysis.errors import InputError, NotInLogError, StruckfaceError
from analysis.model.card import PIECE
from analysis.services.cards import whose
from analysis.storage.castings import piece_ids
from analysis.storage.exchange import import_pieces, preview_import

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.model.folder import FolderReading
    from analysis.services.folders.hands import Job
    from analysis.services.folders.side_car import SideCar
    from analysis.services.log import Log


def new_pieces(log: Log, side_car: SideCar) -> list[str]:
    """Take in the pieces that a side-car tells more of and the log does not know."""
    if not side_car.pieces:
        return []
    known = piece_ids(log)
    preview = preview_import(log, side_car.pieces, date_order=None)
    rows = [
        (row, line)
        for row, line in zip(preview.rows, preview.lines, strict=True)
        if row.piece not in known
    ]
    problems = [one for one in preview.problems if one.why != "is in the log already"]
    if problems:
        one = problems[0]
        msg = (
            f"The side-car's piece {one.given!r} cannot be taken in "
            f"({one.column} {one.why}): correct the table."
        )
        raise InputError(msg)
    if not rows:
        return []
    new = replace(
        preview,
        rows=tuple(row for row, _ in rows),
        lines=tuple(line for _, line in rows),
        problems=(),
    )
    import_pieces(log, new, save_token=uuid4().hex)
    return [f"Taken into the log from the side-car: {len(rows)} pieces."]


def piece_of(log: Log, job: Job, made: FolderReading, pieces: Mapping[str, int]) -> int:
    """Return the piece a photo is of: by the side-car, its card, then its folder.

    Raises
    ------
    InputError
        Cards and folder name different pieces, or nothing names one.
    NotInLogError
        What a card leads to is not in the log.
    """
    named = pieces.get(job.asked.piece)
    if named is not None and not job.asked.by_folder:
        return named
    shown: dict[int, str] = {}
    trouble: StruckfaceError | None = None
    for code in made.codes:
        try:
            target = whose(log, code)
        except NotInLogError as error:
            trouble = error
            continue
        if target.kind == PIECE:
            shown[target.id] = code.text
    if len(shown) > 1 or (named is not None and shown and named not in shown):
        cards = ", ".join(shown.values())
        folder = f" and the folder says {job.asked.piece}" if named is not None else ""
        msg = f"{job.name} shows the cards {cards}{folder}: say which in the side-car."
        raise InputError(msg)
    if shown:
        return next(iter(shown))
    if named is not None:
        return named
    if trouble is not None:
        raise trouble
    msg = f"The cards in {job.name} name no piece: say which it is of in the side-car."
    raise InputError(msg)
