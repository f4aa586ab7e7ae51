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
RUB_COAT = (
    "Rub coat: 1 part cement to 2 of fine sand (under 0.6 mm) by volume, as thick as "
    "paint. Rub it off when it turns pale, and keep the face damp for 3 days."
)
WHITE_CEMENT = (
    "To match the colour, take 2 to 5 % of the cement as white cement. Try it on a "
    "hidden spot first."
)
SOON = (
    "Fill soon after striking: a US guide specification wants all repairs done within "
    "48 hours."
)
RECIPES = (
    (SOON, "USACE UFGS 03301A, 3.4.3"),
    (RUB_COAT, "USACE UFGS 03301A, grout-cleaned finish; damp curing: one source"),
    (WHITE_CEMENT, "civil4m.com, sack-rubbed finish (one source)"),
)


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
    count = len(seen)
    if not count:
        advice = (
            f"Leave them: none is {seen_mm:.2g} mm wide, and single patches often look "
            f"worse than the voids did."
        )
    else:
        many = "1 void" if count == 1 else f"{count} voids"
        advice = (
            f"{many} of {seen_mm:.2g} mm or more will show from {view_m:g} m. Fill "
            f"them, or rub the whole face. Single patches often look worse than the "
            f"voids did: try a hidden spot first."
        )
    return RepairNote(
        advice=advice,
        filler_cm3=filler_cm3(usual),
        deep_voids=deep,
        recipes=RECIPES if count else (),
    )
