"""Measure a face: bytes to a reading."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.flags import Flag
from analysis.imaging.face import continue_outside, face_mask
from analysis.imaging.photo import luminance
from analysis.imaging.quality import light_flags, refuse_unseen
from analysis.imaging.viewing import seen as seen_as
from analysis.model.photo import Face
from analysis.model.reading import MeasureSettings, Reading
from analysis.services.face_reading import (
    joint_band,
    joint_lines,
    reading_of,
    refuse_size_without_scale,
    silent,
    window_of,
)
from analysis.services.ribbed import Levelling, levelling_for
from analysis.services.turns import BYTES_PER_PX, turn
from analysis.voids.measurement import smallest_counted, summarize
from analysis.voids.quality_flags import finish_flags
from analysis.voids.segmentation import segment
from analysis.voids.settings import BY_DARKNESS, METHOD_VERSION, SETTINGS
from analysis.voids.tiling import segment_in_tiles

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analysis.model.photo import Photo, Scale
    from analysis.model.reading import Summary
    from analysis.voids.joints import JointLines
    from analysis.voids.segmentation import Segmentation

# Of a px that is not worked on: photo 3, mask and face 1 each, its file up to 1;
# tests/benchmarks/large_photos.py: 1.71 GB of 200 megapixels, here 2.56 in all.
_BYTES_PER_PX_BEYOND = 6


def measure(
    photo: Photo,
    *,
    scale: Scale | None = None,
    face: Face | None = None,
    settings: MeasureSettings | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> tuple[Reading, NDArray[np.bool_]]:
    """Measure the voids of a face once, when it is its turn.

    Parameters
    ----------
    photo : Photo
    scale : Scale, optional
        Without one, shares are of voids of at least 4 px and nothing is in mm.
    face : Face, optional
        Without one, the whole photo is the face.
    settings : MeasureSettings, optional
    progress : callable, optional
        Told the part done, 0..1, and what is being done, or the place in line. What
        it raises ends the measuring.

    Returns
    -------
    reading : Reading
    mask : ndarray of bool, (rows, cols)
        Counted voids on the upright photo, or on the view the face is marked in.

    Raises
    ------
    FaceError
        The face cannot be measured.
    ScaleError
        A smallest size in mm was asked for without a scale.
    BusyError
        Too many photos wait already.

    Examples
    --------
    >>> import io
    >>> from PIL import Image
    >>> from analysis.imaging.photo import read_photo
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (120, 90), (150, 150, 150)).save(file, "PNG")
    >>> reading, mask = measure(read_photo(file.getvalue()))
    >>> reading.summary.void_count, bool(mask.any())
    (0, False)
    """
    with turn(turn_megapixels(photo.height_px * photo.width_px), progress):
        return _measured(
            photo,
            scale,
            face or Face(),
            settings or MeasureSettings(),
            progress or silent,
        )


def turn_megapixels(photo_px: int) -> float:
    """Return what a photo weighs in the line for heavy work, in megapixels.

    What goes beyond the largest face that is measured at once stands in memory as
    photo, file and masks only, whether it is measured in tiles or left out.

    Examples
    --------
    >>> turn_megapixels(12_000_000), turn_megapixels(200_000_000)
    (12.0, 64.0)
    """
    at_once = min(photo_px, SETTINGS.tiling.tiled_from_px)
    beyond = (photo_px - at_once) * _BYTES_PER_PX_BEYOND / BYTES_PER_PX
    return (at_once + beyond) / 1e6


def _measured(
    photo: Photo,
    scale: Scale | None,
    face: Face,
    settings: MeasureSettings,
    tell: Callable[[float, str], None],
) -> tuple[Reading, NDArray[np.bool_]]:
    """Measure now that it is this photo's turn."""
    photo_px = (photo.height_px, photo.width_px)
    photo = seen_as(photo, face.view)
    seen = examined(photo, scale=scale, face=face, settings=settings, tell=tell)
    doubts = light_flags(photo.pixels[seen.window], seen.inside)
    doubts |= finish_flags(seen.found, seen.inside, scale, settings.smallest_mm)
    doubts |= photo.flags | seen.levelling.flags
    # An unrolled strip is what was tapped: it has an outline of its own.
    if face.outline_px is None and (face.view is None or face.view.kind != "unrolled"):
        doubts |= {Flag.WHOLE_PHOTO}
    found = seen.found
    mask = _on_photo(found.mask, seen.window, (photo.height_px, photo.width_px))
    reading = reading_of(
        photo,
        found,
        seen.summary(found),
        asked=(scale, face, settings),
        origin=seen.origin,
        photo_px=photo_px,
        doubts=doubts,
        method_version=seen.method_version,
    )
    tell(1.0, "Done")
    return reading, mask


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExaminedFace:
    """A face with its spots, before anything is added up.

    Attributes
    ----------
    found : Segmentation
        In px of the window.
    window : tuple of slice
        Rows and columns of the photo around the face.
    inside : ndarray of bool, (rows, cols)
        Measured pixels of the window.
    band : ndarray of bool, (rows, cols), or None
        Joint bands of the window; None without joint lines or scale.
    scale : Scale or None
    smallest_mm : float or None
        Smallest counted size; None without a scale.
    smallest_px2 : float
        The same as an area.
    levelling : Levelling
        What was done about the shape of the face.
    """

    found: Segmentation
    window: tuple[slice, slice]
    inside: NDArray[np.bool_]
    band: NDArray[np.bool_] | None
    scale: Scale | None
    smallest_mm: float | None
    smallest_px2: float
    levelling: Levelling

    @property
    def method_version(self) -> str:
        """Name of the method that found the spots."""
        steps = METHOD_VERSION if self.found.by_network else BY_DARKNESS
        return steps + self.levelling.variant

    @property
    def origin(self) -> NDArray[np.float64]:
        """(row, col) of the window's first px in the photo."""
        return np.array([part.start for part in self.window], dtype=np.float64)

    def summary(self, found: Segmentation) -> Summary:
        """Add up what was found, or what a person made of it."""
        summary = summarize(
            found,
            self.inside,
            self.band,
            self.scale,
            self.smallest_mm,
            self.smallest_px2,
        )
        return self.levelling.corrected(summary)


def examined(
    photo: Photo,
    *,
    scale: Scale | None,
    face: Face,
    settings: MeasureSettings,
    tell: Callable[[float, str], None],
) -> ExaminedFace:
    """Find the spots of a face.

    Parameters
    ----------
    photo : Photo
    scale : Scale or None
    face : Face
    settings : MeasureSettings
    tell : callable
        Told the part done, 0..1, and what is being done.

    Raises
    ------
    FaceError
        The face cannot be measured.
    ScaleError
        A smallest size in mm was asked for without a scale.
    """
    refuse_size_without_scale(scale, settings)
    tell(0.05, "Marking the face")
    photo = seen_as(photo, face.view)
    whole = face_mask(photo, face)
    window = window_of(whole)
    inside = whole[window]
    refuse_unseen(photo.pixels[window], inside)
    size_mm, size_px2 = smallest_counted(scale, settings.smallest_mm)
    band = joint_band(face, scale, whole.shape, window)
    joints = joint_lines(face, scale, band, window)
    levelling = levelling_for(photo.pixels[window], inside, scale, face, settings)
    found = _found(
        photo.pixels[window], inside, scale, size_px2, joints, levelling, tell
    )
    tell(0.8, "Adding up")
    return ExaminedFace(
        found=found,
        window=window,
        inside=inside,
        band=band,
        scale=scale,
        smallest_mm=size_mm,
        smallest_px2=size_px2,
        levelling=levelling,
    )


def _found(
    pixels: NDArray[np.uint8],
    inside: NDArray[np.bool_],
    scale: Scale | None,
    smallest_px2: float,
    joints: JointLines | None,
    levelling: Levelling,
    tell: Callable[[float, str], None],
) -> Segmentation:
    """Find the voids at once, or part by part where the face is too large for that."""
    tell(0.15, "Levelling the light")
    mm_per_px = None if scale is None else scale.mm_per_px
    tiling = SETTINGS.tiling
    if inside.size > tiling.tiled_from_px or max(inside.shape) > tiling.longest_px:
        return segment_in_tiles(
            pixels,
            lambda part, face, where: levelling.levelled(
                _light(part, face), face, where
            ),
            inside,
            smallest_px2=smallest_px2,
            mm_per_px=mm_per_px,
            joints=joints,
            tell=lambda part, what: tell(0.15 + 0.65 * part, what),
        )
    pixels = np.ascontiguousarray(pixels)
    tell(0.3, "Finding voids")
    return segment(
        pixels,
        levelling.levelled(_light(pixels, inside), inside),
        inside,
        smallest_px2=smallest_px2,
        mm_per_px=mm_per_px,
        joints=joints,
    )


def _light(pixels: NDArray[np.uint8], inside: NDArray[np.bool_]) -> NDArray[np.float32]:
    light = luminance(pixels)
    continue_outside(light, inside)
    return light


def _on_photo(
    mask: NDArray[np.bool_], window: tuple[slice, slice], shape: tuple[int, int]
) -> NDArray[np.bool_]:
    if mask.shape == shape:  # no second picture of a large photo
        return mask
    whole = np.zeros(shape, dtype=bool)
    whole[window] = mask
    return whole
