"""Words of measuring again, and of the shop study."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from analysis.model.writing import day

if TYPE_CHECKING:
    from analysis.model.gauge import (
        Cell,
        Component,
        GaugeAnswer,
        LightBias,
        Study,
        UsualSpread,
    )

FILE_KINDS = ["jpg", "jpeg", "png", "tif", "tiff", "webp", "heic", "heif"]

# Measuring again
AGAIN_WHAT = (
    "Two or more people measure the same photos again, each with an own scale, an own "
    "outline and an own look at every void, in an order drawn by lot. Nobody sees what "
    "was found before. It tells how much of a figure is the person."
)
PHOTOS = "Photos to measure again (five or more tell more)"
PEOPLE = "Who takes part: a name or a word each, one a line"
REPEATS = "How often each"
REPEAT_WAYS = {"2": "Twice", "3": "Three times"}
DRAW = "Draw the order"
I_AM = "At the screen now"
NOTHING_LEFT = "All done. Somebody else has still to measure."
KEEP_CELL = "Keep and go on"
MARK_ANEW = "Mark scale and outline anew"
MEASURE_BLIND = "Measure"
DECIDE = (
    "Look at every void: turn down what is none, add what was missed. The share is not "
    "shown; keep it when you are content."
)
SCALE = "Scale"
SCALE_WAYS = {"ruler": "Tap a ruler", "typed": "Type it"}
RULER = "Two marks on the ruler, far apart"
APART = "Distance between the marks, mm"
OUTLINE = "Face"
OUTLINE_WAYS = {"corners": "Tap its corners", "whole": "Whole photo"}
CORNERS = "Corners of the face, in order"
VIEW_STAYS = (
    "Scale and view come from what lies in the photo (card, sheet or known size) and "
    "stay as they are. Tap the face's corners anew."
)
TAKE_PHOTO = "Take the photo now"
FINISH = "Finish the study"
TAKE_OUT = "Delete this study"
NEW = "Begin another study"
TOO_FEW = (
    "Not enough is measured by everybody yet: two faces or more, each as often as "
    "drawn."
)
TOO_FEW_LIGHTS = (
    "Not enough is measured yet: three faces or more, in every light by everybody."
)
ANSWER_TABLE = ("", "Standard deviation", "95 % sure between")

# The shop study
SHOP_WHAT = (
    "A trial of your own: ten faces, photographed in three lights by two people. It "
    "tells how much more or less you read in each light than in your usual one, and "
    "how much readings of one face spread in the usual one. Old readings never change."
)
FACES = "Faces (ten are enough; three at least)"
LIGHTS = "Places and lights, one a line, the usual one first"
LIGHTS_HELP = "Write the usual one as under 'Place and light' when you save a reading."
IN_FORCE = "In force for new readings"
NONE_IN_FORCE = "Nothing is in force: new readings carry no interval of that kind."
USE = "Use it for readings from now on"
DROP = "Put out of force"
FROM_REPEATS = "From repeated photos of one face in your log"
LIGHT_TABLE = ("Light", "Against the usual one", "95 % sure between", "As measured")


def next_one(cell: Cell, name: str, *, shop: bool) -> str:
    """Say what is to be measured now."""
    if shop:
        return f"Now: piece {name}, in this light: {cell.light}."
    return f"Now: piece {name}."


def progress(done: int, wanted: int) -> str:
    """Say how far a person is."""
    return f"{done} of {wanted} measured."


def drawn(study: Study) -> str:
    """Say when the order was drawn, and with what."""
    plan = study.plan
    return (
        f"Order drawn by lot on {day(study.drawn_at.date())} with seed {plan.seed}: "
        f"{len(plan.items)} faces, {len(plan.people)} people, "
        f"{len(plan.order)} measurings, {len(study.measured)} done."
    )


def answer_rows(answer: GaugeAnswer) -> list[tuple[str, str, str]]:
    """Lay out the components as rows."""
    named = (
        ("The same person again (repeatability)", answer.repeatability),
        ("Between people (reproducibility)", answer.reproducibility),
        ("Both together", answer.gauge),
        ("Between the faces", answer.part),
    )
    return [(name, *_sure(one)) for name, one in named]


def _sure(one: Component) -> tuple[str, str]:
    value, low, high = one.percent
    return f"{value:.1f} % of the share", f"{low:.1f} and {_most(high)} %"


def _most(percent: float) -> str:
    """Write a large upper end as what it is: not known."""
    return "more than 1,000" if percent > 1000 else f"{percent:.1f}"  # noqa: PLR2004  says nothing


def answer_note(answer: GaugeAnswer, people: tuple[str, ...]) -> str:
    """Say who reads higher, and how little a few people tell."""
    means = answer.person_means
    high, low = max(means), min(means)
    apart = 100 * (math.exp(high - low) - 1)
    said = (
        f"{answer.parts} faces, {answer.repeats} times by each of {answer.people} "
        f"people. {people[means.index(high)]} reads {apart:.1f} % more than "
        f"{people[means.index(low)]}."
    )
    if answer.people < 3:  # noqa: PLR2004
        said += (
            " Two people tell little about others: the upper end between people is "
            "wide."
        )
    return said


def light_rows(lights: tuple[LightBias, ...]) -> list[tuple[str, str, str, str]]:
    """Lay out the biases between lights as rows."""
    return [
        (
            one.light,
            _ratio(one.value),
            f"{_ratio(one.low)} and {_ratio(one.high)}",
            _ratio(one.raw),
        )
        for one in lights
    ]


def _ratio(value: float) -> str:
    return f"{100 * (math.exp(value) - 1):+.1f} %"


def usual(spread: UsualSpread) -> str:
    """Say the spread in the usual set-up."""
    basis = {
        "study": "from a shop study",
        "repeats": "from repeated photos of one face",
    }[spread.basis]
    made = "" if spread.made_at is None else f" of {day(spread.made_at.date())}"
    return (
        f"{spread.set_up}: readings of one face spread by {100 * spread.spread:.0f} % "
        f"(standard deviation; {basis}{made}, {spread.degrees:.0f} degrees of freedom, "
        f"drawn towards 12 %, the general value; version {spread.method_version} of "
        "the method)."
    )
