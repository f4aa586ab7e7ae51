"""A decoded photo, its scale and the face marked in it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import named, number, one_of, points
from analysis.errors import FaceError, ScaleError

if TYPE_CHECKING:
    from datetime import datetime

    import numpy as np
    from numpy.typing import NDArray

    from analysis.flags import Flag
    from analysis.model.view import View

SCALE_METHODS = ("typed", "two_points", "corners", "sheet", "none")
UPS = ("", "top", "right", "bottom", "left")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Photo:
    """A photo, upright.

    Attributes
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB, upright, read-only.
    opaque : ndarray of bool, (rows, cols), or None
        False where the file is transparent; None when all of it is opaque.
    sha256 : str
        Of the file's bytes, 64 hex digits.
    name : str
        File name as given, for display only.
    file_format : str
        What the content is, e.g. ``"JPEG"``.
    taken_at : datetime or None
        Camera time; zone-aware only when the file states its zone.
    lens_35mm : float or None
        Focal length as on 36 x 24 mm film; None when the file does not say.
    view : View or None
        The view `pixels` are of; None for the photo itself.
    flags : frozenset of Flag
        Doubts that its file raises, before anything is measured.
    """

    pixels: NDArray[np.uint8]
    opaque: NDArray[np.bool_] | None
    sha256: str
    name: str
    file_format: str
    taken_at: datetime | None = None
    lens_35mm: float | None = None
    view: View | None = None
    flags: frozenset[Flag] = frozenset()

    @property
    def key(self) -> str:
        """What tells these pixels from all others."""
        return self.sha256 if self.view is None else f"{self.sha256} {self.view}"

    @property
    def height_px(self) -> int:
        """Rows of the upright photo."""
        return int(self.pixels.shape[0])

    @property
    def width_px(self) -> int:
        """Columns of the upright photo."""
        return int(self.pixels.shape[1])


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoFacts:
    """What the log keeps of a photo beside its file: a photo without its pixels.

    Attributes
    ----------
    sha256, name, file_format, taken_at, width_px, height_px
        As of a `Photo`.
    """

    sha256: str
    name: str
    file_format: str
    taken_at: datetime | None
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """Millimetres per pixel of the upright photo.

    Attributes
    ----------
    mm_per_px : float
        More than 0.
    relative_uncertainty : float
        Standard uncertainty as a share of `mm_per_px`, 0 to 0.5.
    method : str
        How it was got: one of `SCALE_METHODS`.
    """

    mm_per_px: float
    relative_uncertainty: float
    method: str

    def __post_init__(self) -> None:
        """Refuse impossible scales."""
        number(self.mm_per_px, "Scale", above=0, unit="mm per px", error=ScaleError)
        number(
            self.relative_uncertainty,
            "Uncertainty of the scale",
            low=0,
            high=0.5,
            error=ScaleError,
        )
        one_of(self.method, "Kind of scale", SCALE_METHODS, error=ScaleError)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class JointLine:
    """Where a joint of the form met the face.

    Attributes
    ----------
    line_px : ndarray of float64, (n, 2)
        Polyline, (row, col), n of 2 or more.
    name : str
        The form's name of the joint; empty when it has none.
    """

    line_px: NDArray[np.float64]
    name: str = ""

    def __post_init__(self) -> None:
        """Seal the line."""
        line = points(self.line_px, "Joint line", least=2, error=FaceError)
        object.__setattr__(self, "line_px", line)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Face:
    """What of the photo is measured.

    Attributes
    ----------
    outline_px : ndarray of float64, (n, 2), or None
        Face outline, (row, col), n of 3 or more; None takes the whole photo.
    left_out_px : tuple of ndarray
        Left-out areas (tie hole, ruler, hand), each like `outline_px`.
    joints : tuple of JointLine
        Joint lines.
    joint_band_mm : float
        Half-width of the joint band: distance from a joint line, more than 0.
    view : View or None
        The straightened or unrolled picture that all points here are px of; None
        for the upright photo itself.
    name : str
        The form's name of this face; empty when it has none.
    up : str
        Which side of the photo was up in the form; empty when not known.
    sloped_px : tuple of ndarray
        Parts cast under a slope of the form, each like `outline_px`; they are measured
        as well.
    """

    outline_px: NDArray[np.float64] | None = None
    left_out_px: tuple[NDArray[np.float64], ...] = ()
    joints: tuple[JointLine, ...] = ()
    joint_band_mm: float = 15.0
    view: View | None = None
    name: str = ""
    up: str = ""
    sloped_px: tuple[NDArray[np.float64], ...] = ()

    def __post_init__(self) -> None:
        """Seal the polygons and refuse an impossible band."""
        if self.outline_px is not None:
            outline = points(self.outline_px, "Face outline", least=3, error=FaceError)
            object.__setattr__(self, "outline_px", outline)
        areas = tuple(
            points(area, "Left-out area", least=3, error=FaceError)
            for area in self.left_out_px
        )
        object.__setattr__(self, "left_out_px", areas)
        slopes = tuple(
            points(area, "Sloped part", least=3, error=FaceError)
            for area in self.sloped_px
        )
        object.__setattr__(self, "sloped_px", slopes)
        number(
            self.joint_band_mm,
            "Width of the joint band",
            above=0,
            high=1000,
            unit="mm",
            error=FaceError,
        )
        if self.name:
            named(self.name, "The face")
        one_of(self.up, "The side that was up", UPS, error=FaceError)
