"""Leave or fill, and how much filler the voids take."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import number
from analysis.model.diagnosis import RepairNote

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Blowholes under about 10 mm are near hemispheres, larger ones irregular: Cement
# Concrete and Aggregates Australia 2008. V = A d / 3 follows from pi d^3 / 12.
HEMISPHERE_MM = 10.0
# At arm's length a spot of 1 mm is seen, at 3 m about 3 mm: one minute of arc is the
# usual limit of the eye (common practice), ten times as much catches it.
SEEN_RAD = 10 / 60 * np.pi / 180
LEAVE_BELOW_MM = 3.0


def filler_cm3(diameter_mm: NDArray[np.float64]) -> float:
    """Return the volume of voids as hemispheres, without waste.

    Parameters
    ----------
    diameter_mm : ndarray of float64, (n,)
        Equivalent diameters.

    Examples
    --------
    >>> round(filler_cm3(np.array([10.0])), 4)
    0.2618
    """
    area = np.pi / 4 * diameter_mm**2
    return float((area * diameter_mm / 3).sum()) / 1000


def repair_note(diameter_mm: NDArray[np.float64], *, view_m: float = 1.0) -> RepairNote:
    """Say whether to leave or fill the voids of a face.

    Parameters
    ----------
    diameter_mm : ndarray of float64, (n,)
        Equivalent diameters of the counted voids.
    view_m : float
        Distance from which the piece will be looked at, m, more than 0.

    Raises
    ------
    InputError
        No distance.

    Examples
    --------
    >>> repair_note(np.array([2.0, 14.0])).deep_voids
    1
    """
    number(view_m, "Distance of view", above=0, high=1000, unit="m")
    seen_mm = max(LEAVE_BELOW_MM, 1000 * view_m * SEEN_RAD)
    seen = diameter_mm[diameter_mm >= seen_mm]
    deep = int(np.count_nonzero(diameter_mm > HEMISPHERE_MM))
    usual = seen[seen <= HEMISPHERE_MM]
    return RepairNote(
        seen_mm=seen_mm,
        view_m=view_m,
        to_fill=len(seen),
        filler_cm3=filler_cm3(usual),
        deep_voids=deep,
    )
