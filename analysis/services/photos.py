"""Take in photos, mark scales, give pictures and figures of a reading back."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.imaging.overlay import encoded, overlay, preview, resized, zoom_to
from analysis.imaging.photo import read_photo
from analysis.imaging.scale import scale_from_points, scale_typed
from analysis.imaging.viewing import seen
from analysis.report.answers import reading_answer, reading_sentence, void_rows

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from analysis.model.photo import Photo
    from analysis.model.reading import Reading

__all__ = [
    "encoded",
    "preview",
    "read_photo",
    "reading_answer",
    "reading_overlay",
    "reading_sentence",
    "resized",
    "scale_from_points",
    "scale_typed",
    "seen",
    "void_rows",
]


def reading_overlay(
    photo: Photo, reading: Reading, *, longest_px: int | None = None
) -> NDArray[np.uint8]:
    """Outline a reading's voids on its photo.

    Parameters
    ----------
    photo : Photo
    reading : Reading
        Of that photo.
    longest_px : int, optional
        Longest side of the picture; without it, full size.

    Returns
    -------
    ndarray of uint8, (rows, cols, 3)
    """
    photo = seen(photo, reading.face.view)
    zoom = zoom_to(photo.pixels.shape, longest_px)
    face = reading.face
    lines = [] if face.outline_px is None else [face.outline_px]
    return overlay(
        photo.pixels,
        reading.voids.outline_px,
        dashed_px=reading.honeycomb_px,
        face_px=[*lines, *face.left_out_px],
        zoom=zoom,
    )
