"""Pits, honeycomb and joints of a drawn face. Lengths in mm, shares 0..1."""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis.checks import number
from analysis.errors import InputError
from analysis.synthetic.scene import Camera, Lamp, Surface, millimetres, share, whole

LONGEST_SIDE_PX = 12_000


def _in_order(low: float, high: float, name: str) -> None:
    if low > high:
        msg = f"{name} must run from low to high, {low:g} to {high:g} was given."
        raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Pit:
    """One pit at a chosen place.

    Attributes
    ----------
    row_mm, col_mm : float
        Centre, from the centre of the top-left pixel.
    diameter_mm : float
        Of the circle of the opening's area.
    depth_ratio : float
        Depth over diameter, 0.02 to 1.
    irregularity : float
        0 draws a circle; 0.15 is common, 0.4 ragged.
    """

    row_mm: float
    col_mm: float
    diameter_mm: float
    depth_ratio: float = 0.5
    irregularity: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible pits."""
        number(self.row_mm, "Row of a pit", low=0, unit="mm")
        number(self.col_mm, "Column of a pit", low=0, unit="mm")
        millimetres(self.diameter_mm, "Diameter of a pit")
        number(self.depth_ratio, "Depth over diameter", low=0.02, high=1)
        share(self.irregularity, "Irregularity", high=0.6)


@dataclass(frozen=True, slots=True, kw_only=True)
class PitPopulation:
    """Pits scattered over the face, log-normal in diameter.

    Attributes
    ----------
    per_m2 : float
        Expected number per m² of face.
    median_mm : float
        Median diameter before the limits cut it.
    spread : float
        Standard deviation of log diameter.
    smallest_mm, largest_mm : float
        Limits of the diameter.
    depth_low, depth_high : float
        Depth over diameter. Pits below about 10 mm are roughly half balls and
        larger ones irregular (CCAA 2008), so large pits are drawn towards the
        low end, ragged and rough.
    irregularity : float
        As in `Pit`, before its growth with size.
    elongation, elongation_deg : float
        Long over short axis, 1 to 3, and the direction of the long one from the
        column axis towards the row axis: pits seen at a slant are long.
    touching_share : float
        Share of pits set against another one.
    clump_share, clump_mm : float
        Share of pits that lie in clumps of about a dozen, and a clump's spread.
    towards_top : float
        0 spreads them evenly; 1 puts hardly any at the bottom.
    """

    per_m2: float
    median_mm: float = 1.5
    spread: float = 0.6
    smallest_mm: float = 0.3
    largest_mm: float = 12.0
    depth_low: float = 0.25
    depth_high: float = 0.65
    irregularity: float = 0.12
    elongation: float = 1.0
    elongation_deg: float = 0.0
    touching_share: float = 0.05
    clump_share: float = 0.0
    clump_mm: float = 8.0
    towards_top: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible populations."""
        number(self.per_m2, "Pits per m²", low=0, high=1e6)
        millimetres(self.median_mm, "Median diameter")
        share(self.spread, "Spread of diameters", high=2.0)
        millimetres(self.smallest_mm, "Smallest diameter")
        millimetres(self.largest_mm, "Largest diameter")
        _in_order(self.smallest_mm, self.largest_mm, "Diameters")
        number(self.depth_low, "Depth over diameter", low=0.02, high=1)
        number(self.depth_high, "Depth over diameter", low=0.02, high=1)
        _in_order(self.depth_low, self.depth_high, "Depths over diameter")
        share(self.irregularity, "Irregularity", high=0.6)
        number(self.elongation, "Elongation", low=1, high=3)
        number(self.elongation_deg, "Direction of long pits", low=-360, high=360)
        share(self.touching_share, "Share of touching pits")
        share(self.clump_share, "Share of clumped pits")
        millimetres(self.clump_mm, "Spread of a clump")
        share(self.towards_top, "Bias towards the top")


@dataclass(frozen=True, slots=True, kw_only=True)
class Honeycomb:
    """A patch of ragged, connected voids between stones.

    Attributes
    ----------
    row_mm, col_mm : float
        Centre of the patch.
    diameter_mm : float
        Of the circle of the patch's area.
    void_median_mm : float
        Median diameter of its voids.
    fill : float
        Sum of the voids' areas over the patch before overlap, up to 1.5.
    """

    row_mm: float
    col_mm: float
    diameter_mm: float
    void_median_mm: float = 2.5
    fill: float = 0.6

    def __post_init__(self) -> None:
        """Refuse impossible patches."""
        number(self.row_mm, "Row of a honeycomb patch", low=0, unit="mm")
        number(self.col_mm, "Column of a honeycomb patch", low=0, unit="mm")
        millimetres(self.diameter_mm, "Diameter of a honeycomb patch")
        millimetres(self.void_median_mm, "Median void of a honeycomb patch")
        share(self.fill, "Fill of a honeycomb patch", high=1.5)


@dataclass(frozen=True, slots=True, kw_only=True)
class Joint:
    """A joint of the form as it printed on the face, a straight line.

    Attributes
    ----------
    start_mm, end_mm : tuple of float
        (row, col) of its ends.
    fin_height_mm : float
        Height of the fin; 0 for none.
    leak_width_mm : float
        Half-width of the dark, sandy band where water left; 0 when tight.
    leak_pits_per_m : float
        Pits along the joint, per m of its length.
    gap_mm : float
        Width of the dark line itself; 0 for none.
    """

    start_mm: tuple[float, float]
    end_mm: tuple[float, float]
    fin_height_mm: float = 0.0
    leak_width_mm: float = 0.0
    leak_pits_per_m: float = 0.0
    gap_mm: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible joints."""
        for value in (*self.start_mm, *self.end_mm):
            number(value, "End of a joint", unit="mm")
        if self.start_mm == self.end_mm:
            msg = f"A joint needs two different ends, {self.start_mm} was given twice."
            raise InputError(msg)
        number(self.fin_height_mm, "Fin height", low=0, high=20, unit="mm")
        number(self.leak_width_mm, "Width of a leak", low=0, high=200, unit="mm")
        number(self.leak_pits_per_m, "Pits per m of joint", low=0, high=1e5)
        number(self.gap_mm, "Width of the joint's line", low=0, high=10, unit="mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class FaceRecipe:
    """All that makes a drawn face, but its seed.

    Attributes
    ----------
    height_px, width_px : int
        Of the picture, 8 to 12,000 each.
    mm_per_px : float
        Scale, more than 0.
    pits : tuple of PitPopulation
        Scattered pits.
    placed : tuple of Pit
        Pits at chosen places, drawn as given.
    honeycomb : tuple of Honeycomb
        Honeycomb patches.
    joints : tuple of Joint
        Joints of the form.
    surface, lamp, camera
        The rest of the scene.
    supersample : int
        Subdivisions of a px in which relief is lit, 1 to 4.

    Examples
    --------
    >>> FaceRecipe(height_px=80, width_px=100, mm_per_px=0.5).face_area_mm2
    2000.0
    """

    height_px: int
    width_px: int
    mm_per_px: float
    pits: tuple[PitPopulation, ...] = ()
    placed: tuple[Pit, ...] = ()
    honeycomb: tuple[Honeycomb, ...] = ()
    joints: tuple[Joint, ...] = ()
    surface: Surface = field(default_factory=Surface)
    lamp: Lamp = field(default_factory=Lamp)
    camera: Camera = field(default_factory=Camera)
    supersample: int = 2

    def __post_init__(self) -> None:
        """Refuse impossible pictures and pits outside them."""
        whole(self.height_px, "Height", 8, LONGEST_SIDE_PX, "px")
        whole(self.width_px, "Width", 8, LONGEST_SIDE_PX, "px")
        number(self.mm_per_px, "Scale", above=0, high=10, unit="mm per px")
        whole(self.supersample, "Subdivisions of a px", 1, 4)
        height_mm = (self.height_px - 1) * self.mm_per_px
        width_mm = (self.width_px - 1) * self.mm_per_px
        spots = [(pit.row_mm, pit.col_mm) for pit in self.placed]
        spots += [(patch.row_mm, patch.col_mm) for patch in self.honeycomb]
        for row_mm, col_mm in spots:
            if row_mm > height_mm or col_mm > width_mm:
                msg = (
                    f"A pit or honeycomb patch at row {row_mm:g}, "
                    f"column {col_mm:g} mm is outside the face of "
                    f"{height_mm:g} x {width_mm:g} mm: move it."
                )
                raise InputError(msg)

    @property
    def face_area_mm2(self) -> float:
        """Area of the whole picture."""
        return self.height_px * self.width_px * self.mm_per_px**2
