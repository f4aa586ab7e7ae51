"""Words of the page that says whether it is vibration."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.services.vibration_questions import USUAL_HIGH
from analysis.vibration.words.notes import note_words

if TYPE_CHECKING:
    from analysis.model.vibration import VibrationAnswer, VibrationQuestion

VIBRATION = "More vibration?"

# the question
FORM_TYPE = "Form type"
METHOD = "Vibrated by"
WANTED = "Finish wanted"
TYPED = "Type it in"
LOW = "Least void area, %"
HIGH = "Most void area, %"
DOSE = "Counted in"
DOSES = {"seconds": "Seconds", "strokes": "Strokes", "passes": "Passes"}
NOWS = {dose: f"{name} used now" for dose, name in DOSES.items()}
NOW_HELP = "Left blank: as in the latest pour."
NOT_KNOWN_HIGH = 100 * USUAL_HIGH

# the chart
NOW = "now"
SUGGESTED = "suggested"
NOW_AND_SUGGESTED = "now, and suggested"

# the answer
RESTS_ON = "What this is based on"
NEXT = "Next"
PLAN_IT = "Plan it for your forms"
TOO_MUCH = "Too much, if you see"
BEFORE = "Before you vibrate"
CHARTS = {dose: f"Void area against {dose}" for dose in DOSES}
CHART_KEY = (
    "Points are pieces. The line is what to expect if you cast as you do now; the band "
    "is 95 % sure. Dashed: the finish you want."
)
CHEAPEST = "What is cheapest?"
CHEAPEST_WHY = (
    "More vibration and sealing take minutes; so does mending voids. This sets one "
    "against the other, by what you logged."
)
CHEAPEST_TYPE = "Type what an hour of work costs."
PER_HOUR = "An hour of work costs"
LOST_PER_SECOND = "Lost when a piece is sold as a second"
REFINISH_MINUTES = "Refinishing a form takes, minutes"
AXES = {"seconds": "Vibration, seconds", "strokes": "Strokes", "passes": "Passes"}
AXIS_SHARE = "Void area, %"
PIECE = "Piece"
POUR = "Pour"


def rests_on(answer: VibrationAnswer) -> tuple[str, ...]:
    """Say how many pieces an answer rests on, and what was left out."""
    pieces = len(answer.pieces.piece)
    if not pieces:
        return ()
    pours = len(set(answer.pieces.pour.tolist()))
    head = f"{pieces} {'piece' if pieces == 1 else 'pieces'} in {pours} "
    head += "pour." if pours == 1 else "pours."
    return (head, *map(note_words, answer.rests_on))


def assumed_line(question: VibrationQuestion) -> str:
    """Say that the finish is the page's own, until one is chosen.

    Examples
    --------
    >>> from analysis.model.vibration import VibrationQuestion
    >>> asked = VibrationQuestion(
    ...     form_type="pot", method="table", target_low=0.0, target_high=USUAL_HIGH
    ... )
    >>> assumed_line(asked)
    'For up to 0.6 % void area, which nobody set yet: say below which finish you want.'
    """
    if question.product_line or question.target_high != USUAL_HIGH:
        return ""
    band = band_line(question.target_low, question.target_high)
    return (
        f"For {band[0].lower()}{band[1:]}, which nobody set yet: say below which "
        "finish you want."
    )


def band_line(low: float, high: float) -> str:
    """Say a finish target of shares 0..1.

    Examples
    --------
    >>> band_line(0.0, 0.006), band_line(0.01, 0.04)
    ('Up to 0.6 % void area', '1 to 4 % void area')
    """
    if low > 0:
        return f"{100 * low:g} to {100 * high:g} % void area"
    return f"Up to {100 * high:g} % void area"
