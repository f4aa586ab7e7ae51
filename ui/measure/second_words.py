"""Words of the second light: why, how to stand, what came of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.pair import SecondLight

STEP = "Second light"
WHY = (
    "For grain, stains, dark or rough faces: photograph the same face again with the "
    "lamp on its other side. What changes is a void, what stays is colour."
)
HOW = "Half way up, an arm's length away: once from the left, once from the right."
STAND = "Stand as for this picture, and move the lamp only."
UPLOAD = "Photo with the lamp on the other side"
NEXT_WAITING = "Use the next photo of the upload"
MEASURE_BOTH = "Measure both"
GHOST = (
    "The second photo as you took it, over it the edges of the first in blue. All of "
    "the face must be in it, about as large as in the first: a step aside is fine."
)
CAMERA = {
    "open": "Line up over the camera",
    "take": "Take photo",
    "close": "Cancel",
    "how": (
        "Lay the blue edges of the first photo on what you see, the lamp on its other "
        "side, then take it."
    ),
    "refused": "The browser gave no picture: choose a photo below.",
}
LIVE = "second light.jpg"
ANOTHER = "Another second photo"
LAID = "The second photo laid on the first: edges must not be double."
NOTHING_TELLS = (
    "Neither photo shows a mark or a hole, so that nothing tells how they lie or where "
    "the lamps stood."
)
NONE = "Go on with one photo"


def lined_up(second: SecondLight) -> str:
    """Say how the two photos lie on each other.

    Examples
    --------
    >>> from analysis.model.pair import SecondLight
    >>> second = SecondLight(
    ...     photo_sha256="", to_second=(1, 0, 0, 0, 1, 0, 0, 0, 1), shift_px=12.3,
    ...     rotation_deg=-0.6, registration_rms_px=0.21, light_angle_deg=178.0,
    ... )
    >>> lined_up(second)
    'Moved 12 px, turned 0.6°, lined up to 0.2 px. 178° between the lamps.'
    """
    lights = (
        "No relief tells where the lamps stood."
        if second.light_angle_deg is None
        else f"{second.light_angle_deg:.0f}° between the lamps."
    )
    shift, turn, misfit = (
        second.shift_px,
        second.rotation_deg,
        second.registration_rms_px,
    )
    if shift is None or turn is None or misfit is None:
        return NOTHING_TELLS
    return (
        f"Moved {shift:.0f} px, turned {abs(turn):.1f}°, "
        f"lined up to {misfit:.1f} px. {lights}"
    )
