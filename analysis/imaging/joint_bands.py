"""Void share along each joint of a face, from a stored reading."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.imaging.face import joint_band_mask, polygon_mask

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.reading import Reading


def joint_band_shares(
    reading: Reading, *, smallest_mm: float | None = None
) -> dict[str, float]:
    """Return the void share of the band along each named joint.

    What lies near two joints counts for neither: it cannot be told which leaked.

    Parameters
    ----------
    reading : Reading
        With a scale and named joint lines.
    smallest_mm : float, optional
        Leave out voids below this equivalent diameter.

    Returns
    -------
    dict of str to float
        Joint and share, 0..1; joints without a face pixel of their own are left out.
    """
    scale, face = reading.scale, reading.face
    named = [joint for joint in face.joints if joint.name]
    if scale is None or not named:
        return {}
    shape = (reading.height_px, reading.width_px)
    measured = (
        np.ones(shape, dtype=bool)
        if face.outline_px is None
        else polygon_mask(face.outline_px, shape)
    )
    for area in face.left_out_px:
        measured &= ~polygon_mask(area, shape)
    band_px = face.joint_band_mm / scale.mm_per_px
    names = sorted({joint.name for joint in named})
    bands = [
        joint_band_mask(tuple(j for j in named if j.name == name), band_px, shape)
        for name in names
    ]
    # (joints, rows, cols) summed: px in exactly one band.
    measured &= np.sum(bands, axis=0, dtype=np.uint8) == 1
    voids = _void_mask(reading, (smallest_mm or 0.0) / scale.mm_per_px)
    found = {}
    for name, band in zip(names, bands, strict=True):
        own = band & measured
        if own.any():
            found[name] = float(np.count_nonzero(voids & own) / np.count_nonzero(own))
    return found


def _void_mask(reading: Reading, smallest_px: float) -> NDArray[np.bool_]:
    """Draw the counted voids from their outlines, each in a window of its own."""
    mask = np.zeros((reading.height_px, reading.width_px), dtype=bool)
    # A hair less, so that a void of just that size is not lost to rounding.
    large = reading.voids.equivalent_diameter_px >= smallest_px * (1 - 1e-9)
    for line, drawn in zip(reading.voids.outline_px, large.tolist(), strict=True):
        if not drawn or not len(line):
            continue
        start = np.maximum(np.floor(line.min(axis=0)), 0).astype(np.int64)
        stop = np.minimum(np.ceil(line.max(axis=0)) + 1, mask.shape).astype(np.int64)
        rows, cols = (stop - start).tolist()
        if rows > 0 and cols > 0:
            # A view into the mask: drawing a small polygon does not cost a whole
            # picture.
            window = mask[start[0] : stop[0], start[1] : stop[1]]
            window |= polygon_mask(line - start, (rows, cols))
    return mask
