"""Times a person with a watch can keep."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

STEPS = ((20.0, 1.0), (90.0, 5.0), (300.0, 15.0), (1800.0, 60.0), (np.inf, 300.0))
FEWEST = 5


def nice_times(
    low: float, high: float, current: float, *, whole: bool = False
) -> NDArray[np.float64]:
    """Return round times between two ends, the present one among them.

    Parameters
    ----------
    low, high : float
        Shortest and longest, s, both included.
    current : float
        Used now, s; left out where it lies outside.
    whole : bool
        Strokes and passes come in whole numbers.

    Returns
    -------
    ndarray of float64, (m,)
        Rising; one at least.

    Examples
    --------
    >>> nice_times(15, 40, 22).tolist()
    [15.0, 16.0, 17.0, 18.0, 19.0, 20.0, 22.0, 25.0, 30.0, 35.0, 40.0]
    >>> nice_times(0.5, 1.75, 1).tolist()
    [0.5, 0.8125, 1.0, 1.125, 1.4375, 1.75]
    >>> nice_times(1, 3.5, 2, whole=True).tolist()
    [1.0, 2.0, 3.0]
    """
    parts, start = [], 0.0
    for end, step in STEPS:
        top = min(end, high)
        if top <= start:
            break
        # Half a step more, as arange leaves its end out; what overshoots is cut below.
        parts.append(np.arange(start, top + step / 2, step))
        start = end
    times = np.unique(np.concatenate(parts)) if parts else np.zeros(1)
    times = times[(times >= low) & (times <= high)]
    if len(times) < FEWEST:
        times = np.linspace(low, high, FEWEST)
    if whole:
        times = np.rint(times)
        times = times[(times >= low) & (times <= high) & (times > 0)]
    if low <= current <= high or not len(times):
        times = np.concatenate([times, [current]])
    return np.unique(times)
