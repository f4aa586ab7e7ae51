"""Where voids sit, what that pattern is called, and what may have caused it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from analysis.checks import seal_arrays

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from analysis.model.notes import Note

Pattern = Literal[
    "joint_leak", "more_at_top", "under_slope", "beside_insert", "clusters", "honeycomb"
]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FaceGrid:
    """A measured face cut into square cells, with its voids.

    Attributes
    ----------
    cell_mm : float
        Side of a cell.
    on_face : ndarray of bool, (rows, cols)
        Cells that were measured.
    joint : ndarray of int64, (rows, cols)
        0 open face, k the band of ``joint_names[k - 1]``, -1 near two joints.
    joint_names : tuple of str
        Joints of the form.
    sloped, by_insert : ndarray of bool, (rows, cols)
        Under a slope of the form; beside what was left out.
    height : ndarray of float64, (rows, cols), or None
        In the form as cast, 0 low to 1 high; None when it is not known.
    patch : ndarray of bool, (rows, cols)
        Honeycomb.
    row, col : ndarray of float64, (n,)
        Centres of the voids, cells.
    diameter_mm : ndarray of float64, (n,)
        Diameter of the circle of equal area.
    """

    cell_mm: float
    on_face: NDArray[np.bool_]
    joint: NDArray[np.int64]
    joint_names: tuple[str, ...]
    sloped: NDArray[np.bool_]
    by_insert: NDArray[np.bool_]
    height: NDArray[np.float64] | None
    patch: NDArray[np.bool_]
    row: NDArray[np.float64]
    col: NDArray[np.float64]
    diameter_mm: NDArray[np.float64]

    def __post_init__(self) -> None:
        """Seal the arrays."""
        seal_arrays(self)


@dataclass(frozen=True, slots=True, kw_only=True)
class Zone:
    """Void area inside a zone against the rest of the face.

    Attributes
    ----------
    name : str
        Joint, or ``"slope"``, ``"insert"``, ``"top third"``.
    share, rest_share : float
        Void area over area inside and outside, 0..1.
    ratio : float
        Of the two; infinite where the rest has none.
    p_value : float
        Chance of at least as much inside, had the voids been laid at random.
    stretch : float
        Part of the zone's length that holds voids, 0..1, in tenths.
    """

    name: str
    share: float
    rest_share: float
    ratio: float
    p_value: float
    stretch: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Placement:
    """Where the voids of one or several faces sit.

    Attributes
    ----------
    voids, faces : int
        How many.
    joints : tuple of Zone
        Each named joint's band against the open face, most first.
    thirds_per_m2 : tuple of float or None
        Voids per m2 in the lower, middle and upper third as cast; None when up is
        not known.
    top : Zone or None
        Upper third against the rest.
    slope, insert : Zone or None
        None where nothing of the kind was marked.
    neighbour_ratio : float or None
        Mean distance to the nearest void over that of voids laid at random; under 1
        is clustered. None with too few voids.
    neighbour_p : float or None
        Chance of so small a distance at random.
    fine_share : float
        Part of the voids under 6 mm, 0..1.
    coarse_share : float
        Part of the void area in voids of 10 mm and more, 0..1.
    honeycomb_share : float
        Of the face, 0..1.
    honeycomb_at : str
        Joint that most of it lies at; empty where it lies at none.
    """

    voids: int
    faces: int
    joints: tuple[Zone, ...]
    thirds_per_m2: tuple[float, float, float] | None
    top: Zone | None
    slope: Zone | None
    insert: Zone | None
    neighbour_ratio: float | None
    neighbour_p: float | None
    fine_share: float
    coarse_share: float
    honeycomb_share: float
    honeycomb_at: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NamedPattern:
    """A pattern that stands out, with its evidence."""

    pattern: Pattern
    where: str
    evidence: Note


@dataclass(frozen=True, slots=True, kw_only=True)
class Cause:
    """What may lie behind a pattern.

    Attributes
    ----------
    pattern : str
        A pattern, or ``"any"``.
    cause, tell_apart, remedy : str
        In the trade's words.
    sure : str
        ``"likely"``, ``"possible"``.
    source : str
        Published, or 'common practice'.
    """

    pattern: str
    cause: str
    tell_apart: str
    remedy: str
    sure: str
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Caution:
    """A usual caution.

    Attributes
    ----------
    title, text : str
        What harms, and what to do.
    source : str
        Published, or 'common practice'.
    more : str
        Figures behind it; blank where there are none.
    """

    title: str
    text: str
    source: str
    more: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepairNote:
    """Leave or fill, and with how much.

    Attributes
    ----------
    seen_mm : float
        Voids as wide as this are seen from `view_m`.
    view_m : float
        Distance from which the piece will be looked at.
    to_fill : int
        Voids that are seen; without any, leave them all.
    filler_cm3 : float
        Volume of the voids to be filled, hemispheres, without waste.
    deep_voids : int
        Voids above 10 mm, whose depth is to be measured.
    """

    seen_mm: float
    view_m: float
    to_fill: int
    filler_cm3: float
    deep_voids: int
