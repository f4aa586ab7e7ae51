"""Honeycomb as a photo shows it: how large the largest patch is, if it is one at all.

A rough patch in a photo is not yet honeycomb: torn arrises and spots where voids
crowd look alike. On real photographs without honeycomb patches were found, and on two
with honeycomb none was. So a patch decides nothing by itself: its interval
reaches from none to its extent, until the eye has said that it is honeycomb.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.reading import Reading

# The extent found on drawn patches was 0.81 of the true one in the middle, five of
# them between 0.63 and 0.93 (accuracy benchmark, honeycomb extent).
TRUE_OVER_FOUND = 1.24
SPREAD = 0.16
# Chance that a patch is honeycomb while only the photo says so: even, since neither
# answer has been right more often on real photographs.
ONLY_SEEN_IN_PHOTO = 0.5
# Stands for honeycomb that the eye saw and no photo shows: there, of unknown extent.
_SOME_MM2 = 1.0


def patch_mm2(reading: Reading) -> float:
    """Return the extent of the largest patch of a reading, mm²; 0 without any."""
    if reading.scale is None:
        return 0.0
    mm2_per_px = reading.scale.mm_per_px**2
    sizes = (_polygon_area(line) * mm2_per_px for line in reading.honeycomb_px)
    return max(sizes, default=0.0)


def patch_draws(
    readings: Sequence[Reading],
    normal: NDArray[np.float64],
    chance: NDArray[np.float64],
    *,
    seen: bool,
) -> tuple[NDArray[np.float64], float]:
    """Return what the largest patch may measure, and its estimate, mm².

    Parameters
    ----------
    readings : sequence of Reading
        With a scale.
    normal : ndarray of float64, (n,)
        Standard normal, for the extent.
    chance : ndarray of float64, (n,)
        0..1, independent of it: whether the patch is honeycomb.
    seen : bool
        Whether the eye has seen honeycomb on the piece.

    Returns
    -------
    draws : ndarray of float64, (n,)
    estimate : float
    """
    largest = max((patch_mm2(one) for one in readings), default=0.0)
    if seen:
        largest = max(largest, _SOME_MM2)
    extent = largest * TRUE_OVER_FOUND * np.exp(SPREAD * normal)
    real = np.ones_like(chance, dtype=bool) if seen else chance < ONLY_SEEN_IN_PHOTO
    return np.where(real, extent, 0.0), largest


def _polygon_area(line: NDArray[np.float64]) -> float:
    # The shoelace formula (Gauss's area formula).
    rows, cols = line[:, 0], line[:, 1]
    return float(abs(rows @ np.roll(cols, 1) - cols @ np.roll(rows, 1)) / 2.0)
