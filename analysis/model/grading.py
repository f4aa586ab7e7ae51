"""What a finish is judged by, and the judgement."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.checks import number, one_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.model.notes import Note
    from analysis.model.reading import Reading

TAGS = ("confirmed", "one_source", "from_memory", "own")
# What can be limited: its words and its unit. Shares are 0..1.
QUANTITIES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "void_share": ("void area", "%"),
        "void_width_mm": ("widest void", "mm"),
        "void_diameter_mm": ("largest void (diameter of equal area)", "mm"),
        "voids_5_to_10_per_m2": ("voids of 5 to 10 mm", "per m²"),
        "voids_10_to_20_per_m2": ("voids of 10 to 20 mm", "per m²"),
        "honeycomb_share": ("honeycomb", "%"),
        "honeycomb_patch_mm2": ("largest honeycomb patch", "mm²"),
        "void_depth_mm": ("depth of the deepest void", "mm"),
        "void_volume_cm3": ("depth times rectangle of the largest void", "cm³"),
        "leak_width_mm": ("width of the joint leak", "mm"),
        "leak_depth_mm": ("depth of the joint leak", "mm"),
        "step_mm": ("step at a joint", "mm"),
        "fin_mm": ("height of fins and projections", "mm"),
        "chip_depth_mm": ("depth of edge chips", "mm"),
        "chip_mm_per_m": ("length of edge chips per m", "mm"),
    }
)
# Counts by size: diameters of equal area in mm; the lower end counts, the upper not.
SIZES_MM: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "voids_5_to_10_per_m2": (5.0, 10.0),
        "voids_10_to_20_per_m2": (10.0, 20.0),
    }
)
BY_HAND = (
    "void_depth_mm",
    "void_volume_cm3",
    "leak_width_mm",
    "leak_depth_mm",
    "step_mm",
    "fin_mm",
    "chip_depth_mm",
    "chip_mm_per_m",
)
MOST_BY_HAND = 100_000


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeClass:
    """One class of a criterion.

    Attributes
    ----------
    name : str
        As the document calls it.
    at_most, at_least : mapping of str to float
        Quantity and its limit; the limit itself is inside.
    below : mapping of str to float
        Quantity and its limit; the limit itself is outside.
    tag : str
        One of ``TAGS`` where this class is surer or less sure than the criterion;
        else empty.
    """

    name: str
    at_most: Mapping[str, float] = field(default_factory=dict)
    at_least: Mapping[str, float] = field(default_factory=dict)
    below: Mapping[str, float] = field(default_factory=dict)
    tag: str = ""

    def __post_init__(self) -> None:
        """Refuse a quantity nobody knows, and a tag without meaning."""
        for name in (*self.at_most, *self.at_least, *self.below):
            one_of(name, f"Quantity limited by {self.name}", QUANTITIES)
        if self.tag:
            one_of(self.tag, f"Tag of {self.name}", TAGS)

    @property
    def limited(self) -> frozenset[str]:
        """Quantities it limits."""
        return frozenset((*self.at_most, *self.at_least, *self.below))


@dataclass(frozen=True, slots=True, kw_only=True)
class Criterion:
    """Limits for a finish, with what exactly they count.

    Attributes
    ----------
    code, title : str
        A word for machines; a name for people.
    edition, clause, source : str
        Of the document.
    tag : str
        One of ``TAGS``: how sure the limits are.
    counts, note : str
        What is counted; what else to know.
    classes : tuple of GradeClass
        Best first; none where the document leaves the judging to the eye, so that
        figures are shown and nothing is judged.
    beyond : str
        What is outside all classes.
    shown : tuple of str
        Quantities that are shown beside the grade, or instead of one.
    size_from_mm, size_to_mm : float or None
        Diameters that count in the void area, both ends included.
    test_area_mm2 : float or None
        Area the limits are meant for.
    test_areas : int
        How many areas of at least that size the document asks for; 1 where all
        photos of a piece together make up the area.
    as_struck_only : bool
        The document judges straight after striking.
    depth_up_to_width_mm : float or None
        Voids up to this width are taken as no deeper than wide.
    other_text : Criterion or None
        Another edition that counts otherwise: told where it gives another class.
    """

    code: str
    title: str
    edition: str
    clause: str
    source: str
    tag: str
    counts: str
    classes: tuple[GradeClass, ...]
    beyond: str
    note: str = ""
    shown: tuple[str, ...] = ()
    size_from_mm: float | None = None
    size_to_mm: float | None = None
    test_area_mm2: float | None = None
    test_areas: int = 1
    as_struck_only: bool = False
    depth_up_to_width_mm: float | None = None
    other_text: Criterion | None = None

    def __post_init__(self) -> None:
        """Refuse a tag without meaning and a quantity nobody knows."""
        one_of(self.tag, f"Tag of {self.code}", TAGS)
        for name in self.shown:
            one_of(name, f"Quantity shown by {self.code}", QUANTITIES)

    @property
    def limited(self) -> frozenset[str]:
        """Quantities any of its classes limits."""
        return frozenset().union(*(one.limited for one in self.classes))

    @property
    def asked(self) -> frozenset[str]:
        """Quantities it limits or shows."""
        return self.limited | frozenset(self.shown)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JudgedArea:
    """One measured area of a piece.

    Attributes
    ----------
    name : str
        To tell it from the others.
    reading : Reading
        What was measured.
    stage : str or None
        One of ``STAGES``.
    """

    name: str
    reading: Reading
    stage: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class ByHand:
    """What a person measured and saw on the piece.

    Attributes
    ----------
    figures : mapping of str to float
        By quantity of ``BY_HAND``.
    honeycomb_seen : bool
        Whether the eye has seen honeycomb on it.

    Examples
    --------
    >>> ByHand(figures={"leak_width_mm": 4.0}).figures["leak_width_mm"]
    4.0
    """

    figures: Mapping[str, float] = field(default_factory=dict)
    honeycomb_seen: bool = False

    def __post_init__(self) -> None:
        """Refuse what is not measured by hand, and impossible figures."""
        for name, value in self.figures.items():
            one_of(name, "Figure measured by hand", BY_HAND)
            words, unit = QUANTITIES[name]
            given = words[:1].upper() + words[1:]
            number(value, given, low=0, high=MOST_BY_HAND, unit=unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class JudgedValue:
    """A quantity as it was judged, with its 95 % interval.

    Attributes
    ----------
    quantity : str
        One of ``QUANTITIES``.
    value, low, high : float
        Shares are 0..1.
    counted : int or None
        Voids behind a count per area; None for other quantities.
    """

    quantity: str
    value: float
    low: float
    high: float
    counted: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Judgement:
    """How a piece stands against one criterion.

    Attributes
    ----------
    criterion : Criterion
        What it was judged by.
    grade : str
        ``"P"``, or ``"P or 2P"`` where the limit lies inside the interval; empty where
        nothing it limits is known.
    chances : tuple of (str, float)
        Class and its chance, 0..1, best class first.
    values : tuple of JudgedValue
        What was judged, and what is only shown.
    undecided : tuple of Note
        Why a photo cannot decide it; empty where it can.
    not_judged : tuple of str
        Quantities it limits that are not known.
    areas : tuple of (str, str, float or None)
        Name, grade and void share of each area, where there are several.
    other : Judgement or None
        By the other text of the document, where it gives another class.
    """

    criterion: Criterion
    grade: str
    chances: tuple[tuple[str, float], ...]
    values: tuple[JudgedValue, ...]
    undecided: tuple[Note, ...]
    not_judged: tuple[str, ...]
    areas: tuple[tuple[str, str, float | None], ...] = ()
    other: Judgement | None = None
