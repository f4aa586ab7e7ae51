"""Words of photos given many at once."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from analysis.model.writing import moment

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.folder import FolderRun
    from analysis.model.waiting import WaitingPhoto

PHOTO_QUEUE = "Evening photos"
GIVE = "Give photos"
GIVE_MORE = "Give more photos"
GIVE_HINT = "All photos of the day at once, with or without cards in them."
UPLOAD = "Photos"
STAGE = "Stage of all of them"
KEEPING = "Keeping the photos"
KEPT = "Photos kept. You can close the browser: the work goes on."
LOOKING = "Looking for cards and faces"
MEASURING = "Measuring"
CHECK = "Check"
WHICH = "Which piece is it?"
WHYS = {
    "card": "Its card says so.",
    "form_card": "The form's card says so, and no other piece from it lacks a photo.",
    "time": "Taken less than five minutes after the photo before.",
    "only_one": "The only piece cast lately that has no photo.",
    "by_hand": "You chose it.",
    "unknown": "Nothing says which piece it is: choose.",
}
NO_SCALE = "No scale: without a card there is nothing in mm."
BY_HAND = "Mark it by hand"
RIGHT = "That is right"
LATER = "Later"
ASIDE = "Put aside"
FACE = "Face"
FACES = {
    "outline": "As outlined",
    "marked": "Change outline",
    "whole": "Whole photo",
}
FACES_UNKNOWN = {"marked": "Tap its corners", "whole": "Whole photo"}
FACE_LINE = "Outline of the face"
NOTHING_WAITS = "No photo waits."
RESULTS = "Measured"
FAILED = "Not measured"
CLEAR = "Clear the list"
AGAIN = "Try again"
OPEN = "Open the piece"
ALL_PHOTOS = "All photos"
STATES = {
    "given": "not looked at yet",
    "check": "to be checked",
    "ready": "ready",
    "done": "measured",
    "failed": "not measured",
}


SAME_FACE = (
    "These two look like one face with the lamp on either side. Measured together, "
    "what changes with the lamp is a void, what stays is colour."
)
RIGHT_BOTH = "Right, measure both together"
NOT_A_PAIR = "No, two photos by themselves"
LOOK_AT_ALL = "Look at each outline. What is outside it, or dashed, is not counted."


def all_right(count: int) -> str:
    """Offer to confirm all photos with a card.

    Examples
    --------
    >>> all_right(1), all_right(5)
    ('The one with a card is right', 'All 5 with a card are right')
    """
    if count == 1:
        return "The one with a card is right"
    return f"All {count} with a card are right"


def is_of(photo: str, piece: str) -> str:
    """Say which piece a photo is taken to be of.

    Examples
    --------
    >>> is_of("a.jpg", "P04")
    'Piece P04, a.jpg'
    """
    return f"Piece {piece}, {photo}"


def place(number: int, of: int) -> str:
    """Say how many are still to be checked.

    Examples
    --------
    >>> place(1, 3)
    'Photo 1 of 3'
    """
    return f"Photo {number} of {of}"


def progress(waiting: Sequence[WaitingPhoto]) -> tuple[float, str]:
    """Say how far the work is.

    Examples
    --------
    >>> progress([])
    (1.0, 'Measuring')
    """
    total = len(waiting) or 1
    given = sum(one.state == "given" for one in waiting)
    if given:
        done = total - given
        return done / total, f"{LOOKING}: {done} of {total}"
    ready = sum(one.state == "ready" for one in waiting)
    done = sum(one.state in {"done", "failed"} for one in waiting)
    both = ready + done
    if not both:
        return 1.0, MEASURING
    return done / both, f"{MEASURING}: {done} of {both}"


def folder_title(folder: str) -> str:
    """Name a folder that is measured.

    Examples
    --------
    >>> folder_title("/photos/May")
    'Folder May'
    """
    return f"Folder {Path(folder).name or folder}"


def folder_line(run: FolderRun, *, going: bool) -> str:
    """Say how far a folder is, and how long the rest will take.

    Examples
    --------
    >>> from datetime import datetime, timedelta
    >>> from analysis.model.folder import FolderRun
    >>> noon = datetime(2026, 5, 5, 12)
    >>> run = FolderRun(
    ...     folder="May",
    ...     photos=40,
    ...     measured=10,
    ...     skipped=0,
    ...     failed=0,
    ...     started_at=noon,
    ...     changed_at=noon + timedelta(minutes=2),
    ...     ended_at=None,
    ...     latest=(),
    ... )
    >>> folder_line(run, going=True)
    '10 of 40 photos, about 6 min left'
    """
    through = run.measured + run.skipped + run.failed
    text = f"{through} of {run.photos} photos"
    if run.failed:
        text += f", {run.failed} not measured"
    worked = run.measured + run.failed
    if going and worked:
        spent_s = (run.changed_at - run.started_at).total_seconds()
        left_s = max(0, run.photos - through) * spent_s / worked
        return f"{text}, about {left_s / 60:.0f} min left"
    if run.ended_at is None and not going:
        return f"{text}; it was cut off: begin it again"
    return text


def taken(waiting: WaitingPhoto) -> str:
    """Say when a photo was taken, by the camera's clock; empty where it tells none."""
    if not waiting.taken_at:
        return ""
    return moment(datetime.fromisoformat(waiting.taken_at))
