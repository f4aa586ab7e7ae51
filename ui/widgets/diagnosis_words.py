"""Words of where the voids sit, why, and what to do."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.services.diagnosis import Diagnosis

WHERE = "Where the voids sit"
NOTHING = "Nothing stands out: the voids lie as if strewn at random."
FEW = "Too few voids to say."
NO_SCALE = "Without a scale the map has no millimetres: measure with one."
WHY = "What may be behind it"
REPAIR = "Leave or fill?"
VIEW = "Looked at from, m"
TELL = "To tell"
DO = "Do"
SOURCE = "Source"
LICENSED = "Lifting points and what carries load are for those who are licensed for it."
POOLED = "Where the voids sit, all faces together"
FACE = "Face"
FEWEST = 8
NO_UP = "Which way was up in the form is not marked: height is not judged."
SURE = {"likely": "Likely", "possible": "Possible"}
MAP_ALT = "Map of the voids on the face"
DEEP_ONE = "1 void is wider than 10 mm: measure its depth, it is no hemisphere."


def lifting_line(heavy: Mapping[str, float], one_person_kg: float) -> str:
    """Say which full forms are too heavy for one.

    Examples
    --------
    >>> lifting_line({"Trough A": 52.8}, 23.0).partition(". ")[0]
    'Concrete in Trough A: about 53 kg, form not counted'
    """
    weights = ", ".join(f"{name}: about {kg:.0f} kg" for name, kg in heavy.items())
    return (
        f"Concrete in {weights}, form not counted. One person may lift "
        f"{one_person_kg:g} kg at best: two people or a hoist."
    )


def said(found: Diagnosis) -> list[str]:
    """Say what stands out, the weightiest first.

    Examples
    --------
    >>> said.__name__
    'said'
    """
    if found.named:
        return [one.evidence for one in found.named]
    return [FEW if found.placement.voids < FEWEST else NOTHING]


def thirds_line(thirds: tuple[float, float, float] | None) -> str:
    """Say the voids per m² by height.

    Examples
    --------
    >>> thirds_line((900.0, 1000.0, 2100.0))
    'Voids per m²: 2,100 in the upper third as cast, 1,000 in the middle, 900 low.'
    """
    if thirds is None:
        return NO_UP
    low, middle, high = thirds
    return (
        f"Voids per m²: {high:,.0f} in the upper third as cast, {middle:,.0f} in the "
        f"middle, {low:,.0f} low."
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
    >>> filler_line(0.034), filler_line(12.3)
    ('About 0.03 cm³ of filler goes in; most of a coat is rubbed off.', \
'About 12 cm³ of filler goes in; most of a coat is rubbed off.')
    """
    return f"About {cm3:.2g} cm³ of filler goes in; most of a coat is rubbed off."


def deep_line(count: int) -> str:
    """Say that deep voids are to be measured."""
    if count == 1:
        return DEEP_ONE
    return f"{count} voids are wider than 10 mm: measure their depth."
