"""Colour, light and camera of a drawn face. Lengths in mm, shares 0..1."""

from __future__ import annotations

from dataclasses import dataclass

from analysis.checks import number
from analysis.errors import InputError

GREY = (0.42, 0.41, 0.39)
WHITE = (0.74, 0.73, 0.70)
BLACK = (0.055, 0.055, 0.058)
BUFF = (0.50, 0.41, 0.29)
TERRACOTTA = (0.38, 0.20, 0.13)


def share(value: float, name: str, high: float = 1.0) -> None:
    """Refuse a share out of range.

    Examples
    --------
    >>> share(0.5, "Fill")
    """
    number(value, name, low=0, high=high)


def whole(value: float, name: str, low: int, high: int, unit: str = "") -> None:
    """Refuse what is no whole number within its limits.

    Examples
    --------
    >>> whole(3, "Cracks", 0, 9)
    """
    given = number(value, name, low=low, high=high, unit=unit)
    if given != int(given):
        msg = f"{name} must be a whole number, {given:g} was given."
        raise InputError(msg)


def millimetres(value: float, name: str, high: float = 1000.0) -> None:
    """Refuse a length that is not more than 0.

    Examples
    --------
    >>> millimetres(2.5, "Diameter")
    """
    number(value, name, above=0, high=high, unit="mm")


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
        share(self.share, "Share of aggregate", high=0.8)
        millimetres(self.median_mm, "Median grain")
        share(self.spread, "Spread of grains", high=2.0)
        for value in self.reflectance:
            share(value, "Reflectance of a grain")


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
            share(value, "Reflectance")
        for name in ("grain", "mottle", "board"):
            share(getattr(self, f"{name}_contrast"), f"Contrast of {name}", high=0.5)
            millimetres(getattr(self, f"{name}_mm"), f"Size of {name}")
        for name in ("stains", "bloom", "cracks", "scratches"):
            whole(getattr(self, name), f"Number of {name}", 0, 1000)
        for name in ("stain_mm", "bloom_mm", "crack_width_mm", "scratch_width_mm"):
            millimetres(getattr(self, name), f"Size ({name.removesuffix('_mm')})")
        share(self.stain_strength, "Strength of stains")
        share(self.bloom_strength, "Strength of bloom")
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
    radius_deg : float
        How large the lamp looks from the face: a bare sun 0.3, a window 10 or more.
        Softens the shadows in deep pits, 0 to 30.
    """

    azimuth_deg: float = 225.0
    elevation_deg: float = 40.0
    strength: float = 0.65
    sky: float = 0.35
    radius_deg: float = 6.0

    def __post_init__(self) -> None:
        """Refuse impossible light."""
        number(self.azimuth_deg, "Azimuth of the lamp", low=-360, high=360, unit="°")
        number(self.elevation_deg, "Elevation of the lamp", low=5, high=90, unit="°")
        number(self.radius_deg, "Radius of the lamp", low=0, high=30, unit="°")
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
        share(self.vignette, "Vignette")
        share(self.uneven, "Fall of the light")
        number(self.uneven_deg, "Direction of the fall", low=-360, high=360)
        if self.jpeg_quality is not None:
            whole(self.jpeg_quality, "JPEG quality", 1, 100)
