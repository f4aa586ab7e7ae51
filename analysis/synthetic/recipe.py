"""What a drawn face is made of. Lengths in mm, shares 0..1."""

from __future__ import annotations

from dataclasses import dataclass, field

from analysis.checks import number
from analysis.errors import InputError

GREY = (0.42, 0.41, 0.39)
WHITE = (0.74, 0.73, 0.70)
BLACK = (0.055, 0.055, 0.058)
BUFF = (0.50, 0.41, 0.29)
TERRACOTTA = (0.38, 0.20, 0.13)

LONGEST_SIDE_PX = 12_000


def _share(value: float, name: str, high: float = 1.0) -> None:
    number(value, name, low=0, high=high)


def _mm(value: float, name: str, high: float = 1000.0) -> None:
    number(value, name, above=0, high=high, unit="mm")


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
        _mm(self.diameter_mm, "Diameter of a pit")
        number(self.depth_ratio, "Depth over diameter", low=0.02, high=1)
        _share(self.irregularity, "Irregularity", high=0.6)


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
    touching_share : float
        Share of pits set against another one.
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
    touching_share: float = 0.05
    towards_top: float = 0.0

    def __post_init__(self) -> None:
        """Refuse impossible populations."""
        number(self.per_m2, "Pits per m²", low=0, high=1e6)
        _mm(self.median_mm, "Median diameter")
        _share(self.spread, "Spread of diameters", high=2.0)
        _mm(self.smallest_mm, "Smallest diameter")
        _mm(self.largest_mm, "Largest diameter")
        _in_order(self.smallest_mm, self.largest_mm, "Diameters")
        number(self.depth_low, "Depth over diameter", low=0.02, high=1)
        number(self.depth_high, "Depth over diameter", low=0.02, high=1)
        _in_order(self.depth_low, self.depth_high, "Depths over diameter")
        _share(self.irregularity, "Irregularity", high=0.6)
        _share(self.touching_share, "Share of touching pits")
        _share(self.towards_top, "Bias towards the top")


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
        _mm(self.diameter_mm, "Diameter of a honeycomb patch")
        _mm(self.void_median_mm, "Median void of a honeycomb patch")
        _share(self.fill, "Fill of a honeycomb patch", high=1.5)


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
class Aggregate:
    """Flush stones or grains of another colour: sharp edges, no depth.

    Attributes
    ----------
    share : float
        Of the face, before overlap.
    median_mm, spread : float
        Log-normal diameter.
    reflectance : tuple of float
        Linear RGB, 0..1.
    """

    share: float
    median_mm: float = 1.0
    spread: float = 0.4
    reflectance: tuple[float, float, float] = (0.06, 0.06, 0.06)

    def __post_init__(self) -> None:
        """Refuse impossible aggregate."""
        _share(self.share, "Share of aggregate", high=0.8)
        _mm(self.median_mm, "Median grain")
        _share(self.spread, "Spread of grains", high=2.0)
        for value in self.reflectance:
            _share(value, "Reflectance of a grain")


@dataclass(frozen=True, slots=True, kw_only=True)
class Surface:
    """Colour and marks of the face that are not voids.

    Attributes
    ----------
    reflectance : tuple of float
        Linear RGB of the paste, 0..1.
    grain_contrast, grain_mm : float
        Fine grain: standard deviation over the mean, and its size.
    mottle_contrast, mottle_mm : float
        Cloudiness, likewise.
    stains, stain_mm, stain_strength
        Number of soft dark stains (damp, oil), their diameter and darkening.
    bloom, bloom_mm, bloom_strength
        Number of white bloom patches, diameter and whitening.
    cracks, crack_width_mm
        Number of hairline cracks and their width.
    scratches, scratch_width_mm
        Number of straight light scratches and their width.
    board_contrast, board_mm, board_relief_mm : float
        Board grain: streaks down the picture, their spacing and relief.
    roughness_mm : float
        Relief of the skin: standard deviation of height.
    aggregate : tuple of Aggregate
        Flush grains.
    """

    reflectance: tuple[float, float, float] = GREY
    grain_contrast: float = 0.03
    grain_mm: float = 0.25
    mottle_contrast: float = 0.05
    mottle_mm: float = 25.0
    stains: int = 0
    stain_mm: float = 20.0
    stain_strength: float = 0.25
    bloom: int = 0
    bloom_mm: float = 15.0
    bloom_strength: float = 0.35
    cracks: int = 0
    crack_width_mm: float = 0.25
    scratches: int = 0
    scratch_width_mm: float = 0.3
    board_contrast: float = 0.0
    board_mm: float = 2.5
    board_relief_mm: float = 0.0
    roughness_mm: float = 0.004
    aggregate: tuple[Aggregate, ...] = ()

    def __post_init__(self) -> None:
        """Refuse impossible surfaces."""
        for value in self.reflectance:
            _share(value, "Reflectance")
        for name in ("grain", "mottle", "board"):
            _share(getattr(self, f"{name}_contrast"), f"Contrast of {name}", high=0.5)
            _mm(getattr(self, f"{name}_mm"), f"Size of {name}")
        for name in ("stains", "bloom", "cracks", "scratches"):
            number(getattr(self, name), f"Number of {name}", low=0, high=1000)
        for name in ("stain_mm", "bloom_mm", "crack_width_mm", "scratch_width_mm"):
            _mm(getattr(self, name), f"Size ({name.removesuffix('_mm')})")
        _share(self.stain_strength, "Strength of stains")
        _share(self.bloom_strength, "Strength of bloom")
        number(self.board_relief_mm, "Relief of boards", low=0, high=5, unit="mm")
        number(self.roughness_mm, "Roughness", low=0, high=1, unit="mm")


@dataclass(frozen=True, slots=True, kw_only=True)
class Lamp:
    """The light: one far lamp and an even sky.

    Attributes
    ----------
    azimuth_deg : float
        Direction towards the lamp in the picture, from the column axis (right)
        towards the row axis (down).
    elevation_deg : float
        Above the face, 5 to 90.
    strength, sky : float
        Of lamp and sky on the flat face; only their ratio counts.
    """

    azimuth_deg: float = 225.0
    elevation_deg: float = 40.0
    strength: float = 0.65
    sky: float = 0.35

    def __post_init__(self) -> None:
        """Refuse impossible light."""
        number(self.azimuth_deg, "Azimuth of the lamp", low=-360, high=360, unit="°")
        number(self.elevation_deg, "Elevation of the lamp", low=5, high=90, unit="°")
        number(self.strength, "Strength of the lamp", low=0)
        number(self.sky, "Strength of the sky", low=0)
        number(self.strength + self.sky, "Light of lamp and sky together", above=0)

    @property
    def lamp_share(self) -> float:
        """Lamp over all light on the flat face, 0..1."""
        return self.strength / (self.strength + self.sky)


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """What the camera does to the picture.

    Attributes
    ----------
    exposure : float
        1 records a perfect white as full scale.
    blur_px : float
        Standard deviation of the point spread, px.
    full_well : float
        Electrons at full scale; sets shot noise. Infinity for none.
    read_noise : float
        Electrons.
    vignette : float
        Darkening in the corners, 0..1.
    uneven, uneven_deg : float
        Fall of the light across the picture, 0..1, and the direction it falls in.
    jpeg_quality : int or None
        Pixels as they come back from a JPEG of this quality, 1 to 100.
    """

    exposure: float = 1.0
    blur_px: float = 0.7
    full_well: float = 15_000.0
    read_noise: float = 8.0
    vignette: float = 0.08
    uneven: float = 0.0
    uneven_deg: float = 0.0
    jpeg_quality: int | None = None

    def __post_init__(self) -> None:
        """Refuse impossible cameras."""
        number(self.exposure, "Exposure", above=0, high=100)
        number(self.blur_px, "Blur", low=0, high=50, unit="px")
        number(self.full_well, "Full well", above=0, high=1e9)
        number(self.read_noise, "Read noise", low=0, high=1e6)
        _share(self.vignette, "Vignette")
        _share(self.uneven, "Fall of the light")
        number(self.uneven_deg, "Direction of the fall", low=-360, high=360)
        if self.jpeg_quality is not None:
            number(self.jpeg_quality, "JPEG quality", low=1, high=100)


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
        number(self.height_px, "Height", low=8, high=LONGEST_SIDE_PX, unit="px")
        number(self.width_px, "Width", low=8, high=LONGEST_SIDE_PX, unit="px")
        number(self.mm_per_px, "Scale", above=0, high=10, unit="mm per px")
        number(self.supersample, "Subdivisions of a px", low=1, high=4)
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
