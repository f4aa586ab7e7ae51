"""Words of scale and face: how the size is known, what is marked on the photo."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.flags import FLAG_WORDS
from analysis.services.faces import face_sentence

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.flags import Flag
    from analysis.model.face_proposal import FaceProposal
    from analysis.model.photo import Photo, Scale

# scale
SCALE_WAYS = {
    "taps": "Ruler",
    "corners": "Width and height",
    "sheet": "Sheet or card",
    "round": "Round piece",
    "typed": "mm per px",
    "none": "None",
}
FOUR_CORNERS = "Tap the four corners of the face. The photo is then straightened."
CORNERS = "Four corners"
FOUR_MISSING = "Mark the four corners, then type width and height."
SHEET_MISSING = "Put the sheet or a card into the photo, or choose another way."
SCALE_REFUSED = "The scale cannot be used as it is: see above."
SHEET_MORE = "Print the sheet, or check its print"
WIDTH = "Width of the face"
HEIGHT = "Height of the face"
SHEET_FOUND = "Sheet or card found. The photo is straightened."
CHECK = "The sheet's 150 mm line by a ruler, mm (blank: not checked)"
PRINT_SHEET = "Print the sheet (PDF)"
ROUND = (
    "Tap the left and right edge of the piece at the top, then at the bottom: four "
    "taps. The strip that faces the camera is rolled out flat."
)
SHEET_LEFT_OUT = "It is left out of the face."
ROUND_EDGES = "Edges of the round piece"
ROUND_MISSING = "Mark the four edges, then type the diameters."
TOP_DIAMETER = "Diameter at the top"
BOTTOM_DIAMETER = "Diameter at the bottom (blank: the same)"
DISTANCE = "Camera to the nearest side (blank: from the lens, if the photo tells it)"
STRIP = "Only the strip within 45 degrees of the middle is measured."

# steps
STEP = "Step"
STEPS = {"face": "Face", "scale": "Scale", "result": "Result", "save": "Save"}
CHOOSE = "Choose photo"
TAKE = "Take photo"
SAME_PIECE = "Another photo of piece"
GO_ON = "Go on: scale"
LOOK_AT_FACE = "Look at the face"
SHOW_RESULT = "Show the result"
CHANGE = "Change"
NEXT = "Next photo"
SAVED_WITH = "What it was saved with"
FACE_REFUSED = "The outline cannot be used as it is."
VOIDS_SHOWN = "Voids outlined"

# face
FACE_NOT_YET = "The face as it was found has not been looked at yet."
FOUND_RIGHT = "Right"
FOUND_FIX = "Fix"
FOUND_ALL = "The photo holds nothing but face"
FOUND_MISSING = "Look at the outline, then say whether it is right."
FOUND_UNSURE = "Hardly sure here: look closely, or fix it."
SAME_CORNERS = "The same corners"
WHOLE_STRIP = "The whole strip"
PROPOSE = "Propose an outline"
UP = "Which side was up in the form?"
UPS = {"top": "Top", "right": "Right", "bottom": "Bottom", "left": "Left"}
FORM = "Form, to reuse the marks of an earlier photo"
USE_MARKS = "Mark as last time in"
FACE_NAME = "Name of the face (blank: the only one)"

# kind of face
KIND = "Kind of face"
KIND_BY_PHOTO = "As the photo shows"
PITCH = "From flute to flute, mm (blank: as the photo shows)"
DEPTH = "Depth of the flutes, mm (blank: not known)"
KIND_CHANGED = "Changed for this photo alone; the form keeps its own."

# more marks
MARK_WHAT = "Mark"
OUTLINE = "outline"
MARKS = {
    OUTLINE: "Outline",
    "left_out": "Leave out",
    "joint": "Joint",
    "sloped": "Slope",
    "up": "Up",
}
REMOVE = "Delete"
TAP_MARK = {
    "left_out": "Tap around a tie hole, drain hole, ruler, label or hand.",
    "joint": "Tap along the line where the form's joint met the face.",
    "sloped": "Tap around the part that was cast under a slope.",
    "up": "Tap near the side that was up in the form.",
}
JOINT_NAME = "Which joint"
KEEP_MARK = "Keep this mark"
SLOPED = "Parts under a slope, one to a line"
BAND = "Joint band, mm on each side"

# before measuring
LOOK_FINE = "Light, sharpness and size look fine."


def found_line(found: FaceProposal) -> str:
    """Say what of the photo was taken for face.

    Examples
    --------
    >>> import numpy as np
    >>> from analysis.model.face_proposal import FaceProposal
    >>> frame = np.array([[0.0, 0.0], [0.0, 9.0], [9.0, 9.0]])
    >>> found_line(
    ...     FaceProposal(
    ...         outline_px=frame, left_out_px=(), sure=0.9, face_share=0.4, whole=False
    ...     )
    ... )
    'The face takes 40 % of the photo.'
    """
    return face_sentence(found).partition(";")[0].rstrip(".") + "."


def kind_line(form: str, kind: str) -> str:
    """Say where the kind of face is from.

    Examples
    --------
    >>> kind_line("Column 2", "Ribbed or fluted")
    'Form Column 2 says: ribbed or fluted.'
    """
    return f"Form {form} says: {kind.lower()}."


def shows_line(shown: Photo, scale: Scale, unit: str = "mm") -> str:
    """Say how much of the piece the photo shows.

    Examples
    --------
    >>> from types import SimpleNamespace as Given
    >>> photo = Given(width_px=2800, height_px=2100, view=None)
    >>> shows_line(photo, Given(mm_per_px=0.2)), shows_line(
    ...     photo, Given(mm_per_px=0.2), "inch"
    ... )
    ('The photo shows 560 x 420 mm.', 'The photo shows 22 x 16.5 in.')
    """
    sides = [side * scale.mm_per_px for side in (shown.width_px, shown.height_px)]
    is_strip = shown.view is not None and shown.view.kind == "unrolled"
    what = "The strip" if is_strip else "The photo"
    if unit == "inch":
        inches = " x ".join(f"{round(side / 25.4 * 2) / 2:g}" for side in sides)
        return f"{what} shows {inches} in."
    digits = " x ".join(f"{float(f'{side:.3g}'):g}" for side in sides)
    return f"{what} shows {digits} mm."


def looks(flags: Iterable[Flag]) -> list[str]:
    """Say what is doubtful about a photo, with what to do.

    Examples
    --------
    >>> looks([])
    []
    """
    return [f"{FLAG_WORDS[flag][0]} {FLAG_WORDS[flag][1]}" for flag in flags]
