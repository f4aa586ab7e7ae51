"""What one photo and a pair share: the window of a face, and the reading made of it."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from functools import cache
from importlib.metadata import version
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import ScaleError
from analysis.flags import LIGHT_FLAGS
from analysis.imaging.face import joint_band_mask
from analysis.model.reading import Reading
from analysis.voids.joints import JointLines
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import labelled, outlines

if TYPE_CHECKING:
    from collections.abc import Collection

    from numpy.typing import NDArray

    from analysis.flags import Flag
    from analysis.model.pair import SecondLight
    from analysis.model.photo import Face, Photo, Scale
    from analysis.model.reading import MeasureSettings, Summary
    from analysis.voids.segmentation import Segmentation

LIBRARIES = ("numpy", "opencv-python-headless", "scikit-image", "scipy", "pillow")
_MARGIN_PX = 2


def refuse_size_without_scale(scale: Scale | None, settings: MeasureSettings) -> None:
    """Refuse a smallest size in mm on a photo whose scale is not known.

    Raises
    ------
    ScaleError
        There is such a size and no scale.
    """
    if scale is None and settings.smallest_mm is not None:
        msg = (
            f"A smallest size of {settings.smallest_mm:g} mm needs a scale: "
            "give the mm per px."
        )
        raise ScaleError(msg)


def silent(_part: float, _what: str) -> None:
    """Tell nobody how far it is."""


def window_of(face: NDArray[np.bool_]) -> tuple[slice, slice]:
    """Smallest box around the face, so that the rest costs nothing."""
    rows = np.flatnonzero(face.any(axis=1))
    cols = np.flatnonzero(face.any(axis=0))
    return (
        slice(max(0, int(rows[0]) - _MARGIN_PX), int(rows[-1]) + 1 + _MARGIN_PX),
        slice(max(0, int(cols[0]) - _MARGIN_PX), int(cols[-1]) + 1 + _MARGIN_PX),
    )


def joint_band(
    face: Face,
    scale: Scale | None,
    shape: tuple[int, ...],
    window: tuple[slice, slice],
) -> NDArray[np.bool_] | None:
    """Mark the joint bands of a window; None without joint lines or scale."""
    if scale is None or not face.joints:
        return None
    band_px = face.joint_band_mm / scale.mm_per_px
    return joint_band_mask(face.joints, band_px, (shape[0], shape[1]))[window]


def joint_lines(
    face: Face,
    scale: Scale | None,
    band: NDArray[np.bool_] | None,
    window: tuple[slice, slice],
) -> JointLines | None:
    """Return the joints in px of a window; None without joint lines or scale."""
    if scale is None or band is None:
        return None
    first = np.array([part.start for part in window], dtype=np.float64)
    lines = tuple(
        replace(joint, line_px=joint.line_px - first) for joint in face.joints
    )
    return JointLines(
        lines_px=tuple(joint.line_px for joint in lines),
        band=band,
        seam=joint_band_mask(
            lines,
            SETTINGS.joints.seam_mm / scale.mm_per_px,
            (band.shape[0], band.shape[1]),
        ),
        mm_per_px=scale.mm_per_px,
    )


def patch_outlines(
    found: Segmentation, origin: NDArray[np.float64]
) -> tuple[NDArray[np.float64], ...]:
    """Outline honeycomb patches, (row, col) px of the photo."""
    if not found.honeycomb.any():
        return ()
    box = window_of(found.honeycomb)
    patches, count = labelled(found.honeycomb[box])
    corner = origin + [part.start for part in box]
    return tuple(line + corner for line in outlines(patches, count))


@cache
def _library_versions() -> tuple[tuple[str, str], ...]:
    """Look up what is installed, once: each look reads files."""
    return tuple((name, version(name)) for name in LIBRARIES)


def reading_of(
    photo: Photo,
    found: Segmentation,
    summary: Summary,
    *,
    asked: tuple[Scale | None, Face, MeasureSettings],
    origin: NDArray[np.float64],
    photo_px: tuple[int, int],
    doubts: Collection[Flag],
    method_version: str,
    second_light: SecondLight | None = None,
) -> Reading:
    """Put together what is kept of a face just measured.

    Parameters
    ----------
    photo : Photo
        As the face is marked in it.
    found : Segmentation
        In px of the window.
    summary : Summary
    asked : tuple of Scale or None, Face and MeasureSettings
    origin : ndarray of float64, (2,)
        (row, col) of the window's first px in the photo.
    photo_px : tuple of int
        Height and width of the photo as it was taken.
    doubts : collection of Flag
        Those about the light are kept apart.
    method_version : str
    second_light : SecondLight, optional
        Of a pair.
    """
    scale, face, settings = asked
    told = frozenset(doubts)
    return Reading(
        photo_sha256=photo.sha256,
        width_px=photo.width_px,
        height_px=photo.height_px,
        scale=scale,
        face=face,
        settings=settings,
        summary=summary,
        voids=found.voids.moved(origin),
        rejected=found.rejected.moved(origin),
        honeycomb_px=patch_outlines(found, origin),
        light_flags=told & LIGHT_FLAGS,
        flags=told - LIGHT_FLAGS,
        lamp_towards_rad=found.light.towards_rad,
        method_version=method_version,
        library_versions=_library_versions(),
        measured_at=datetime.now(UTC),
        photo_px=photo_px,
        second_light=second_light,
    )
