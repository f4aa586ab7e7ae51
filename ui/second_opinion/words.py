"""Words of the second opinion."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.writing import day, percent

if TYPE_CHECKING:
    from analysis.model.point_count import CountFigure, PointCount
    from analysis.model.reading import Share
    from analysis.services.point_count import Needed
    from analysis.services.training_set import TrainingSet

SECOND_OPINION = "Second opinion"
WHY = (
    "Figures that decide money should be checked by something that owes nothing to "
    "the measuring: points counted by eye, or the same face measured again by someone "
    "else."
)
WHAT = "What to do"
WAYS = {
    "points": "Count points",
    "again": "Measure again",
    "shop": "Shop study",
    "training": "Training set",
}
NOTHING = "Nothing is measured yet. Measure a face first, then check it here."
WHICH_PIECE = "Piece"
WHICH_READING = "Reading"
WHO = "Who counts (a name or a word)"

# Counting points
POINTS_WHAT = (
    "A grid is laid over the face and points of it are drawn by lot (ASTM E562). You "
    "say of each point whether it lies in a void, on the edge of one (half a point) or "
    "on sound concrete. What the measuring found is not shown."
)
KIND = "Grid"
COUNT_KINDS = {"even": "Even over the face", "candidates": "Finer where spots are"}
KIND_SAYS = {
    "even": "Every place of the face has the same chance. It needs many points.",
    "candidates": (
        "A fine grid over the small squares where the search saw any spot, counted or "
        "not, and a coarse one over the rest; both are weighed by their area. The "
        "estimate is right whatever the search missed or mistook. How many points it "
        "needs is reckoned as if a tenth of the voids had been missed: if more were, "
        "the interval comes out wider, not wrong."
    ),
}
HOW_MANY = "Points"
MANY = {"100": "100", "400": "400", "1600": "1,600"}
DRAW = "Draw the points"
RING = "The ring in the corner is as large as the smallest void that counts."
FINISH_ALL = "Finish the count"
FINISH_EARLY = "Finish with the fields counted so far"
EARLY = (
    "Stop because time is up, never because the figure pleases: fields come in an "
    "order drawn by lot, so that any number of them is a fair sample."
)
TAKE_OUT = "Delete this count"
ANOTHER = "Count again with another lot"
COUNTER_LABEL = "Point to be counted: V void, E edge, S sound, Backspace goes back."
NEXT_FIELD = "Next field ..."


def where(field: int, fields: int, points: int) -> str:
    """Say which point it is; the counter puts the number in."""
    return f"Point % of {points:,}, field {field} of {fields}"


def needed(need: Needed) -> str:
    """Say how many points a count of this face needs."""
    part = f"{100 * need.precision:.0f} %"
    said = (
        f"To be within {part} of the share, 19 times out of 20, about "
        f"{_round(need.even)} points of an even grid are needed for a face like this"
    )
    if need.within is None or need.elsewhere is None:
        return f"{said}. Fewer points find only gross errors."
    return (
        f"{said}, or about {_round(need.within + need.elsewhere)} with a finer grid "
        f"where spots are ({_round(need.within)} there, {_round(need.elsewhere)} "
        "elsewhere). "
        "Fewer points find only gross errors."
    )


def _round(count: int) -> str:
    """Write a number of points with two digits."""
    size = 10 ** max(0, len(str(count)) - 2)
    return f"{-(-count // size) * size:,}"


def share(figure: CountFigure) -> str:
    """Say the share with the interval to use."""
    return (
        f"{percent(figure.share)} % of the points lie in voids "
        f"(95 % sure between {percent(figure.low)} and {percent(figure.high)} %)."
    )


def by_formula(figure: CountFigure) -> str:
    """Say the standard's own interval, and why it may not be the one to use."""
    hits = f"{figure.hits:g} of {figure.points:,} points in {figure.fields} fields"
    if figure.standard_low is None or figure.standard_high is None:
        return f"{hits}. The standard's formula needs two fields or more."
    exact = (
        ""
        if figure.relative_accuracy is None
        else f", give or take {100 * figure.relative_accuracy:.0f} % of it"
    )
    said = (
        f"{hits}. By the standard's formula: between {percent(figure.standard_low)} "
        f"and {percent(figure.standard_high)} %{exact}."
    )
    if not figure.few:
        return said
    return (
        f"{said} With fewer than 20 voids hit in a part of the face that formula "
        "claims too much; the interval above is the one for few hits."
    )


def agreement(verdict: str, figure: CountFigure, reading: Share) -> str:
    """Say whether the count and the reading agree."""
    told = (
        f"The reading says {percent(reading.value)} % "
        f"({percent(reading.low)} to {percent(reading.high)} %)."
    )
    return {
        "agrees": f"{told} The count agrees with it.",
        "count_higher": (
            f"{told} The count finds more: look for voids without an outline, or "
            "outlines drawn too tight, and review the reading."
        ),
        "count_lower": (
            f"{told} The count finds less: look for outlines around stains or grains, "
            "or drawn too wide, and review the reading."
        ),
        "too_few": (
            f"{told} The count does not contradict it, but so few points leave room "
            f"for anything up to {percent(figure.high)} %."
        ),
    }[verdict]


def counted(count: PointCount, figure: CountFigure | None) -> str:
    """Say who counted, when, and what came out."""
    if figure is None:
        return f"{counted_by(count)}: not finished."
    return f"{counted_by(count)}: {share(figure)}"


def counted_by(count: PointCount) -> str:
    """Say who counted, and when."""
    when = day((count.finished_at or count.drawn_at).date())
    return f"Counted by {count.who}, {when}"


def lot(count: PointCount) -> str:
    """Say what the lot was drawn with."""
    return (
        f"Drawn by lot on {day(count.drawn_at.date())} with seed {count.plan.seed}, "
        f"before the first tap; {count.plan.point_count:,} points in "
        f"{len(count.plan.fields)} fields."
    )


# Training set
TRAINING_WHAT = (
    "Photos that you reviewed void by void teach the finding of voids what your faces "
    "look like. Here they are put into one file, for whoever trains it."
)
NOTHING_LEAVES = (
    "Nothing leaves this machine by itself. The file is made only when you agree "
    "below, and it goes where you save it and to whom you give it. It holds photos and "
    "outlines; no names of pieces, pours, forms, customers or reviewers, and not where "
    "or when a photo was taken."
)
NOTHING_REVIEWED = (
    "No photo is reviewed yet. Open a piece, review it void by void and save it first."
)
WHO_AGREES = "Who agrees (a name or a word; it is written into the file)"
MAKE_SET = "Make the file"
SAVE_SET = "Save the file"


def reviewed_photos(count: int) -> str:
    """Say how many photos there are."""
    return "1 reviewed photo." if count == 1 else f"{count:,} reviewed photos."


def made(file: TrainingSet) -> str:
    """Say what is in the file."""
    return (
        f"{reviewed_photos(file.photos)[:-1]}, {file.voids:,} voids and "
        f"{file.turned_down:,} spots that were turned down; "
        f"{len(file.data) / 1e6:.1f} MB."
    )
