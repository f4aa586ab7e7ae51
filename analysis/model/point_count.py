"""A point count: what was drawn by lot before the first tap, and what was tapped."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import number, one_of, points
from analysis.errors import InputError

if TYPE_CHECKING:
    from datetime import datetime

    import numpy as np
    from numpy.typing import NDArray

# A point on a boundary is half a point (ASTM E562, 3.2.1).
ANSWERS = {"v": 1.0, "e": 0.5, "s": 0.0}
NOT_YET = "."
KINDS = ("even", "candidates")
STRATA = {"even": ("face",), "candidates": ("candidates", "others")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Stratum:
    """A part of the face with a grid of its own.

    Attributes
    ----------
    name : str
        One of `STRATA` of the plan's kind.
    weight : float
        Its share of the face, 0..1; the weights of a plan add up to 1.
    spacing_px : float
        Between neighbouring points of its grid.
    fields_to_draw_from : int
        How many fields its grid makes.
    """

    name: str
    weight: float
    spacing_px: float
    fields_to_draw_from: int

    def __post_init__(self) -> None:
        """Refuse a part that cannot be."""
        number(self.weight, "Share of a part of the face", above=0, high=1)
        number(self.spacing_px, "Spacing of the points", above=0, unit="px")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountField:
    """One field: the points that are looked at together.

    Attributes
    ----------
    stratum : int
        Place of its part of the face in the plan.
    points_px : ndarray of float64, (n, 2)
        (row, col) in the photo or its view; the same n in each field of a plan.
    """

    stratum: int
    points_px: NDArray[np.float64]

    def __post_init__(self) -> None:
        """Seal the points."""
        object.__setattr__(
            self, "points_px", points(self.points_px, "Points of a field", least=1)
        )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CountPlan:
    """All that is decided by lot, written down before the first tap.

    Attributes
    ----------
    kind : str
        One of `KINDS`: an even grid over the face, or a fine one where the search saw
        candidates and a coarse one over the rest.
    seed : int
        What the lot was drawn with.
    strata : tuple of Stratum
    fields : tuple of CountField
        In the order in which they are counted.
    void_px2 : float
        Usual area of a void by the reading, each weighed by its area; 0 if none.
    """

    kind: str
    seed: int
    strata: tuple[Stratum, ...]
    fields: tuple[CountField, ...]
    void_px2: float

    def __post_init__(self) -> None:
        """Refuse what no count can rest on."""
        one_of(self.kind, "The kind of a point count", KINDS)
        if tuple(part.name for part in self.strata) != STRATA[self.kind]:
            msg = f"A plan of kind {self.kind!r} has other parts: draw it again."
            raise InputError(msg)
        sizes = {len(field.points_px) for field in self.fields}
        if len(sizes) != 1:
            msg = (
                f"The fields of a plan hold one number of points, {sorted(sizes)} "
                "were given: draw the plan again."
            )
            raise InputError(msg)
        number(self.void_px2, "Usual area of a void", low=0, unit="px²")

    @property
    def points_per_field(self) -> int:
        """Points of each field."""
        return len(self.fields[0].points_px)

    @property
    def point_count(self) -> int:
        """Points in all."""
        return len(self.fields) * self.points_per_field


@dataclass(frozen=True, slots=True, kw_only=True)
class CountFigure:
    """What a count says. Shares are 0..1.

    Attributes
    ----------
    share : float
        Estimate.
    standard_low, standard_high : float or None
        95 % interval by the standard's formula (Student's t over fields); None with
        fewer than two fields in a part.
    relative_accuracy : float or None
        Half of that interval over the share; None where the share is 0.
    few_low, few_high : float
        95 % interval for few hits (Fay and Feuer 1997).
    hits : float
        Points in voids, halves at edges.
    points, fields : int
        Counted ones.
    few : bool
        Whether the interval for few hits is the one to use: fewer than 20 voids were
        hit in some part of the face.
    """

    share: float
    standard_low: float | None
    standard_high: float | None
    relative_accuracy: float | None
    few_low: float
    few_high: float
    hits: float
    points: int
    fields: int
    few: bool

    @property
    def low(self) -> float:
        """Lower end of the interval to use."""
        if self.few or self.standard_low is None:
            return self.few_low
        return self.standard_low

    @property
    def high(self) -> float:
        """Upper end of the interval to use."""
        if self.few or self.standard_high is None:
            return self.few_high
        return self.standard_high


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PointCount:
    """A count as the log keeps it.

    Attributes
    ----------
    id, reading_id : int
    who : str
        A name or a word for whoever counts.
    plan : CountPlan
    answers : str
        One sign a point in the plan's order: a key of `ANSWERS`, or `NOT_YET`.
    drawn_at : datetime
        When the lot was drawn, UTC.
    finished_at : datetime or None
        None while it is being counted.
    version : int
    """

    id: int
    reading_id: int
    who: str
    plan: CountPlan
    answers: str
    drawn_at: datetime
    finished_at: datetime | None
    version: int

    @property
    def fields_done(self) -> int:
        """Return how many fields are counted from the first one on without a gap."""
        size = self.plan.points_per_field
        for at in range(len(self.plan.fields)):
            if NOT_YET in self.answers[at * size : (at + 1) * size]:
                return at
        return len(self.plan.fields)


def checked_answers(answers: str, plan: CountPlan) -> str:
    """Return the answers if they can be of that plan.

    Raises
    ------
    InputError
        Another length, or a sign that is no answer.
    """
    known = set(ANSWERS) | {NOT_YET}
    if len(answers) != plan.point_count or not set(answers) <= known:
        msg = (
            f"The answers are {len(answers)} signs for {plan.point_count} points: "
            "open the count again."
        )
        raise InputError(msg)
    return answers
