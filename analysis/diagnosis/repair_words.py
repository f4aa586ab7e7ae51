"""Leave or fill, in words, and what to fill with."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.diagnosis import RepairNote

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


def repair_words(note: RepairNote) -> str:
    """Say whether to leave or fill the voids.

    Examples
    --------
    >>> import numpy as np
    >>> from analysis.diagnosis.repair import repair_note
    >>> repair_words(repair_note(np.array([4.0])))[:35]
    '1 void of 3 mm or more will show fr'
    """
    if not note.to_fill:
        return (
            f"Leave them: none is {note.seen_mm:.2g} mm wide, and single patches often "
            f"look worse than the voids did."
        )
    many = "1 void" if note.to_fill == 1 else f"{note.to_fill} voids"
    return (
        f"{many} of {note.seen_mm:.2g} mm or more will show from {note.view_m:g} m. "
        f"Fill them, or rub the whole face. Single patches often look worse than the "
        f"voids did: try a hidden spot first."
    )
