"""What stands out in where the voids lie, as sentences."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from analysis.model.notes import say
from analysis.model.sizes import rounded

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from analysis.model.notes import Note

# Above it the number says no more than that it is large.
_MOST_TIMES = 50
_PLACES: Final = MappingProxyType(
    {
        "under_slope": "Under the slope there is",
        "beside_insert": "Beside inserts there is",
        "more_at_top": "In the top third as cast there is",
    }
)


def evidence_words(evidence: Note) -> str:
    """Say the evidence of a named pattern.

    Examples
    --------
    >>> from analysis.model.notes import note
    >>> evidence_words(note("zone_above_face", zone="under_slope", ratio=2.0))
    'Under the slope there is 2 times the void area of the rest of the face.'
    """
    return say(evidence, EVIDENCE_WORDS)


def _honeycomb(share: float, joint: str) -> str:
    at = f", most of it at joint {joint}" if joint else ""
    return f"About {rounded(100 * share, 2)} % of the face looks like honeycomb{at}."


def _joint(joint: str, ratio: float, stretch: float) -> str:
    return (
        f"Joint {joint} has {_times(ratio)} the void area of the open face, along "
        f"{100 * stretch:.0f} % of its length."
    )


def _sand(share: float, joint: str) -> str:
    place = f"joint {joint}" if joint else "the joints"
    return f"Bare sand lies along {100 * share:.0f} % of {place}: paste ran out there."


def _bunched(ratio: float) -> str:
    return (
        "Voids are bunched together: from each to the next it is only "
        f"{ratio:.2g} of the distance that scattered voids have."
    )


def _zone(zone: str, ratio: float) -> str:
    place = _PLACES[zone]
    return f"{place} {_times(ratio)} the void area of the rest of the face."


def _times(ratio: float) -> str:
    return "many times" if ratio > _MOST_TIMES else f"{ratio:.2g} times"


EVIDENCE_WORDS: Final[Mapping[str, str | Callable[..., str]]] = MappingProxyType(
    {
        "honeycomb": _honeycomb,
        "joint_above_face": _joint,
        "bare_sand": _sand,
        "zone_above_face": _zone,
        "bunched": _bunched,
    }
)
