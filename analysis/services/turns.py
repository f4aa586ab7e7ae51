"""One line for heavy work, so that many photos at once do not fill the memory.

Whoever measures takes a place in line. As many work at a time as there are cores, and
only so many megapixels as half of the memory holds; a photo larger than that works
alone. The first in line is never passed by.
"""

from __future__ import annotations

import os
import threading
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

# Peak of measuring over its photo, tests/benchmarks/memory.py: 27 to 39 bytes a px.
BYTES_PER_PX = 40
_USUAL_BYTES = 4_000_000_000
_SHARE_OF_MEMORY = 0.5
_LEAST_MEGAPIXELS = 12.0
_LOOK_S = 0.3
_CGROUP = Path("/sys/fs/cgroup/memory.max")

_CHANGED = threading.Condition()
_LINE: list[object] = []
_AT_WORK: dict[object, float] = {}
_MINE = threading.local()


@contextmanager
def turn(
    megapixels: float, tell: Callable[[float, str], None] | None = None
) -> Iterator[None]:
    """Wait for a turn and work for as long as the block lasts.

    Inside a turn another one is had at once: it is the same work.

    Parameters
    ----------
    megapixels : float
        Of the photo that is worked on, more than 0.
    tell : callable, optional
        Told 0.0 and the place in line while waiting; what it raises gives the place
        up, which is how waiting is called off.

    Examples
    --------
    >>> with turn(12.0):
    ...     len(_AT_WORK)
    1
    """
    if getattr(_MINE, "working", False):
        yield
        return
    place = object()
    try:
        _wait(place, megapixels, tell)
        _MINE.working = True
        yield
    finally:
        _MINE.working = False
        with _CHANGED:
            _AT_WORK.pop(place, None)
            with suppress(ValueError):
                _LINE.remove(place)
            _CHANGED.notify_all()


def _wait(
    place: object, megapixels: float, tell: Callable[[float, str], None] | None
) -> None:
    with _CHANGED:
        _LINE.append(place)
    while True:
        with _CHANGED:
            ahead = _LINE.index(place)
            if not ahead and _has_room(megapixels):
                _LINE.remove(place)
                _AT_WORK[place] = megapixels
                _CHANGED.notify_all()
                return
        # Told outside the lock: it may take its time, or call off.
        if tell is not None:
            tell(0.0, waiting_words(ahead))
        with _CHANGED:
            _CHANGED.wait(_LOOK_S)


def waiting_words(ahead: int) -> str:
    """Say how many are before one in line.

    Examples
    --------
    >>> waiting_words(0), waiting_words(2)
    ('Waiting: next in line', 'Waiting: 2 photos before this one')
    """
    if not ahead:
        return "Waiting: next in line"
    return f"Waiting: {ahead} photo{'s' if ahead > 1 else ''} before this one"


def _has_room(megapixels: float) -> bool:
    if not _AT_WORK:
        return True
    room = budget_megapixels() - sum(_AT_WORK.values())
    return len(_AT_WORK) < (os.cpu_count() or 1) and megapixels <= room


def budget_megapixels() -> float:
    """Return how many megapixels may be worked on at a time.

    Examples
    --------
    >>> budget_megapixels() >= 12
    True
    """
    share = memory_bytes() * _SHARE_OF_MEMORY
    return max(share / BYTES_PER_PX / 1e6, _LEAST_MEGAPIXELS)


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
