"""Studies of the gauge: who measured what again, in which light, and what came out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from analysis.checks import each_once, named, number, one_of
from analysis.distributions import t_ppf
from analysis.errors import InputError

if TYPE_CHECKING:
    from datetime import datetime

# again: stored photos measured anew. shop: faces photographed in several lights.
STUDY_KINDS = ("again", "shop")
USUAL_BASES = ("study", "repeats")


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """A variance of log shares with its 95 % interval.

    Attributes
    ----------
    variance, low, high : float
        0 or more.
    """

    variance: float
    low: float
    high: float

    @property
    def percent(self) -> tuple[float, float, float]:
        """Standard deviation and its ends, in percent of a share."""
        return (
            100 * math.sqrt(self.variance),
            100 * math.sqrt(self.low),
            100 * math.sqrt(self.high),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class GaugeAnswer:
    """What a study of the gauge says. Variances are of log shares.

    Attributes
    ----------
    parts, people, repeats : int
        Faces, people, and how often each measured each.
    repeatability : Component
        The same person, the same face again.
    reproducibility : Component
        Between people: their levels, and how they differ from face to face.
    person, interaction : Component
        The two parts of reproducibility.
    gauge : Component
        Repeatability and reproducibility together.
    part : Component
        Between the faces.
    person_means : tuple of float
        Mean log share of each person.
    """

    parts: int
    people: int
    repeats: int
    repeatability: Component
    reproducibility: Component
    person: Component
    interaction: Component
    gauge: Component
    part: Component
    person_means: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Cell:
    """One measuring of a study.

    Attributes
    ----------
    item : int
        Which of the study's items.
    who : str
    light : str
        Empty in a study of stored photos.
    turn : int
        0 for the first time.
    """

    item: int
    who: str
    light: str
    turn: int


@dataclass(frozen=True, slots=True, kw_only=True)
class StudyPlan:
    """What is measured again, by whom, and in which order.

    Attributes
    ----------
    kind : str
        One of `STUDY_KINDS`.
    items : tuple of int
        Readings measured anew (``again``), or pieces photographed (``shop``).
    people : tuple of str
        Names or words, two or more.
    lights : tuple of str
        Places and lights, the usual one first; empty for ``again``.
    repeats : int
        How often each person measures each item.
    seed : int
        What the order was drawn with.
    order : tuple of Cell
        All cells; each person goes through the own ones in this order.
    """

    kind: str
    items: tuple[int, ...]
    people: tuple[str, ...]
    lights: tuple[str, ...]
    repeats: int
    seed: int
    order: tuple[Cell, ...]

    def __post_init__(self) -> None:
        """Refuse a study that cannot answer."""
        one_of(self.kind, "The kind of a study", STUDY_KINDS)
        for who in self.people:
            named(who, "Each person of a study")
        each_once(self.people, "The study")
        each_once(self.lights, "The study")
        number(self.repeats, "Repeats", low=1, high=20)
        least = 2 if self.kind == "again" else 3
        if len(set(self.items)) < least or len(self.people) < 2:  # noqa: PLR2004
            msg = (
                f"A study needs {least} faces and two people or more, "
                f"{len(set(self.items))} and {len(self.people)} were given: add some."
            )
            raise InputError(msg)
        if self.kind == "shop" and len(self.lights) < 2:  # noqa: PLR2004
            msg = "A shop study needs two lights or more: name the usual one first."
            raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """What one cell gave.

    Attributes
    ----------
    cell : Cell
    share, low, high : float
        0..1, of measurement.
    smallest_share : float
        Share of one void of the smallest counted size.
    method_version : str
    detail : dict
        Photo, scale, outline and decisions, as JSON holds them.
    measured_at : datetime
        UTC.
    """

    cell: Cell
    share: float
    low: float
    high: float
    smallest_share: float
    method_version: str
    detail: dict[str, Any]
    measured_at: datetime


@dataclass(frozen=True, slots=True, kw_only=True)
class Study:
    """A study as the log keeps it.

    Attributes
    ----------
    id : int
    plan : StudyPlan
    drawn_at : datetime
        When the order was drawn, UTC.
    finished_at : datetime or None
    measured : tuple of Measured
    version : int
    """

    id: int
    plan: StudyPlan
    drawn_at: datetime
    finished_at: datetime | None
    measured: tuple[Measured, ...]
    version: int


@dataclass(frozen=True, slots=True, kw_only=True)
class UsualSpread:
    """How readings of one face spread in a shop's usual set-up. It never changes.

    Attributes
    ----------
    set_up : str
        The place and light it holds in.
    spread : float
        Standard deviation of log shares, shrunk towards the general value.
    degrees : float
        Degrees of freedom behind it.
    basis : str
        ``"study"`` or ``"repeats"``: a shop study, or repeated photos of the log.
    method_version : str
        Of the readings it was found on; it holds for no other.
    lights : tuple of LightBias
        Of a study.
    id : int or None
    study_id : int or None
    made_at : datetime or None
    """

    set_up: str
    spread: float
    degrees: float
    basis: str
    method_version: str
    lights: tuple[LightBias, ...] = ()
    id: int | None = None
    study_id: int | None = None
    made_at: datetime | None = None

    def __post_init__(self) -> None:
        """Refuse a spread that is none."""
        named(self.set_up, "The usual set-up")
        number(self.spread, "Spread of log shares", above=0, high=10)
        number(self.degrees, "Degrees of freedom", above=0)
        one_of(self.basis, "What a spread rests on", USUAL_BASES)


@dataclass(frozen=True, slots=True, kw_only=True)
class LightBias:
    """How much more or less a light reads than the usual one, in log shares.

    Attributes
    ----------
    light : str
    raw : float
        As measured.
    value, low, high : float
        Shrunk towards no difference, with its 95 % interval.
    """

    light: str
    raw: float
    value: float
    low: float
    high: float


def usual_range(
    share: float, smallest_share: float, spread: float, degrees: float
) -> tuple[float, float]:
    """Return where another reading of the face in the usual set-up would lie.

    Parameters
    ----------
    share : float
        0..1.
    smallest_share : float
        Share of one void of the smallest counted size; half of it is added at both
        ends, since a void more or less is found.
    spread, degrees : float
        Of log shares.

    Returns
    -------
    low, high : float
        95 % interval, 0..1.

    Examples
    --------
    >>> [round(end, 4) for end in usual_range(0.01, 0.0, 0.1, 1e9)]
    [0.0082, 0.0122]
    """
    reach = float(t_ppf(0.975, degrees)) * spread
    half = smallest_share / 2
    return (
        max(0.0, share * math.exp(-reach) - half),
        min(1.0, share * math.exp(reach) + half),
    )
