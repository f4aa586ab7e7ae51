"""Photos of many pieces in one go: kept, proposed, checked, measured in the background.

What is given is in the log before anything is done with it. A closed browser, a locked
phone or a server that stops lose nothing; measuring goes on where it ended.
"""

from __future__ import annotations

import logging
import threading
from contextlib import contextmanager, suppress
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

from analysis.errors import ConflictError, NotInLogError, StruckfaceError
from analysis.model.card import FORM, PIECE
from analysis.model.log import PhotoUse
from analysis.model.photo import Face
from analysis.model.points import row_col
from analysis.model.waiting import (
    BY_HAND,
    CHECK,
    DONE,
    FAILED,
    GIVEN,
    READY,
    WaitingPhoto,
)
from analysis.model.workshop import settings_of_form
from analysis.services.cards import targets_of
from analysis.services.faces import find_face
from analysis.services.log import (
    digest,
    form_of_piece,
    list_readings,
    photo_bytes,
    save_reading,
)
from analysis.services.measuring import measure
from analysis.services.pairing import measure_pair
from analysis.services.photos import read_photo
from analysis.services.queue_opening import opened
from analysis.services.queue_pairs import find_pairs, with_first
from analysis.services.queue_proposals import propose
from analysis.services.sheets import (
    points_of,
    seen,
)
from analysis.services.turns import who_asks
from analysis.storage.leases import claimed
from analysis.storage.waiting import (
    add_waiting,
    clear_done,
    drop_unclaimed,
    list_waiting,
    put_aside,
    say_of_waiting,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Container, Iterator

    from analysis.model.photo import Photo, Scale
    from analysis.model.points import Points
    from analysis.services.log import Log

__all__ = [
    "check_again",
    "clear_done",
    "confirm",
    "give",
    "is_working",
    "list_waiting",
    "look",
    "measure_ready",
    "note_measured",
    "outlined",
    "put_aside",
    "start",
]

# Put aside, or checked by someone else, while it was worked on.
_MEANWHILE = (NotInLogError, ConflictError)

_LOGGER = logging.getLogger(__name__)
_THREADS: dict[str, threading.Thread] = {}
_LOCK = threading.Lock()


def give(log: Log, data: bytes, name: str, *, stage: str = "as_struck") -> int:
    """Keep a photo; what is in it is looked at later.

    Parameters
    ----------
    log : Log
    data : bytes
        The file.
    name : str
        As given.
    stage : str
        Of the face.

    Returns
    -------
    int
        Its key among those that wait.

    Raises
    ------
    PhotoError
        It is no photo.
    """
    photo = read_photo(data, name)
    return add_waiting(log, data, photo, stage=stage, giver=who_asks())


def look(log: Log) -> None:
    """Look at what was given: cards, scale, face; then propose pieces."""
    for listed in list_waiting(log):
        if listed.state == GIVEN:
            with _claimed(log, listed) as one, suppress(*_MEANWHILE):
                if one is not None:
                    say_of_waiting(log, _tried(_looked_at, log, one), was=one)
    propose(log)
    find_pairs(log)


@contextmanager
def _claimed(log: Log, listed: WaitingPhoto) -> Iterator[WaitingPhoto | None]:
    """Claim a photo that is still as it was listed; None where it is not to be had.

    Another process may have it, or have been through with it.
    """
    with claimed(log, f"waiting photo {listed.id}") as mine:
        found = list_waiting(log) if mine else ()
        same = (one for one in found if one.id == listed.id)
        one = next(same, None)
        yield one if one is not None and one.state == listed.state else None


def _tried(
    work: Callable[[Log, WaitingPhoto], WaitingPhoto], log: Log, one: WaitingPhoto
) -> WaitingPhoto:
    """Do the work; what goes wrong is noted with the photo and stops no other."""
    try:
        return work(log, one)
    except StruckfaceError as error:
        return replace(one, state=FAILED, problem=str(error))
    except Exception:
        _LOGGER.exception("A waiting photo could not be measured")
        problem = f"{one.name} could not be measured: measure it by hand."
        return replace(one, state=FAILED, problem=problem)


def _looked_at(log: Log, waiting: WaitingPhoto) -> WaitingPhoto:
    photo, cards, view, scale, _ = opened(log, waiting)
    targets, problems = targets_of(log, cards)
    ids = {
        kind: tuple(dict.fromkeys(one.id for one in targets if one.kind == kind))
        for kind in (PIECE, FORM)
    }
    outline = find_face(seen(photo, view)).outline_px
    asked = replace(
        waiting.asked,
        piece_ids=ids[PIECE],
        form_ids=ids[FORM],
        has_scale=scale is not None,
        outline=points_of(outline),
    )
    return replace(waiting, state=CHECK, asked=asked, problem="".join(problems[-1:]))


def confirm(
    log: Log, photo: WaitingPhoto, piece_id: int, outline: Points | None
) -> None:
    """Say that a photo is of a piece; it is then ready to be measured.

    Raises
    ------
    NotInLogError
        It does not wait any more.
    ConflictError
        Someone else said so meanwhile.
    """
    why = photo.why if piece_id == photo.piece_id else BY_HAND
    say_of_waiting(
        log,
        replace(
            photo,
            state=READY,
            piece_id=piece_id,
            why=why,
            asked=replace(photo.asked, outline=outline),
            problem="",
        ),
        was=photo,
    )


def note_measured(log: Log, sha256: str) -> int:
    """Note waiting photos that were measured by hand; return how many.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     note_measured(open_log(folder), "0" * 64)
    0
    """
    same = [one for one in list_waiting(log) if one.sha256 == sha256]
    open_ones = [one for one in same if one.state in {GIVEN, CHECK, FAILED}]
    lines = list_readings(log, sha256=sha256) if open_ones else ()
    if not lines:
        return 0
    latest = max(lines, key=lambda line: line.id)
    for one in open_ones:
        new = replace(
            one,
            state=DONE,
            piece_id=latest.piece_id,
            reading_id=latest.id,
            why=BY_HAND,
            problem="",
        )
        with suppress(*_MEANWHILE):
            say_of_waiting(log, new, was=one)
    return len(open_ones)


def check_again(log: Log, photo: WaitingPhoto) -> None:
    """Look at a photo once more that could not be measured.

    Raises
    ------
    NotInLogError
        It does not wait any more.
    """
    say_of_waiting(log, replace(photo, state=GIVEN, problem=""), was=photo)


def outlined(
    log: Log, waiting: WaitingPhoto
) -> tuple[Photo, Scale | None, tuple[Points, ...]]:
    """Return a waiting photo as it will be measured, its scale, and its cards' areas.

    Raises
    ------
    StruckfaceError
        The file is gone, or no longer a photo.
    """
    shown = opened(log, waiting)
    return seen(shown.photo, shown.view), shown.scale, shown.areas


def measure_ready(log: Log) -> int:
    """Measure what is ready, one photo after the other; return how many.

    Those who gave photos are served in turn, however many one of them gave.
    A photo that cannot be measured is noted with why, and does not stop the others.
    """
    count, elsewhere, served = 0, set[int](), dict[str, int]()
    while (listed := _next_ready(log, elsewhere, served)) is not None:
        with _claimed(log, listed) as waiting:
            if waiting is None:
                elsewhere.add(listed.id)
            else:
                if waiting.asked.first_sha256:
                    after = with_first(log, waiting)
                    elsewhere.add(listed.id)
                    with suppress(*_MEANWHILE):
                        say_of_waiting(log, after, was=waiting)
                    continue
                count += 1
                _measure_one(log, waiting)
    return count


def _next_ready(
    log: Log, elsewhere: Container[int], served: dict[str, int]
) -> WaitingPhoto | None:
    """Return the photo to be measured next, but for those another process has.

    It is the oldest of whoever was served least; `served` is kept up to date. Who comes
    later begins where the others are.
    """
    ready = (one for one in list_waiting(log) if one.state == READY)
    left = [one for one in ready if one.id not in elsewhere]
    # The second photo of a pair waits for its first.
    left = [one for one in left if not one.asked.first_sha256] or left
    if not left:
        return None
    givers = {one.asked.giver for one in left}
    least = min((served[giver] for giver in givers & served.keys()), default=0)
    for giver in givers:
        served.setdefault(giver, least)
    found = min(left, key=lambda one: (served[one.asked.giver], one.id))
    served[found.asked.giver] += 1
    return found


def _measure_one(log: Log, waiting: WaitingPhoto) -> None:
    made: list[int] = []
    found = _tried(partial(_measured, made=made), log, waiting)
    try:
        say_of_waiting(log, found, was=waiting)
    except _MEANWHILE:
        # Then it is not wanted; but what another process saved is not this one's.
        for reading_id in made:
            drop_unclaimed(log, reading_id)


def start(log: Log) -> None:
    """Look at what was given and measure what is ready, in the background.

    Once at a time for each log.
    """
    with _LOCK:
        if is_working(log):
            return
        thread = threading.Thread(
            target=_work, args=(log,), daemon=True, name="photo queue"
        )
        _THREADS[log.url] = thread
        thread.start()


def _work(log: Log) -> None:
    try:
        look(log)
        measure_ready(log)
    except StruckfaceError:
        _LOGGER.exception("Waiting photos could not be worked on")


def is_working(log: Log) -> bool:
    """Tell whether photos of this log are being looked at or measured."""
    thread = _THREADS.get(log.url)
    return thread is not None and thread.is_alive()


def _measured(log: Log, waiting: WaitingPhoto, *, made: list[int]) -> WaitingPhoto:
    """Measure and save; what was saved here and now is added to `made`."""
    if waiting.piece_id is None:
        msg = f"{waiting.name} has no piece: choose one."
        raise NotInLogError(msg)
    photo, _, view, scale, areas = opened(log, waiting)
    outline = waiting.asked.outline
    face = Face(
        outline_px=None if outline is None else row_col(outline),
        left_out_px=tuple(row_col(area) for area in areas),
        view=view,
    )
    settings = settings_of_form(
        form_of_piece(log, waiting.piece_id), has_scale=scale is not None
    )
    second = _second_file(log, waiting)
    if second is None:
        reading, _ = measure(photo, scale=scale, face=face, settings=settings)
    else:
        reading, _ = measure_pair(
            photo, second[1], scale=scale, face=face, settings=settings
        )
    # Begun again after a cut, it is the same save; given again, it is another.
    asked: tuple[object, ...] = (waiting.asked.giving, waiting.asked.stage, outline)
    if second is not None:
        asked = (*asked, second[1].sha256)
    token = digest(repr((waiting.sha256, waiting.piece_id, *asked)).encode())
    saved = save_reading(
        log,
        piece_id=waiting.piece_id,
        photo_bytes=photo_bytes(log, waiting.sha256),
        photo=photo,
        reading=reading,
        # The word is in the logs that exist: another would save their photos twice.
        save_token=f"evening {token}",
        use=PhotoUse(stage=waiting.asked.stage),
        second=second,
    )
    if not saved.already_saved:
        made.append(saved.id)
    return replace(waiting, state=DONE, reading_id=saved.id)


def _second_file(log: Log, waiting: WaitingPhoto) -> tuple[bytes, Photo] | None:
    """Return the second file of a pair with what it shows; None for one photo."""
    sha256 = waiting.asked.second_sha256
    if not sha256:
        return None
    data = photo_bytes(log, sha256)
    return data, read_photo(data)
