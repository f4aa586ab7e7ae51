"""How many steps a training takes: so many as told, or as fit into a time."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterator

# Steps before the pace is taken, and those that it is taken by.
BEFORE, PACED = 60, 240


def steps_of(steps: int | None, seconds: float) -> Iterator[tuple[float, int | None]]:
    """Yield at each step which part of the training is done, and its steps in all.

    The part is 0 up to where the pace is known, also if the steps are told: a run by
    time is made again by its number of steps.

    Parameters
    ----------
    steps : int or None
        None: as many as fit into `seconds`, by the pace of the first 300.
    seconds : float

    Examples
    --------
    >>> [part for part, _ in steps_of(2, 0.0)]
    [0.0, 0.0]
    """
    began = paced = time.monotonic()
    step = 0
    while steps is None or step < steps:
        known = steps is not None and step >= BEFORE + PACED
        yield (step / steps if steps is not None and known else 0.0), steps
        step += 1
        if step == BEFORE:
            paced = time.monotonic()
        if steps is None and step == BEFORE + PACED:
            now = time.monotonic()
            left = seconds - (now - began)
            steps = step + max(0, int(left * PACED / (now - paced)))
