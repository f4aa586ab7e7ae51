"""All words on the screens."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from analysis.model import writing
from analysis.model.writing import day
from analysis.vocabulary import MIXED, NONE, NOT_APPLICABLE

if TYPE_CHECKING:
    from datetime import date, datetime

    from analysis.model.log import Piece, Pour
    from analysis.model.log_views import Casting, CastingName
    from analysis.model.workshop import Form

NAME = "Struckface"
MEASURE = "Measure a face"
PIECES = "Pours and pieces"
GUIDE = "Guide"

# photo
SAMPLES = "No photo at hand? Take a drawn sample"
SAMPLES_HINT = (
    "Drawn faces of an invented workshop. Scale and outline are already marked."
)
CHANGE_PHOTO = "Take another photo"
KNOWN_PHOTO = "This photo is already in the log, with piece"


def next_photo(waiting: int) -> str:
    """Name the button that takes the next photo.

    Examples
    --------
    >>> next_photo(1), next_photo(3)
    ('Next photo (1 waits)', 'Next photo (3 wait)')
    """
    return f"Next photo ({waiting} {'waits' if waiting == 1 else 'wait'})"


def left_too_soon(page: str) -> str:
    """Say that a press was not done, because its page was left.

    Examples
    --------
    >>> left_too_soon("Forms")
    "You left 'Forms' before your press was done: go back and press again."
    """
    return f"You left '{page}' before your press was done: go back and press again."


# scale
STEP_SCALE = "Scale"
SCALE_QUESTION = "How the size is known"
TAP_RULER = "Tap two marks on the ruler, as far apart as you can."
DISTANCE = "Between the two marks"
UNIT = "Unit"
UNITS_MM = {"mm": 1.0, "inch": 25.4}
UNITS_SHORT = {"mm": "mm", "inch": "in"}
MM_PER_PX = "mm per px"
TWO_POINTS_MISSING = "Mark two points on the ruler, then type how far apart they are."
DISTANCE_MISSING = "Type the distance between the two marks."
MM_PER_PX_MISSING = "Type how many mm one pixel of the photo covers."
NO_SCALE = (
    "Without a scale there are no sizes in mm, only the share of the face, and this "
    "reading cannot be compared with others."
)

# face
STEP_FACE = "Face"
FACE_QUESTION = "What is the face?"
FACE_WAYS = {
    "found": "As found",
    "corners": "Tap its corners",
    "whole": "Whole photo",
}
TAP_CORNERS = "Tap the corners of the face in order, three or more."
CORNERS_MISSING = "Mark at least three corners, or take the whole photo."
TYPE_POINTS = "Type the points instead"
POINTS_EXAMPLE = "160,1080 1160,1080"
AREA_EXAMPLE = "300,200 340,200 340,240"
POINTS_HELP = "x,y x,y in px of the photo, from its top left corner"
RULER_POINTS = "Points on the ruler"
CORNER_POINTS = "Corners of the face"
MORE = "Joints, areas to leave out, up, smallest void"
JOINTS = "Joint lines, one to a line"
LEFT_OUT = "Areas to leave out, one to a line"
LEFT_OUT_HELP = "Tie hole, ruler, hand: corners as x,y x,y x,y"
SMALLEST = "Smallest counted void, mm"
SMALLEST_HELP = "Blank: the larger of 0.5 mm and 4 px"

# measure
LOOKING = "Reading the photo"
MEASURE_NOW = "Measure"
STALE = "You changed something above after measuring: measure again."
STARTING = "Starting"
STOP = "Stop"

# result
STEP_RESULT = "Result"
OVERLAY = "Counted voids"
PHOTO = "Photo"
VOIDS = "Voids counted"
LARGEST = {"mm": "Largest, mm", "inch": "Largest, in"}
PER_AREA = {"mm": "Voids per m²", "inch": "Voids per sq ft"}
LENGTHS_IN = "Lengths in"
VOID_TABLE = "All voids, largest first"
REJECTED = "Not counted"
REJECTED_HINT = "Spots that were looked at and not counted, with the reason."
HOW = "How it was measured"
KINDS = {
    "pinhole": "pinhole",
    "bughole": "bughole",
    "large_void": "large void",
    "honeycomb": "in honeycomb",
}
INCH_COLUMNS = {
    "Diameter, mm": "Diameter, in",
    "Longest, mm": "Longest, in",
    "Area, mm²": "Area, in²",
}
COLUMNS = {
    "kind": "Kind",
    "equivalent_diameter_mm": "Diameter, mm",
    "feret_max_mm": "Longest, mm",
    "area_mm2": "Area, mm²",
    "x": "x, px",
    "y": "y, px",
    "flags": "Doubts",
}
REJECTED_COLUMNS = {"reason": "Why not", "x": "x, px", "y": "y, px", "area": "Area, px"}

# save
STEP_SAVE = "Save"
WHICH_PIECE = "Which piece is it?"
PIECE_WAYS = {"new": "A new piece", "known": "One in the log"}
PIECE = "Piece"
PIECE_NAME = "Piece name or number"
POUR = "Pour"
POUR_NAME = "Pour name or number"
CAST_ON = "Cast on"
FORM = "Form"
FORM_NAME = "Form name"
FORM_TYPE = "Form type"
NEW_FORM = "New form"
NEW_POUR = "New pour"
NO_FORM = "Not known"
UNKNOWN = "Not known"
SEALING = "Joint sealing"
SEALING_NONE = "None, joints left open"
SEALING_NOT_APPLICABLE = "Form has no joints"
METHOD = "Vibration method"
METHOD_NONE = "None"
SECONDS = "Vibration, seconds"
SECONDS_HELP = "Blank: not known"
STAGE = "Stage"
STAGES = {
    "as_struck": "As struck",
    "brushed": "Brushed",
    "ground": "Ground",
    "polished": "Polished",
    "filled": "Filled",
    "surface_sealed": "Surface-sealed",
}
PURPOSE = "What the photo shows"
PURPOSES = {
    "representative": "An ordinary part of the face",
    "worst_spot": "The worst spot",
    "show": "A view for showing",
    "relief": "A relief",
}
SURFACE = "Surface in the photo"
SURFACES = {"": "Not known", "dry": "Dry", "damp": "Damp", "wet": "Wet"}
SET_UP = "Place and light"
AGE = "Hours since striking (blank: not known)"
ADD_WORD = "Choose, or type your own"
CHOOSE = "Choose"
PIECE_MISSING = "Choose a piece, or make a new one."
FORM_MISSING = "Choose a form, or 'Not known'."
POUR_MISSING = "Choose a pour, or make a new one."
SAVE = "Save"
SAVED = "Saved."
ABOUT_PHOTO = "About the photo: stage, dry or damp, place and light"


def new_piece_line(piece: str, form: str, pour: str, *, new_pour: bool) -> str:
    """Say what a new piece will be saved as.

    Examples
    --------
    >>> new_piece_line("8", "Trough A", "12", new_pour=True)
    'New piece 8, Trough A, new pour 12'
    >>> new_piece_line("8", "", "12 (2026-03-31)", new_pour=False)
    'New piece 8, pour 12 (2026-03-31)'
    >>> new_piece_line("", "Trough A", " ", new_pour=True)
    'New piece without a name, Trough A, new pour without a name'
    """
    piece, pour = (name if name.strip() else "without a name" for name in (piece, pour))
    of = f"{'new pour' if new_pour else 'pour'} {pour}"
    return ", ".join([f"New piece {piece}", *([form] if form else []), of])


ALREADY_SAVED = "Already saved."
OPEN_SAVED = "Open the piece"

# the log
READING_LOG = "Reading the log"
OPENING_EXAMPLE = "Opening the example workshop"
NOT_MEASURED = "No measured piece is logged yet."
NOTHING_LEFT = "No piece fits all of these: choose fewer."
BACKUPS = "Backups"

# pieces
READ_ONLY = "The log is open for reading only."
EMPTY_LOG = "Nothing is logged yet."
EMPTY_LOG_NEXT = (
    "Photograph a struck face, measure it and save it. The piece is then listed here."
)
BACK = "All pieces"
BEFORE = "Before"
AFTER = "Next"
NO_READING = "No reading yet"
NO_ORDINARY = "No reading of an ordinary part yet"
READINGS = "Readings"
MEASURE_THIS = "Measure a face of this piece"
MEASURED = "Measured"
METHOD_VERSION = "Method version"
BLANK = "not known"


def literal(text: object) -> str:
    r"""Escape what a user wrote, so that markdown shows it as written.

    Examples
    --------
    >>> literal("oil $4 *new*")
    'oil \\$4 \\*new\\*'
    """
    one_line = " ".join(str(text).split())
    # Emoji names, addresses of pages and of mail are found after escapes are undone; an
    # invisible joiner parts them.
    parted = re.sub(r":(?=[-+\w]+:|//)", ":\u2060", one_line)
    parted = re.sub(r"(?i)(?<=www)(?=\.)|(?<=[-.\w+])(?=@[-\w]+\.)", "\u2060", parted)
    return re.sub(r"([!-/:-@\[-`{-~])", r"\\\1", parted)


def when(moment: datetime) -> str:
    """Write a moment in the machine's own time."""
    return writing.moment(moment.astimezone())


def word(value: str | None, none: str = METHOD_NONE) -> str:
    """Write a word of the log: not known, none and not applicable apart."""
    plain = {None: BLANK, NONE: none.lower(), NOT_APPLICABLE: NOT_APPLICABLE}
    return plain.get(value) or ("mixed" if value == MIXED else str(value))


def place_of(place: int, count: int) -> str:
    """Say where something stands in a list.

    Examples
    --------
    >>> place_of(3, 1221)
    '3 of 1,221'
    """
    return f"{place:,} of {count:,}"


def casting_name(casting: Casting) -> str:
    """Name a piece in a list."""
    return _piece_of(casting.piece.name, casting.pour.name, casting.pour.cast_on)


def casting_called(name: CastingName) -> str:
    """Name a piece in a list, where nothing else of it was read."""
    return _piece_of(name.piece, name.pour, name.cast_on)


def _piece_of(piece: str, pour: str, cast_on: date) -> str:
    return f"{piece}, pour {pour} ({day(cast_on)})"


def piece_in_form(piece: Piece, form: str | None) -> str:
    """Name a piece with the form it came out of."""
    return piece.name if form is None else f"{piece.name}, {form}"


def pour_name(pour: Pour) -> str:
    """Name a pour in a list."""
    return f"{pour.name} ({day(pour.cast_on)})"


def piece_lines(piece: Piece) -> tuple[str, str]:
    """Say how a piece was sealed and vibrated."""
    seconds = "" if piece.vibration_s is None else f", {piece.vibration_s:g} s"
    return (
        f"Joint sealing: {word(piece.joint_sealing, SEALING_NONE)}",
        f"Vibration: {word(piece.vibration_method)}{seconds}",
    )


def form_line(form: Form, form_use: int | None) -> str:
    """Name a form, its type and which casting in it this was."""
    kind = "" if form.form_type is None else f" ({form.form_type})"
    use = "" if form_use is None else f", casting {form_use} in it"
    return f"{FORM} {form.name}{kind}{use}"
