"""Voids by size on an area, with exact Poisson bounds.

A face is a sample of what the workshop casts: the count on it is held against a rule
for 1 or 10 m² by its rate, and the fewer voids were counted, the wider the interval.
Voids in clusters vary more than this tells.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import gamma

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.reading import Reading

MM2_PER_M2 = 1e6


def rate_bounds(
    count: NDArray[np.int64], chance: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return the mean that a Poisson count may come from, at given chances.

    Below one half it follows the lower bound of Garwood (1936), above it the upper, so
    that chances of 0.025 and 0.975 give his exact 95 % interval.

    Parameters
    ----------
    count : ndarray of int64, (n,)
        Counted, 0 or more.
    chance : ndarray of float64, (n,)
        0..1, both ends outside.

    Returns
    -------
    ndarray of float64, (n,)
        Expected counts.

    Examples
    --------
    >>> rate_bounds(np.array([3, 3]), np.array([0.025, 0.975])).round(3).tolist()
    [0.619, 8.767]
    """
    # Quantiles of a gamma law of shape n bound the mean from below, of n + 1 from above
    # (a Poisson count is n or more where the n-th event of a process came in time).
    shape = count + (chance >= 0.5)  # noqa: PLR2004  the median parts the bounds
    at_least_one = np.maximum(shape, 1)
    found: NDArray[np.float64] = np.where(
        shape > 0, gamma.ppf(chance, at_least_one), 0.0
    )
    return found


def count_in(
    reading: Reading,
    size_mm: tuple[float, float],
    times: NDArray[np.float64],
) -> NDArray[np.int64]:
    """Count the voids of a size outside honeycomb, had all areas been off by a factor.

    Parameters
    ----------
    reading : Reading
        With a scale; without one nothing is counted.
    size_mm : tuple of float
        Diameters of equal area: the lower end counts, the upper does not.
    times : ndarray of float64, (n,)
        True area over measured area.

    Returns
    -------
    ndarray of int64, (n,)
    """
    if reading.scale is None:
        return np.zeros(len(times), dtype=np.int64)
    outside = reading.voids.kind != "honeycomb"
    diameter = reading.voids.equivalent_diameter_px[outside] * reading.scale.mm_per_px
    sizes = np.sort(diameter)
    # Areas off by a factor move diameters by its root. The limits are moved instead, so
    # that all draws are two searches in one sorted column.
    wider = np.sqrt(times)
    low, high = size_mm
    first = np.searchsorted(sizes, low / wider, "left")
    end = np.searchsorted(sizes, high / wider, "left")
    return np.asarray(end - first, dtype=np.int64)


def area_m2(readings: Sequence[Reading]) -> float:
    """Return the measured area of readings with a scale, m²."""
    known = (one.summary.face_area_mm2 for one in readings)
    return sum(size for size in known if size is not None) / MM2_PER_M2
