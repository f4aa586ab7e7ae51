"""Arrays to rows and back, exactly."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from analysis.checks import sealed
from analysis.flags import Flag
from analysis.model.photo import Face, JointLine
from analysis.model.reading import VoidCatalog

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import ArrayLike, NDArray

_NUMBERS = (
    "row_px",
    "col_px",
    "area_px",
    "area_sd_px",
    "feret_max_px",
    "contrast",
    "rim_sharpness",
    "shading",
    "colour_shift",
    "elongation",
    "solidity",
)


def pack_face(face: Face) -> dict[str, Any]:
    """Return a face as JSON holds it; Python writes floats so that they come back."""
    outline = face.outline_px
    return {
        "outline_px": None if outline is None else outline.tolist(),
        "left_out_px": [area.tolist() for area in face.left_out_px],
        "joints": [
            {"name": joint.name, "line_px": joint.line_px.tolist()}
            for joint in face.joints
        ],
        "joint_band_mm": float(face.joint_band_mm),
    }


def unpack_face(packed: dict[str, Any]) -> Face:
    """Return the face again."""
    return Face(
        outline_px=packed["outline_px"],
        left_out_px=tuple(packed["left_out_px"]),
        joints=tuple(JointLine(**joint) for joint in packed["joints"]),
        joint_band_mm=packed["joint_band_mm"],
    )


def polygons(packed: Iterable[ArrayLike]) -> tuple[NDArray[np.float64], ...]:
    """Return sealed polygons."""
    return tuple(
        sealed(np.array(area, dtype=np.float64).reshape(-1, 2)) for area in packed
    )


def flag_set(packed: Iterable[str]) -> frozenset[Flag]:
    """Return the flags."""
    return frozenset(Flag(word) for word in packed)


def void_rows(
    reading_id: int, catalog: VoidCatalog, *, rejected: bool
) -> list[dict[str, Any]]:
    """Return one row per void."""
    columns = {name: getattr(catalog, name).tolist() for name in _NUMBERS}
    return [
        {name: values[position] for name, values in columns.items()}
        | {
            "reading_id": reading_id,
            "position": position,
            "kind": str(catalog.kind[position]),
            "rejected": int(rejected),
            "reason": catalog.reason[position],
            "flags": sorted(catalog.flags[position]),
            "outline": np.asarray(catalog.outline_px[position], dtype="<f8").tobytes(),
        }
        for position in range(len(catalog))
    ]


def catalog(rows: Sequence[Any]) -> VoidCatalog:
    """Return the voids of the rows given."""
    numbers = {
        name: np.array([getattr(row, name) for row in rows], dtype=np.float64)
        for name in _NUMBERS
    }
    return VoidCatalog(
        **numbers,
        kind=np.array([row.kind for row in rows], dtype=np.str_),
        reason=tuple(row.reason for row in rows),
        flags=tuple(flag_set(row.flags) for row in rows),
        outline_px=polygons(np.frombuffer(row.outline, dtype="<f8") for row in rows),
    )
