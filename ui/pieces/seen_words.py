"""Words about marks that the eye sees on a face."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.vibration.words.doses import seconds

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.services.marks_seen import OverVibrated

SEEN = "Seen on the face beside the voids"
NOT_COUNTED = "Never part of the void area. More words: Records, Words."
WHICH = "Which streaks are which?"
# Drawing in ui/pictures, and what it shows.
STREAKS = (
    ("streaks_leak.svg", "Leak streaks: they start at a joint or a gap."),
    ("streaks_bleed.svg", "Bleed streaks: up the face, away from the joints."),
)


def over_vibrated_line(found: Sequence[OverVibrated]) -> str:
    """Say where marks of too much vibration were seen.

    Examples
    --------
    >>> from analysis.services.marks_seen import OverVibrated
    >>> over_vibrated_line([OverVibrated(seconds=120.0, pieces=3, of=17)])
    'Marks of too much vibration were seen: at 120 s on 3 of 17 pieces.'
    """
    parts = [
        f"at {'a time not known' if one.seconds is None else seconds(one.seconds)} "
        f"on {one.pieces} of {one.of} pieces"
        for one in found
    ]
    return f"Marks of too much vibration were seen: {', '.join(parts)}."
