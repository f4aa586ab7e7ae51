"""A reading: one photo measured once."""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.checks import number, seal_arrays, sealed
from analysis.errors import InputError
from analysis.vocabulary import FACE_KINDS, RIBBED

if TYPE_CHECKING:
    from datetime import datetime

    from numpy.typing import NDArray

    from analysis.flags import Flag
    from analysis.model.pair import SecondLight
    from analysis.model.photo import Face, Scale

KINDS = ("pinhole", "bughole", "large_void", "honeycomb")
REJECTED_KINDS = ("crack", "joint_or_fin", "stain", "grain", "bloom", "other")
BUGHOLE_FROM_MM = 2.0
LARGE_VOID_FROM_MM = 15.0


@dataclass(frozen=True, slots=True, kw_only=True)
class MeasureSettings:
    """What the user may set for a reading. Physical units only.

    Attributes
    ----------
    smallest_mm : float or None
        Smallest counted equivalent diameter; None takes the larger of 0.5 mm
        and 4 px.
    face_kind : str or None
        One of `FACE_KINDS`; None takes a face for flat unless its photo shows flutes
        without doubt.
    pitch_mm, depth_mm : float or None
        Of flutes or ribs: from one to the next, and from crest to bottom.
    """

    smallest_mm: float | None = None
    face_kind: str | None = None
    pitch_mm: float | None = None
    depth_mm: float | None = None

    def __post_init__(self) -> None:
        """Refuse an impossible size or kind."""
        if self.face_kind is not None and self.face_kind not in FACE_KINDS:
            msg = (
                f"The kind of face must be one of {', '.join(FACE_KINDS)}, "
                f"{self.face_kind!r} was given."
            )
            raise InputError(msg)
        for name, value in (
            ("Pitch of the flutes", self.pitch_mm),
            ("Depth of the flutes", self.depth_mm),
        ):
            if value is None:
                continue
            number(value, name, above=0, high=1000, unit="mm")
            of_ribbed(self.face_kind, name)
        if self.smallest_mm is not None:
            number(
                self.smallest_mm,
                "Smallest counted size",
                above=0,
                high=1000,
                unit="mm",
            )


def of_ribbed(face_kind: str | None, name: str) -> None:
    """Refuse a pitch or a depth of a face that is not ribbed.

    Examples
    --------
    >>> of_ribbed("ribbed", "Pitch of the flutes")
    """
    if face_kind != RIBBED:
        msg = (
            f"{name} belongs to a ribbed face, the kind given is "
            f"{face_kind or 'none'}: give the kind ribbed too, or leave it out."
        )
        raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VoidCatalog:
    """One row per void (or per rejected candidate), as columns of one length n.

    Attributes
    ----------
    row_px, col_px : ndarray of float64, (n,)
        Centroid, (row, col), origin at the centre of the top-left pixel.
    area_px : ndarray of float64, (n,)
        Area in px², sub-pixel, more than 0.
    area_sd_px : ndarray of float64, (n,)
        Standard uncertainty of `area_px` from where the boundary lies, px².
    feret_max_px : ndarray of float64, (n,)
        Longest caliper width, px.
    kind : ndarray of str, (n,)
        One of `KINDS`, or of `REJECTED_KINDS` in a catalogue of rejected ones.
    reason : tuple of str, length n
        Why it was rejected, in words; empty for counted voids.
    contrast : ndarray of float64, (n,)
        Depth of the darkest part below the background, as a share of it, 0..1.
    rim_sharpness : ndarray of float64, (n,)
        Steepest slope across the rim over the slope a sharp step would have in
        this photo, about 0..1.
    shading : ndarray of float64, (n,)
        How much the inside is darker towards the lamp than away from it, -1..1.
    colour_shift : ndarray of float64, (n,)
        Change of chromaticity against the background, 0 or more.
    elongation : ndarray of float64, (n,)
        Long over short axis of the ellipse of equal moments, 1 or more.
    solidity : ndarray of float64, (n,)
        Area over area of its convex hull, 0..1.
    flags : tuple of frozenset of Flag, length n
        Doubts about each.
    outline_px : tuple of ndarray of float64, length n
        Boundary polygons, (row, col).
    """

    row_px: NDArray[np.float64]
    col_px: NDArray[np.float64]
    area_px: NDArray[np.float64]
    area_sd_px: NDArray[np.float64]
    feret_max_px: NDArray[np.float64]
    kind: NDArray[np.str_]
    reason: tuple[str, ...]
    contrast: NDArray[np.float64]
    rim_sharpness: NDArray[np.float64]
    shading: NDArray[np.float64]
    colour_shift: NDArray[np.float64]
    elongation: NDArray[np.float64]
    solidity: NDArray[np.float64]
    flags: tuple[frozenset[Flag], ...]
    outline_px: tuple[NDArray[np.float64], ...]

    def __post_init__(self) -> None:
        """Seal the columns and refuse unequal ones."""
        for field in fields(self):
            value = getattr(self, field.name)
            if len(value) != len(self.area_px):
                msg = (
                    f"A catalogue needs columns of one length, {field.name} has "
                    f"{len(value)} of {len(self.area_px)}: list each void once."
                )
                raise InputError(msg)
        seal_arrays(self)
        outlines = tuple(sealed(line) for line in self.outline_px)
        object.__setattr__(self, "outline_px", outlines)

    def __len__(self) -> int:
        """Count the rows."""
        return len(self.area_px)

    def moved(self, by_px: NDArray[np.float64]) -> VoidCatalog:
        """Return the catalogue with all positions moved by (rows, cols)."""
        return replace(
            self,
            row_px=self.row_px + by_px[0],
            col_px=self.col_px + by_px[1],
            outline_px=tuple(line + by_px for line in self.outline_px),
        )

    def chosen(self, at: NDArray[np.intp]) -> VoidCatalog:
        """Return some of the rows."""
        columns: dict[str, Any] = {
            field.name: getattr(self, field.name) for field in fields(self)
        }
        for name, column in columns.items():
            columns[name] = (
                column[at]
                if isinstance(column, np.ndarray)
                else tuple(column[one] for one in at)
            )
        return VoidCatalog(**columns)

    @property
    def equivalent_diameter_px(self) -> NDArray[np.float64]:
        """Diameter of the circle of equal area, px."""
        diameter: NDArray[np.float64] = np.sqrt(4.0 * self.area_px / np.pi)
        return diameter


@dataclass(frozen=True, slots=True, kw_only=True)
class Share:
    """A share with its interval, 0..1.

    Attributes
    ----------
    value, low, high : float
        Estimate and the ends of its 95 % interval.
    """

    value: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class JointMarks:
    """What the joints of the form left on a face, beside voids.

    Attributes
    ----------
    length_mm : float
        Joint lines on the face.
    sand_length_mm, fin_length_mm : float
        Of them, with bare sand where paste ran out, and with a fin.
    arris_loss_mm2_per_m : float
        Face broken off along the joints, mm2 per m of joint.
    """

    length_mm: float
    sand_length_mm: float
    fin_length_mm: float
    arris_loss_mm2_per_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Summary:
    """The figures of a reading. Shares are 0..1; None where not known.

    Attributes
    ----------
    face_area_px : float
        Measured area, px².
    face_area_mm2, void_area_mm2 : float or None
        None without a scale.
    void_area_px : float
        Sum of the counted voids, px².
    void_share : Share
        Of the face shown: boundary, scale and detection.
    sampled_share : Share
        Of the face as cast, of which the photo is a sample.
    void_count : int
        Counted voids.
    voids_per_m2 : float or None
        None without a scale.
    largest_void_mm : float or None
        Largest equivalent diameter outside honeycomb.
    smallest_counted_mm : float or None
        None without a scale; then the limit is 4 px².
    smallest_counted_px : float
        The limit as an equivalent diameter in px.
    joint_band_share, open_face_share : float or None
        Void share within and outside the joint bands; None without joint lines.
    honeycomb_share : float
        Extent of honeycomb patches over the face.
    joint_band_ends, open_face_ends, honeycomb_ends : tuple of float or None
        Ends of their 95 % intervals, 0..1; None where not known (readings made before
        they were).
    joint_marks : JointMarks or None
        None without joint lines or scale.
    """

    face_area_px: float
    face_area_mm2: float | None
    void_area_px: float
    void_area_mm2: float | None
    void_share: Share
    sampled_share: Share
    void_count: int
    voids_per_m2: float | None
    largest_void_mm: float | None
    smallest_counted_mm: float | None
    smallest_counted_px: float
    joint_band_share: float | None
    open_face_share: float | None
    honeycomb_share: float
    joint_band_ends: tuple[float, float] | None = None
    open_face_ends: tuple[float, float] | None = None
    honeycomb_ends: tuple[float, float] | None = None
    joint_marks: JointMarks | None = None


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Reading:
    """One photo measured once, with all that it depends on.

    Attributes
    ----------
    photo_sha256 : str
        Of the file's bytes.
    width_px, height_px : int
        Of the upright photo, or of the view of it that was measured.
    scale : Scale or None
        None when measured without one.
    face : Face
        Outline, left-out areas and joint lines used.
    settings : MeasureSettings
        As asked for.
    summary : Summary
        The figures.
    voids, rejected : VoidCatalog
        Counted voids; candidates turned down, each with its reason.
    honeycomb_px : tuple of ndarray of float64
        Outlines of honeycomb patches, (row, col).
    light_flags, flags : frozenset of Flag
        Doubts about the light; all other doubts.
    lamp_towards_rad : float or None
        Direction towards the lamp in the picture, radians from the column axis
        towards the row axis; None when the light has no side.
    method_version : str
        Version of the measuring steps.
    library_versions : tuple of (str, str)
        Name and version of each library the figure rests on.
    measured_at : datetime
        UTC.
    photo_px : tuple of int
        (rows, columns) of the upright photo.
    second_light : SecondLight or None
        The second photo of a pair; None for a reading of one photo.
    usual_share : Share or None
        Where another reading of this face in the shop's usual set-up would lie, for
        comparing; None without a study or repeated photos of that set-up.
    """

    photo_sha256: str
    width_px: int
    height_px: int
    scale: Scale | None
    face: Face
    settings: MeasureSettings
    summary: Summary
    voids: VoidCatalog
    rejected: VoidCatalog
    honeycomb_px: tuple[NDArray[np.float64], ...]
    light_flags: frozenset[Flag]
    flags: frozenset[Flag]
    lamp_towards_rad: float | None
    method_version: str
    library_versions: tuple[tuple[str, str], ...]
    measured_at: datetime
    photo_px: tuple[int, int]
    second_light: SecondLight | None = None
    usual_share: Share | None = None
