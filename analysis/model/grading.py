"""What a finish is judged by, and the judgement."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.checks import number, one_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.model.reading import Reading

TAGS = ("confirmed", "one_source", "from_memory", "own")
# What can be limited: its words and its unit. Shares are 0..1.
QUANTITIES: Mapping[str, tuple[str, str]] = MappingProxyType(
    {
        "void_share": ("void area", "%"),
        "void_width_mm": ("widest void", "mm"),
        "void_diameter_mm": ("largest void (diameter of equal area)", "mm"),
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
    """

    name: str
    at_most: Mapping[str, float] = field(default_factory=dict)
    at_least: Mapping[str, float] = field(default_factory=dict)
    below: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Refuse a quantity nobody knows."""
        for name in (*self.at_most, *self.at_least, *self.below):
            one_of(name, f"Quantity limited by {self.name}", QUANTITIES)

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
        Best first.
    beyond : str
        What is outside all classes.
    size_from_mm, size_to_mm : float or None
        Diameters that count in the void area, both ends included.
    test_area_mm2 : float or None
        Area the limits are meant for.
    as_struck_only : bool
        The document judges straight after striking.
    depth_up_to_width_mm : float or None
        Voids up to this width are taken as no deeper than wide.
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
    size_from_mm: float | None = None
    size_to_mm: float | None = None
    test_area_mm2: float | None = None
    as_struck_only: bool = False
    depth_up_to_width_mm: float | None = None

    def __post_init__(self) -> None:
        """Refuse a tag without meaning."""
        one_of(self.tag, f"Tag of {self.code}", TAGS)

    @property
    def limited(self) -> frozenset[str]:
        """Quantities any of its classes limits."""
        return frozenset().union(*(one.limited for one in self.classes))


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
    """Figures measured on the piece by hand, by quantity of ``BY_HAND``.

    Examples
    --------
    >>> ByHand(figures={"leak_width_mm": 4.0}).figures["leak_width_mm"]
    4.0
    """

    figures: Mapping[str, float] = field(default_factory=dict)

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
    """

    quantity: str
    value: float
    low: float
    high: float


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
        What was judged.
    undecided : tuple of str
        Why a photo cannot decide it; empty where it can.
    not_judged : tuple of str
        Quantities it limits that are not known.
    areas : tuple of (str, str, float or None)
        Name, grade and void share of each area, where there are several.
    """

    criterion: Criterion
    grade: str
    chances: tuple[tuple[str, float], ...]
    values: tuple[JudgedValue, ...]
    undecided: tuple[str, ...]
    not_judged: tuple[str, ...]
    areas: tuple[tuple[str, str, float | None], ...] = ()
