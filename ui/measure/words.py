"""Words of scale and face: how the size is known, what is marked on the photo."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.flags import FLAG_WORDS

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.flags import Flag

# scale
SCALE_WAYS = {
    "taps": "Ruler",
    "corners": "Width and height",
    "sheet": "Sheet or card",
    "round": "Round piece",
    "typed": "mm per px",
    "none": "None",
}
FOUR_CORNERS = "Tap the four corners of the face. The view is then straightened."
CORNERS = "Four corners"
FOUR_MISSING = "Mark four corners, then type width and height."
WIDTH = "Width of the face"
HEIGHT = "Height of the face"
SHEET_FOUND = "The sheet or card is found and the view straightened."
CHECK = "What a ruler says of the sheet's 150 mm line, mm (blank: not checked)"
PRINT_SHEET = "Print the sheet (PDF)"
ROUND = (
    "Tap the piece's left and right edge at the top, then at the bottom: four taps. "
    "The strip that faces the camera is unrolled."
)
SHEET_LEFT_OUT = "It is left out of the face."
ROUND_EDGES = "Edges of the round piece"
ROUND_MISSING = "Mark the four edges, then type the diameters."
TOP_DIAMETER = "Diameter at the top"
BOTTOM_DIAMETER = "Diameter at the bottom (blank: the same)"
DISTANCE = "Camera to the nearest side (blank: not known)"
STRIP = "Measured is the strip within 45 degrees of the middle."

# face
SAME_CORNERS = "The same corners"
WHOLE_STRIP = "The whole strip"
PROPOSE = "Propose an outline"
UP = "Which side was up in the form?"
UPS = {"top": "Top", "right": "Right", "bottom": "Bottom", "left": "Left"}
LIKE_BEFORE = "Marks of an earlier photo"
FORM = "Form, to bring back marks of an earlier photo"
USE_MARKS = "Mark as last time in"
FACE_NAME = "Name of the face (blank: the only one)"

# more marks
MARK_WHAT = "Mark"
MARKS = {
    "left_out": "Left-out area",
    "joint": "Joint line",
    "sloped": "Part under a slope",
}
TAP_MARK = {
    "left_out": "Tap around a tie hole, drain hole, ruler, label or hand.",
    "joint": "Tap along where the form's joint met the face.",
    "sloped": "Tap around the part that was cast under a slope.",
}
JOINT_NAME = "Which joint"
KEEP_MARK = "Keep this mark"
ON_PHOTO = "Mark on the photo"
SLOPED = "Parts under a slope, one a line"
BAND = "Joint band, mm to each side"

# before measuring
LOOK_FINE = "Light, sharpness and size look fine."
LOOKS = "Before you measure"


def looks(flags: Iterable[Flag]) -> list[str]:
    """Say what is doubtful about a photo, with what to do.

    Examples
    --------
    >>> looks([])
    []
    """
    return [f"{FLAG_WORDS[flag][0]} {FLAG_WORDS[flag][1]}" for flag in flags]
