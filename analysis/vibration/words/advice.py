"""What to look at in the fresh mix, and what to mend before the seconds."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.compare.level_words import level_words
from analysis.model.field_words import cell_words, column_words
from analysis.vibration.words.doses import WORDS, by_hand

if TYPE_CHECKING:
    from analysis.model.vibration import Dose, FirstCause

# Ahmed and Punkki 2024, Materials 17:2306: bubbles rose throughout and all specimens
# segregated, so "until no bubbles rise" is no stop. Streaks and a paste-rich top:
# trade articles on bleeding and over-vibration.
OVER_SIGNS = (
    "A wet layer of paste, or standing water, on top.",
    "Stones at the bottom of a test piece that you break or cut.",
    "Streaks of sand or water marks up the face.",
    "Dark lines or leaks along joints that were tight at shorter times.",
    "Bubbles that still rise are no reason to go on: they rise until the stones sink.",
)
SQUEEZE = (
    "Squeeze a handful: it should hold together and wet the glove. If it crumbles it "
    "is too stiff; if it runs it needs hardly any vibration."
)
WATCH_JOINTS = (
    "Watch the joints while you fill: if water comes out, seal that leak first."
)
LOOK_AT = (
    "Look at the release agent and how thin the film is, the joints, the mix and the "
    "form face. Change one at a time, with the same vibration."
)
_REMEDIES = {
    "joint_band_percent": "Seal and clamp the joints",
    "honeycomb_percent": "Use a mix that can be worked, in thinner layers",
    "form_use": "Refinish or replace the worn forms",
}


def checks(method: str) -> tuple[str, ...]:
    """Return what to look at in the fresh mix, before and while it is vibrated.

    Layers: USDA farm concrete (at most 6 in). Signs of enough: US Army manual EN5466
    (a mortar line at the form, stones sunk, paste at the head). Squeezing a handful is
    common practice.

    Examples
    --------
    >>> len(checks("table"))
    5
    """
    enough = (
        "Stop when the top is level, the stones have just sunk in and a thin line of "
        "mortar shows along the form."
    )
    if by_hand(method):
        enough = (
            "Rod each layer into the one below and along the faces until the rod "
            "leaves no hole."
        )
    return (
        SQUEEZE,
        "Fill in layers of at most 150 mm and work each one.",
        WATCH_JOINTS,
        "Wipe the release agent until there are no drops or runs.",
        enough,
    )


def remedy(cause: FirstCause, dose: Dose) -> str:
    """Say what to do about a cause.

    Examples
    --------
    >>> from analysis.model.vibration import FirstCause
    >>> remedy(FirstCause(name="release_agent", better="wax", worse="oil"), "seconds")
    'Change the release agent to wax, then look at the time again.'
    """
    done = _REMEDIES.get(cause.name)
    if done is None:
        done = f"Change the {column_words(cause.name)}"
        done += f" to {cell_words(cause.name, cause.better)}" if cause.better else ""
        if cause.name == "joint_sealing":
            done = f"Cast with {level_words(cause.name, cause.better)}"
    return f"{done}, then look at {WORDS[dose].now} again."
