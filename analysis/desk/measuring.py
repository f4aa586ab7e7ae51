"""Measure a face: bytes to a reading."""

from __future__ import annotations

from datetime import UTC, datetime
from importlib.metadata import version
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import ScaleError
from analysis.flags import LIGHT_FLAGS, Flag
from analysis.imaging.face import continue_outside, face_mask, joint_band_mask
from analysis.imaging.photo import luminance
from analysis.imaging.quality import light_flags
from analysis.model.photo import Face
from analysis.model.reading import MeasureSettings, Reading
from analysis.voids.audit import finish_flags
from analysis.voids.measurement import smallest_counted, summarize
from analysis.voids.segmentation import METHOD_VERSION, segment
from analysis.voids.shapes import labelled, outlines

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analysis.model.photo import Photo, Scale
    from analysis.voids.segmentation import Segmentation

_LIBRARIES = ("numpy", "opencv-python-headless", "scikit-image", "scipy", "pillow")
_MARGIN_PX = 2


def measure(
    photo: Photo,
    *,
    scale: Scale | None = None,
    face: Face | None = None,
    settings: MeasureSettings | None = None,
    progress: Callable[[float, str], None] | None = None,
) -> tuple[Reading, NDArray[np.bool_]]:
    """Measure the voids of a face once.

    Parameters
    ----------
    photo : Photo
    scale : Scale, optional
        Without one, shares are of voids of at least 4 px and nothing is in mm.
    face : Face, optional
        Without one, the whole photo is the face.
    settings : MeasureSettings, optional
    progress : callable, optional
        Told the part done, 0..1, and what is being done.

    Returns
    -------
    reading : Reading
    mask : ndarray of bool, (rows, cols)
        Counted voids on the upright photo.

    Raises
    ------
    FaceError
        The face cannot be measured.
    ScaleError
        A smallest size in mm was asked for without a scale.

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
    face = face or Face()
    settings = settings or MeasureSettings()
    if scale is None and settings.smallest_mm is not None:
        msg = (
            f"A smallest size of {settings.smallest_mm:g} mm needs a scale: "
            "give the mm per px."
        )
        raise ScaleError(msg)
    tell = progress or _silent
    tell(0.05, "Marking the face")
    whole = face_mask(photo, face)
    window = _window(whole)
    inside = whole[window]
    size_mm, size_px2 = smallest_counted(scale, settings.smallest_mm)
    tell(0.15, "Levelling the light")
    pixels = np.ascontiguousarray(photo.pixels[window])
    doubts = light_flags(pixels, inside)
    tell(0.3, "Finding voids")
    found = segment(
        pixels,
        _light(pixels, inside),
        inside,
        smallest_px2=size_px2,
        mm_per_px=None if scale is None else scale.mm_per_px,
    )
    tell(0.8, "Adding up")
    summary = summarize(
        found, inside, _band(face, scale, whole.shape, window), scale, size_mm, size_px2
    )
    doubts |= finish_flags(found, inside, scale, settings.smallest_mm)
    if face.outline_px is None:
        doubts |= {Flag.WHOLE_PHOTO}
    origin = np.array([window[0].start, window[1].start], dtype=np.float64)
    mask = np.zeros(whole.shape, dtype=bool)
    mask[window] = found.mask
    reading = Reading(
        photo_sha256=photo.sha256,
        width_px=photo.width_px,
        height_px=photo.height_px,
        scale=scale,
        face=face,
        settings=settings,
        summary=summary,
        voids=found.voids.moved(origin),
        rejected=found.rejected.moved(origin),
        honeycomb_px=_patch_outlines(found, origin),
        light_flags=doubts & LIGHT_FLAGS,
        flags=doubts - LIGHT_FLAGS,
        lamp_towards_rad=found.lamp.towards_rad,
        method_version=METHOD_VERSION,
        library_versions=tuple((name, version(name)) for name in _LIBRARIES),
        measured_at=datetime.now(UTC),
    )
    tell(1.0, "Done")
    return reading, mask


def _light(pixels: NDArray[np.uint8], inside: NDArray[np.bool_]) -> NDArray[np.float32]:
    light = luminance(pixels)
    continue_outside(light, inside)
    return light


def _silent(_part: float, _what: str) -> None:
    pass


def _window(face: NDArray[np.bool_]) -> tuple[slice, slice]:
    """Smallest box around the face, so that the rest costs nothing."""
    rows = np.flatnonzero(face.any(axis=1))
    cols = np.flatnonzero(face.any(axis=0))
    return (
        slice(max(0, int(rows[0]) - _MARGIN_PX), int(rows[-1]) + 1 + _MARGIN_PX),
        slice(max(0, int(cols[0]) - _MARGIN_PX), int(cols[-1]) + 1 + _MARGIN_PX),
    )


def _band(
    face: Face,
    scale: Scale | None,
    shape: tuple[int, ...],
    window: tuple[slice, slice],
) -> NDArray[np.bool_] | None:
    if scale is None or not face.joints:
        return None
    band_px = face.joint_band_mm / scale.mm_per_px
    return joint_band_mask(face.joints, band_px, (shape[0], shape[1]))[window]


def _patch_outlines(
    found: Segmentation, origin: NDArray[np.float64]
) -> tuple[NDArray[np.float64], ...]:
    if not found.honeycomb.any():
        return ()
    patches, count = labelled(found.honeycomb)
    lines = outlines(patches, count)
    return tuple(line + origin for line in lines)
