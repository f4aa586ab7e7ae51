"""Words of the review of a reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.writing import day, percent
from ui.reading_words import how_sure, how_sure_of_all
from ui.words import literal, when

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.model.log_views import ReadingLine
    from analysis.model.reading import Summary
    from analysis.services.review import Spot

START = "Review void by void"
TITLE = "Review"
OPENING = "Reading the face again"
REASONS = {
    "stain": "Stain",
    "grain": "Grain",
    "crack": "Crack",
    "joint": "Joint",
    "tie_hole": "Tie hole",
    "shadow": "Shadow",
    "other": "Other",
}
WAYS = {"pick": "Choose", "add": "Add missed", "draw": "Draw"}
WAY = "What a tap does"
HINTS = {
    "pick": "Solid lines count, dotted ones do not. Tap one; pinch or + to zoom.",
    "add": "Tap a void that has no outline yet.",
}
OUTLINE = "If its outline is wrong:"
EDITS = {
    "pull": "Pull its points",
    "cut": "Cut in two",
    "join": "Join with another",
    "brush": "Brush",
}
EDIT_HINTS = {
    "pull": "Drag a point to where the void ends; tap to add one.",
    "cut": "Tap a point on either side of the void: it is cut along the line.",
    "brush": "Drag over the photo; zoom in first, two fingers move it.",
    "join": "Tap the outline that belongs to it.",
}
BRUSH = "The brush"
BRUSHES = {"on": "paints on", "off": "takes off"}
BRUSH_WIDE = "Width"
BRUSH_WIDTHS = {"usual": "usual", "thin": "thin", "thick": "thick"}
USE_EDIT = "Use it"
LEAVE_EDIT = "Leave it as it was"
PAINT_MISSED = "Paint a missed void"
SEEN_ALL = "I looked at the whole face, and every void and edge is as it should be"
SEEN_ALL_SAYS = (
    "What a person decided is no longer doubted as a void or none, nor is anything "
    "missed; what is left in the interval is where the edges lie."
)
DRAW_HINT = "Tap three or more points around the void, then use the outline."
NOTHING_CHOSEN = "Tap an outline to change it."
NOT_A_VOID = "If it is no void, say what it is:"
COUNT_IT = "Count it"
TAKE_DRAWN = "Use this outline"
UNDO = "Undo"
REDO = "Redo"
SIGN = "Your name or initials"
SAVE = "Save review"
LEAVE = "Leave for later"
DISCARD = "Cancel"
SAVED = "Review saved. The automatic reading stays beside it."


def spot(chosen: Spot) -> str:
    """Say what the chosen spot is and whether it counts."""
    size = (
        f"{chosen.diameter_px:.0f} px"
        if chosen.diameter_mm is None
        else f"{chosen.diameter_mm:.1f} mm"
    )
    if chosen.counted:
        return f"{size} across, {'added and ' if chosen.added else ''}counted."
    return f"{size} across, not counted ({chosen.words})."


def shares(before: Summary, after: Summary) -> str:
    """Say the share now, and from what it moved."""
    now = f"{percent(after.void_share.value)} %"
    if after.void_share.value == before.void_share.value:
        return f"{now} void area"
    return f"{now} void area, was {percent(before.void_share.value)} %"


def sure(after: Summary, *, stands_for_all: bool) -> str:
    """Say the count and both intervals; a chosen spot says nothing of what was cast."""
    told = f"{after.void_count:,} voids. {how_sure(after)}"
    return f"{told} {how_sure_of_all(after)}" if stands_for_all else told


def decisions(count: int) -> str:
    """Say how much was decided."""
    return "1 change" if count == 1 else f"{count} changes"


def signed(line: ReadingLine, lines: Iterable[ReadingLine]) -> str:
    """Say who reviewed and when, and what the automatic reading said."""
    automatic = next((one for one in lines if one.id == line.reviews_id), None)
    if line.reviewed_at is None:
        return f"Automatic reading of {when(line.measured_at)}."
    said = f"Reviewed by {line.reviewed_by} on {day(line.reviewed_at.date())}."
    if automatic is not None:
        said += (
            f" The automatic reading of {day(automatic.measured_at.date())} said "
            f"{percent(automatic.void_share)} %."
        )
    return said


def reviewed_share(reviewed: int, measured: int) -> str:
    """Say how many pieces stand on a review; empty when none does."""
    if not reviewed:
        return ""
    stand = "piece stands" if reviewed == 1 else "pieces stand"
    return literal(f"{reviewed} of {measured} {stand} on a reviewed reading.")
