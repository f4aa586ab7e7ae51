"""A measured face cut into square cells, for asking where its voids sit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.imaging.face import joint_band_mask, polygon_mask
from analysis.imaging.viewing import is_shown
from analysis.model.diagnosis import FaceGrid
from analysis.model.photo import JointLine

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from analysis.model.photo import Face
    from analysis.model.reading import Reading

CELLS = 150  # along the longer side of the face
LEAST_CELL_MM = 1.0
UNNAMED = "without a name"
_HALF = 0.5


def face_grid(reading: Reading) -> FaceGrid | None:
    """Cut a reading's face into cells; None without a scale."""
    scale = reading.scale
    if scale is None:
        return None
    face = reading.face
    low, step, shape = _frame(reading)

    def cells(points: NDArray[np.float64]) -> NDArray[np.float64]:
        return (points - low) / step - _HALF  # the first cell's centre is 0

    on_face = np.ones(shape, dtype=np.bool_)
    if face.outline_px is not None:
        on_face = polygon_mask(cells(face.outline_px), shape)
    on_face = on_face & ~_inside([cells(area) for area in face.left_out_px], shape)
    if face.view is not None:
        row, col = np.indices(shape).reshape(2, -1) + _HALF
        centres = low + step * np.column_stack([row, col])
        shown = is_shown(face.view, centres, reading.photo_px)
        on_face = on_face & shown.reshape(shape)
    if not on_face.any():
        return None
    band = face.joint_band_mm / scale.mm_per_px / step
    names = tuple(sorted({joint.name or UNNAMED for joint in face.joints}))
    joint = np.zeros(shape, dtype=np.int64)
    for number, name in enumerate(names, start=1):
        lines = [
            cells(one.line_px) for one in face.joints if (one.name or UNNAMED) == name
        ]
        near = _near(lines, band, shape)
        # A cell that an earlier joint has already belongs to neither: -1.
        joint = np.where(near & (joint != 0), -1, np.where(near, number, joint))
    # An area is closed by its first corner, to be a line all round.
    rims = [cells(np.vstack([area, area[:1]])) for area in face.left_out_px]
    patches = _inside([cells(area) for area in reading.honeycomb_px], shape)
    voids = reading.voids
    place = cells(np.column_stack([voids.row_px, voids.col_px]))
    return FaceGrid(
        cell_mm=step * scale.mm_per_px,
        on_face=on_face,
        joint=joint,
        joint_names=names,
        sloped=_inside([cells(area) for area in face.sloped_px], shape),
        by_insert=_near(rims, band, shape),
        height=_height(face, shape),
        patch=patches & on_face,
        row=place[:, 0],
        col=place[:, 1],
        diameter_mm=voids.equivalent_diameter_px * scale.mm_per_px,
    )


def _frame(reading: Reading) -> tuple[NDArray[np.float64], float, tuple[int, int]]:
    """Return the corner of the first cell, the side of a cell, px, and the cells."""
    whole = np.array([reading.height_px, reading.width_px], dtype=np.float64)
    low, high = np.full(2, -_HALF), whole - _HALF
    outline = reading.face.outline_px
    if outline is not None:
        low = np.clip(outline.min(axis=0), low, high - 1)
        high = np.clip(outline.max(axis=0), low + 1, high)
    least = 0.0 if reading.scale is None else LEAST_CELL_MM / reading.scale.mm_per_px
    step = max(float((high - low).max()) / CELLS, least)
    rows, cols = np.maximum(np.ceil((high - low) / step), 2).astype(int).tolist()
    return low, step, (rows, cols)


def _inside(
    areas: Iterable[NDArray[np.float64]], shape: tuple[int, int]
) -> NDArray[np.bool_]:
    found = np.zeros(shape, dtype=np.bool_)
    for area in areas:
        found |= polygon_mask(area, shape)
    return found


def _near(
    lines: Sequence[NDArray[np.float64]], reach: float, shape: tuple[int, int]
) -> NDArray[np.bool_]:
    if not lines:
        return np.zeros(shape, dtype=np.bool_)
    return joint_band_mask(
        tuple(JointLine(line_px=line) for line in lines), reach, shape
    )


def _height(face: Face, shape: tuple[int, int]) -> NDArray[np.float64] | None:
    """Return how high each cell stood in the form, 0..1; None when up is not known."""
    if not face.up:
        return None
    rows, cols = shape
    down = np.broadcast_to((np.arange(rows)[:, None] + 0.5) / rows, shape)
    across = np.broadcast_to((np.arange(cols) + 0.5) / cols, shape)
    height = {
        "top": 1 - down,
        "bottom": down,
        "right": across,
        "left": 1 - across,
    }[face.up]
    return np.array(height, dtype=np.float64)
