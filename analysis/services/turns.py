"""One queue for heavy work, so that many phones at once do not fill the memory.

Whoever measures takes a place in the queue. As many work at a time as there are cores,
and only so many megapixels as half of the memory holds; a photo larger than that works
alone. Those who ask are served in turn, one photo each, however many photos one of them
brings; whoever is next is never passed by a smaller photo. Looking at a photo before it
is measured is short, and has a queue and a share of the memory of its own.
"""

from __future__ import annotations

import os
import threading
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.errors import BusyError
from analysis.services.kept_memory import keep_memory

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

# Peak of measuring over its photo, tests/benchmarks/memory.py: 27 to 39 bytes a px.
BYTES_PER_PX = 40
# A decoded photo that waits.
_WAITING_BYTES_PER_PX = 3
_USUAL_BYTES = 4_000_000_000
_SHARE_OF_MEMORY = 0.5
_SHARE_FOR_LOOKS = 0.15
_SHARE_FOR_WAITING = 0.15
_LEAST_MEGAPIXELS = 12.0
_LOOK_S = 0.3
_CGROUP = Path("/sys/fs/cgroup/memory.max")
_WORDS = ("next", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")


@dataclass(slots=True, eq=False)
class _Place:
    who: str
    megapixels: float


@dataclass(slots=True, eq=False)
class _Queue:
    """Who waits, in the order they are served next, and what is worked on."""

    share: float
    waiting: dict[str, list[_Place]] = field(default_factory=dict)
    at_work: set[_Place] = field(default_factory=set)


_CHANGED = threading.Condition()
_MEASURING = _Queue(_SHARE_OF_MEMORY)
_LOOKING = _Queue(_SHARE_FOR_LOOKS)
_MINE = threading.local()
_ASKED_BY: list[Callable[[], str]] = []


def told_apart_by(name: Callable[[], str]) -> None:
    """Say how those who ask are told apart: a name for whoever asks in this thread.

    Examples
    --------
    >>> told_apart_by(lambda: "")
    """
    _ASKED_BY[:] = [name]


def who_asks() -> str:
    """Return the name of whoever asks in this thread; empty where none is known.

    Examples
    --------
    >>> who_asks()
    ''
    """
    return _ASKED_BY[0]() if _ASKED_BY else ""


@contextmanager
def turn(
    megapixels: float, tell: Callable[[float, str], None] | None = None
) -> Iterator[None]:
    """Wait for a turn to measure, and work for as long as the block lasts.

    Inside a turn another one is had at once: it is the same work.

    Parameters
    ----------
    megapixels : float
        Of the photo that is worked on, more than 0.
    tell : callable, optional
        Told 0.0 and the place in the queue while waiting; what it raises gives the
        place up, which is how waiting is called off. Who is told nothing waits for as
        long as it takes.

    Raises
    ------
    BusyError
        So many photos wait that this one would not fit into the memory beside them.

    Examples
    --------
    >>> with turn(12.0):
    ...     at_work_and_waiting()
    (1, 0)
    """
    keep_memory()
    with _turn(_MEASURING, megapixels, tell):
        yield


@contextmanager
def look_turn(megapixels: float) -> Iterator[None]:
    """Wait for a turn to look at a photo, which is short; else as `turn`.

    Examples
    --------
    >>> with look_turn(12.0), turn(12.0):
    ...     at_work_and_waiting()
    (0, 0)
    """
    with _turn(_LOOKING, megapixels, None):
        yield


def at_work_and_waiting() -> tuple[int, int]:
    """Return how many photos are measured now, and how many wait.

    Examples
    --------
    >>> at_work_and_waiting()
    (0, 0)
    """
    with _CHANGED:
        return len(_MEASURING.at_work), len(_in_order(_MEASURING))


@contextmanager
def _turn(
    queue: _Queue, megapixels: float, tell: Callable[[float, str], None] | None
) -> Iterator[None]:
    if getattr(_MINE, "working", False):
        yield
        return
    place = _Place(who_asks(), megapixels)
    try:
        _wait(queue, place, tell)
        _MINE.working = True
        yield
    finally:
        _MINE.working = False
        with _CHANGED:
            queue.at_work.discard(place)
            _leave(queue, place)
            _CHANGED.notify_all()


def _wait(
    queue: _Queue, place: _Place, tell: Callable[[float, str], None] | None
) -> None:
    with _CHANGED:
        if tell is not None:
            _refuse_too_many(queue, place)
        queue.waiting.setdefault(place.who, []).append(place)
    while True:
        with _CHANGED:
            ahead = _in_order(queue).index(place)
            if not ahead and _has_room(queue, place.megapixels):
                _leave(queue, place)
                # Whoever is served goes behind all others that wait.
                more = queue.waiting.pop(place.who, None)
                if more:
                    queue.waiting[place.who] = more
                queue.at_work.add(place)
                _CHANGED.notify_all()
                return
        # Told outside the lock: it may take its time, or call off.
        if tell is not None:
            tell(0.0, waiting_words(ahead))
        with _CHANGED:
            _CHANGED.wait(_LOOK_S)


def _in_order(queue: _Queue) -> list[_Place]:
    """Return who is served in which order if nobody else comes: one of each in turn."""
    rows = tuple(queue.waiting.values())
    most = max(map(len, rows), default=0)
    return [row[place] for place in range(most) for row in rows if place < len(row)]


def _leave(queue: _Queue, place: _Place) -> None:
    """Give a place up, if it is still one."""
    row = queue.waiting.get(place.who, [])
    if place in row:
        row.remove(place)
    if not row:
        queue.waiting.pop(place.who, None)


def _refuse_too_many(queue: _Queue, place: _Place) -> None:
    waiting = _in_order(queue)
    taken = sum(one.megapixels for one in waiting) + place.megapixels
    held = taken * 1e6 * _WAITING_BYTES_PER_PX
    if waiting and held > memory_bytes() * _SHARE_FOR_WAITING:
        msg = (
            f"{len(waiting)} photos wait to be measured, and this machine's memory "
            "holds no more: try again in a minute; nothing of this one is lost."
        )
        raise BusyError(msg)


def waiting_words(ahead: int) -> str:
    """Say where in the queue one is who has so many before.

    Examples
    --------
    >>> waiting_words(2)
    'Waiting: third in the queue'
    >>> waiting_words(20)
    'Waiting: number 21 in the queue'
    """
    place = _WORDS[ahead] if ahead < len(_WORDS) else f"number {ahead + 1}"
    return f"Waiting: {place} in the queue"


def _has_room(queue: _Queue, megapixels: float) -> bool:
    if not queue.at_work:
        return True
    room = budget_megapixels(queue.share) - sum(one.megapixels for one in queue.at_work)
    return len(queue.at_work) < (os.cpu_count() or 1) and megapixels <= room


def budget_megapixels(share: float = _SHARE_OF_MEMORY) -> float:
    """Return how many megapixels may be worked on at a time in a share of the memory.

    Examples
    --------
    >>> budget_megapixels() >= 12
    True
    """
    return max(memory_bytes() * share / BYTES_PER_PX / 1e6, _LEAST_MEGAPIXELS)


def memory_bytes() -> int:
    """Return this machine's memory, or what a container is given of it.

    Examples
    --------
    >>> memory_bytes() > 100_000_000
    True
    """
    found = _USUAL_BYTES
    with suppress(AttributeError, ValueError, OSError):
        found = os.sysconf("SC_PHYS_PAGES") * os.sysconf("SC_PAGE_SIZE")
    with suppress(ValueError, OSError):
        found = min(found, int(_CGROUP.read_text(encoding="ascii")))
    return found
