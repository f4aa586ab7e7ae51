"""Words of the first page and of the example workshop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.writing import day
from ui import words

if TYPE_CHECKING:
    from analysis.services.overview import Overview, PourToday

HOME = "Home"
WHAT_FOR = (
    "Photograph a struck concrete face: Struckface finds its bugholes, tells you what "
    "share of the face they take, and learns with each pour what makes your finish "
    "better."
)
PICTURE_ALT = (
    "A concrete face with every bughole outlined, and beside it the answer: 1.84 % "
    "void area"
)
MEASURE = "Measure a face"
LOG_POUR = "Log a pour"
TODAY = "Poured today"
WAITING = "Photos waiting"
OUTSIDE = "Outside the finish target"
FORMS = "Forms that need work"
DRIFT = "Drift"
TRIALS = "Trials under way"
NEXT = "What to cast next"
SEE = "See these pieces"
SEE_MORE = "See those with more voids"
SEE_LESS = "See those with fewer voids"
NOTHING_PRESSES = "Nothing presses: no photo waits, and no form needs work."


def pour_line(found: PourToday) -> str:
    """Say what a pour of today has come to.

    Examples
    --------
    >>> from datetime import date
    >>> from analysis.model.log import Pour
    >>> from analysis.services.overview import PourToday
    >>> pour = Pour(name="12", cast_on=date(2026, 3, 31))
    >>> pour_line(PourToday(pour=pour, pieces=6, measured=2))
    'Pour 12: 6 pieces, 2 of them measured'
    >>> pour_line(PourToday(pour=pour, pieces=1, measured=1))
    'Pour 12: 1 piece, measured'
    """
    pieces = f"{found.pieces} piece{'' if found.pieces == 1 else 's'}"
    if not found.pieces:
        measured = ""
    elif found.pieces == 1:
        measured = ", measured" if found.measured else ", not measured yet"
    elif found.measured == found.pieces:
        measured = ", all measured"
    else:
        measured = f", {found.measured or 'none'} of them measured"
    return f"{words.POUR} {found.pour.name}: {pieces}{measured}"


def waiting_line(found: Overview) -> str:
    """Say how many photos wait, and for whom; empty where none does."""
    parts = []
    if found.to_check:
        parts.append(f"{found.to_check} to be checked by you")
    if found.to_measure:
        parts.append(f"{found.to_measure} to be measured")
    if found.failed:
        parts.append(f"{found.failed} in trouble")
    return ", ".join(parts)


def outside_line(found: Overview) -> str:
    """Say how many pieces of late are outside their target; empty where none is."""
    if found.lately is None or not (found.above or found.below):
        return ""
    many = found.lately_measured
    pieces = f"{many} piece{'' if many == 1 else 's'} cast since {day(found.lately)}"
    parts = [
        f"{count} {'has' if count == 1 else 'have'} {which} voids than the target"
        for count, which in ((found.above, "more"), (found.below, "fewer"))
        if count
    ]
    return f"Of {pieces}, {' and '.join(parts)}."


NAME = "Example workshop"
STRIP = "Invented, and kept apart from your log."
BACK = "Back to my log"
OFFER = "Nothing to see yet? Look around an invented workshop."
OFFER_ALWAYS = (
    "An invented workshop, kept apart from your log: nine forms, 26 pours, photos and "
    "things to find on every page."
)
OPEN = "Open the example workshop"
TOUR = "What to find in it"
TO_FIND = {
    "compare": "Do sealed joints help?",
    "batches": "Is the finish drifting?",
    "forms": "Is a form wearing out?",
    "vibration": "Is more vibration needed?",
    "plan": "What to cast next to know?",
}
