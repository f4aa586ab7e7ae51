"""Doubts about a measured face that its voids themselves raise."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.flags import Flag

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Scale
    from analysis.voids.segmentation import Segmentation

_BLURRED_EDGE_PX = 5.5
_NOISY = 0.10
_SMALL_FACE_MM2 = 2500.0
_FEWEST_PX_ACROSS = 4.0
_USUAL_SMALLEST_MM = 0.5


def finish_flags(
    found: Segmentation,
    face: NDArray[np.bool_],
    scale: Scale | None,
    smallest_mm: float | None,
) -> frozenset[Flag]:
    """Collect the doubts about a finished segmentation.

    Parameters
    ----------
    found : Segmentation
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    scale : Scale or None
    smallest_mm : float or None
        Smallest size asked for, if any.

    Returns
    -------
    frozenset of Flag
    """
    doubts = {
        Flag.NOTHING_FOUND: len(found.voids) == 0,
        Flag.BLURRED: found.blur_px > _BLURRED_EDGE_PX,
        Flag.NOISY: found.noise > _NOISY,
        Flag.HONEYCOMB_PRESENT: bool(found.honeycomb.any()),
        Flag.NO_SCALE: scale is None,
    }
    if scale is not None:
        wanted = smallest_mm or _USUAL_SMALLEST_MM
        area_mm2 = np.count_nonzero(face) * scale.mm_per_px**2
        doubts[Flag.SMALL_FACE] = area_mm2 < _SMALL_FACE_MM2
        doubts[Flag.LOW_RESOLUTION] = wanted < _FEWEST_PX_ACROSS * scale.mm_per_px
    return frozenset(flag for flag, holds in doubts.items() if holds)
