"""Words of where the voids sit, why, and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.diagnosis.pattern_words import evidence_words
from analysis.model.sizes import rounded

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.services.diagnosis import Diagnosis

WHERE = "Where the voids sit"
NOTHING = "No pattern: the voids are scattered."
FEW = "Too few voids to see a pattern."
NO_SCALE = "This map needs a scale: measure the photo again with one."
WHY = "What may have caused it"
REPAIR = "Leave or fill?"
TELL = "How to tell"
DO = "What to do"
SOURCE = "Source"
LICENSED = "Lifting points, and anything that carries load, are for licensed people."
POOLED = "Where the voids sit on all faces of this form"
FACE = "Face"
FEWEST = 8
NO_UP = (
    "Nobody marked which way was up in the form, so top and bottom are not compared."
)
SURE = {"likely": "Likely", "possible": "Possible"}
DEEP_ONE = (
    "1 void is wider than 10 mm and left out: such voids have any shape, so measure "
    "how deep it is."
)


def lifting_line(heavy: Mapping[str, float], ideal_kg: float) -> str:
    """Say which full forms are too heavy for one even at best.

    Examples
    --------
    >>> lifting_line({"Trough A": 52.8}, 23.0).partition(". ")[0]
    'Concrete in Trough A: about 53 kg, form not counted'
    """
    weights = ", ".join(f"{name}: about {kg:.0f} kg" for name, kg in heavy.items())
    return (
        f"Concrete in {weights}, form not counted. That is more than an ideal lift "
        f"starts from ({ideal_kg:g} kg): two people or a hoist."
    )


def said(found: Diagnosis) -> list[str]:
    """Say what stands out, the weightiest first."""
    if found.named:
        return [evidence_words(one.evidence) for one in found.named]
    return [FEW if found.placement.voids < FEWEST else NOTHING]


def thirds_line(thirds: tuple[float, float, float] | None) -> str:
    """Say the voids per m² by height.

    Examples
    --------
    >>> thirds_line((900.0, 1000.0, 2100.0))
    'Voids per m²: 2,100 in the top third as cast, 1,000 in the middle, 900 in the \
bottom third.'
    """
    if thirds is None:
        return NO_UP
    low, middle, high = thirds
    return (
        f"Voids per m²: {high:,.0f} in the top third as cast, {middle:,.0f} in the "
        f"middle, {low:,.0f} in the bottom third."
    )


def faces_line(faces: int, voids: int) -> str:
    """Say what a pooled map rests on.

    Examples
    --------
    >>> faces_line(1, 40)
    '1 face, 40 voids.'
    """
    return f"{faces} {'face' if faces == 1 else 'faces'}, {voids:,} voids."


def filler_line(cm3: float) -> str:
    """Say how much filler, as an upper guess.

    Examples
    --------
    >>> filler_line(12.3).partition(". ")[0]
    'The voids take about 12 cm³ of filler'
    """
    return (
        f"The voids take about {rounded(cm3, 2)} cm³ of filler. Mix more: most of a "
        f"rub coat comes off again."
    )


def deep_line(count: int) -> str:
    """Say that deep voids are to be measured."""
    if count == 1:
        return DEEP_ONE
    return (
        f"{count} voids are wider than 10 mm and left out: such voids have any shape, "
        f"so measure how deep they are."
    )
