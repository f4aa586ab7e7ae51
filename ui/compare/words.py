"""Words of the page that compares."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.compare.level_words import first_large, level_words
from analysis.compare.note_words import note_words
from analysis.compare.tangled import alias_words, cure_words
from analysis.fields import column_field
from analysis.model.sizes import rounded

if TYPE_CHECKING:
    from analysis.model.comparison import Comparison, PairResult
    from analysis.planning.cost_benefit import CostBenefit
    from analysis.services.comparisons import TypicalPiece

COMPARE = "Compare"
EMPTY_NEXT = (
    "Measure struck faces and save each with its pour and how you made it. It takes 4 "
    "pours of each kind, or 3 pours with both, to get an answer."
)

# what is asked
FACTOR = "What did you do differently?"
OUTCOME = "What should it change?"
PAIR = "Which two"
WHICH_PIECES = "Which pieces"
FORM_TYPE = "Form type"
LINE = "Product line"
STAGE = "Stage"
ANY = "All"
ANY_NONE = "Nothing"
EARLIEST = "Earliest photos of each piece"
FROM_DAY = "Cast from"
TO_DAY = "Cast up to"
WITHIN = "Compare only within the same"
ADJUST = "Take out the effect of"

# the chart
HOW_TO_READ = "Each point is a piece, each line a pour. Bars: the usual value of each."
PAIRED = (
    "Each point is a piece; a line joins the two kinds of one pour. Bars: the usual "
    "value of each."
)
PALE = "Pale points are left out."
SHOW_LEFT_OUT = "Show the pieces left out"
ZEROS = "none"
PIECE = "Piece"
POUR = "Pour"
NOT_USED = "left out"
USED = "counted"
CHART = "Chart"

# what stands behind it
FIGURES = "The figures"
RESTS_ON = "What this is based on"
MISLEAD = "What could be misleading"
NO_DOUBT = "Nothing in the log speaks against it."
NEEDED = "What is still needed"
METHOD = "How it was worked out"
ALL_PAIRS = "All pairs"

# side by side
LOOKS = "A typical piece of each"
NO_LOOKS = (
    "No photo with a scale yet. Measure a face of each kind with a scale to see them "
    "side by side."
)

# the same for me
SAME = "Is it the same for me?"
BAND = "Smaller differences than this do not matter to me (times)"
BAND_HELP = "1.25 means 0.80 to 1.25 times"

# worth
COST_BENEFIT_SEALING = "Is sealing worth it?"
COST_BENEFIT = "Is it worth it?"
COST_BENEFIT_MINUTES = "Extra minutes a piece"
COST_BENEFIT_MATERIAL = "Extra material a piece, money"
COST_BENEFIT_HOUR = "An hour of work costs"
COST_BENEFIT_SECOND = "Lost when a piece is sold as a second"
COST_BENEFIT_TYPE = "Type the extra minutes and what an hour of work costs."
COST_BENEFIT_NOTE = (
    "Log the repair minutes, or which pieces sold as seconds. After 4 pours of each "
    "kind this tells you what sealing saves."
)
COST_BENEFIT_VERDICTS = {
    "worth_it": "It pays",
    "not_worth_it": "It does not pay",
    "not_clear": "Not clear yet",
}

# joints of one piece
JOINTS = "Sealed against open joints of one piece"
JOINTS_WHY = "The sharpest comparison: same mix, same pour, same form, same hands."
JOINTS_ASK = "Work it out"
JOINTS_NEXT = (
    "Leave one joint of each of the next pieces open, taking turns. Name the joints "
    "when you log the pour and when you mark the face."
)

# to take away


def level(by: str, name: str) -> str:
    """Name a level in a chart or a list.

    Examples
    --------
    >>> level("joints_sealed", "yes"), level("mix", "C25"), level("vibration_s", "60")
    ('sealed joints', 'C25', '60')
    """
    said = level_words(by, name)
    return said if said in {"sealed joints", "open joints"} else name


def pair_choice(by: str, pair: PairResult) -> str:
    """Name two levels in a list."""
    return " against ".join(level(by, name) for name in pair.levels)


def rests_on(comparison: Comparison, pair: PairResult) -> list[str]:
    """Say what was counted, and what was left out or compared apart."""
    first, second = pair.groups
    units = {
        "pour": "Pours are counted, not pieces: pieces of one pour share its luck.",
        "form": "Forms are counted: each was cast one way only, in the same pours.",
        "joint within piece": "Joints of the same piece are compared.",
    }
    lines = [
        units.get(pair.unit, "Pieces of the same pour are compared, pour by pour.")
    ]
    lines += [
        f"Usual with {level(comparison.by, group.name)}: "
        f"{rounded(group.geometric_mean, 3)} {_unit(comparison.outcome)}."
        for group in (first, second)
        if group.geometric_mean is not None
    ]
    lines += [
        f"In {stratum.name} alone: {stratum.ratio:.2f} times "
        f"({stratum.n_pours[0]} pours against {stratum.n_pours[1]})."
        for stratum in pair.strata
    ]
    return [*lines, *map(note_words, (*pair.rests_on, *comparison.notes))]


def misleading(pair: PairResult) -> list[str]:
    """Say what could mislead."""
    return [*map(alias_words, pair.aliases), *map(note_words, pair.misleading)]


def needed(pair: PairResult) -> list[str]:
    """Say what is to do next; the casting that separates where nothing else is."""
    if pair.needed is not None:
        return [note_words(pair.needed)]
    return [cure_words(alias) for alias in pair.aliases]


def why(pair: PairResult) -> list[str]:
    """Say why there is no other verdict."""
    return [note_words(one) for one in pair.why]


def cost_benefit_lines(found: CostBenefit) -> list[str]:
    """Say what it gains, and what that comes from."""
    start = f"{COST_BENEFIT_VERDICTS[found.verdict]}: {found.gain:+.2f} a piece"
    if found.gain_low is not None and found.gain_high is not None:
        start += f", 95 % {found.gain_low:+.2f} to {found.gain_high:+.2f}"
    lines = [f"{start}; {found.n_pours[0]} pours against {found.n_pours[1]}."]
    if found.repair_minutes_saved is not None:
        lines.append(f"Repair: {-found.repair_minutes_saved:+.1f} minutes a piece.")
    if found.seconds_saved is not None:
        lines.append(
            f"Sold as seconds: {-100 * found.seconds_saved:+.0f} in 100 pieces."
        )
    return lines


def cost_benefit_about(by: str, pair: PairResult) -> str:
    """Say what the gain is about."""
    first, second = (level(by, name) for name in pair.levels)
    return f"What {first} saves over {second}, its own cost taken off."


def method_line(pair: PairResult) -> str:
    """Say how ratio, interval and p were got."""
    p = "" if pair.p_value is None else f" p = {rounded(pair.p_value, 3)}."
    return f"{first_large(note_words(pair.method))}.{p}"


def look_line(by: str, look: TypicalPiece) -> str:
    """Name a typical piece."""
    return f"{level(by, look.level)}: piece {look.piece}"


def side_line(side_mm: float) -> str:
    """Say how much each picture shows."""
    return f"Each picture shows {side_mm:.0f} x {side_mm:.0f} mm of the face."


def _unit(outcome: str) -> str:
    if outcome.endswith("_percent"):
        return "%"
    return {"largest_void_mm": "mm", "repair_minutes": "minutes"}.get(outcome, "per m²")


def outcome(name: str) -> str:
    """Name an outcome in a list.

    Examples
    --------
    >>> outcome("void_area_percent")
    'Void area'
    """
    found = column_field(name)
    return found.factor if found is not None else name
