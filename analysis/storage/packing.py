"""Arrays to rows and back, exactly."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Any

import numpy as np
import sqlalchemy as sa

from analysis.checks import sealed
from analysis.flags import Flag
from analysis.model.pair import SecondLight
from analysis.model.photo import Face, JointLine, Scale
from analysis.model.reading import (
    JointMarks,
    MeasureSettings,
    Reading,
    Share,
    Summary,
)
from analysis.model.view import View

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import ArrayLike, NDArray

    from analysis.model.reading import VoidCatalog

_PLAIN = (
    "face_area_px",
    "face_area_mm2",
    "void_area_px",
    "void_area_mm2",
    "void_count",
    "voids_per_m2",
    "largest_void_mm",
    "smallest_counted_mm",
    "smallest_counted_px",
    "joint_band_share",
    "open_face_share",
    "honeycomb_share",
)
_ENDS = ("joint_band", "open_face", "honeycomb")
_JOINT_MARKS = {
    "length_mm": "joint_length_mm",
    "sand_length_mm": "sand_length_mm",
    "fin_length_mm": "fin_length_mm",
    "arris_loss_mm2_per_m": "arris_loss_mm2_per_m",
}


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
        "view": None if face.view is None else asdict(face.view),
        "name": face.name,
        "up": face.up,
        "sloped_px": [area.tolist() for area in face.sloped_px],
    }


def unpack_face(packed: dict[str, Any]) -> Face:
    """Return the face again."""
    return Face(
        outline_px=packed["outline_px"],
        left_out_px=tuple(packed["left_out_px"]),
        joints=tuple(JointLine(**joint) for joint in packed["joints"]),
        joint_band_mm=packed["joint_band_mm"],
        view=_unpack_view(packed.get("view")),
        name=packed.get("name", ""),
        up=packed.get("up", ""),
        sloped_px=tuple(packed.get("sloped_px", ())),
    )


def _unpack_view(packed: dict[str, Any] | None) -> View | None:
    if packed is None:
        return None
    return View(**packed | {"numbers": tuple(packed["numbers"])})


def polygons(packed: Iterable[ArrayLike]) -> tuple[NDArray[np.float64], ...]:
    """Return sealed polygons."""
    return tuple(
        sealed(np.array(area, dtype=np.float64).reshape(-1, 2)) for area in packed
    )


def flag_set(packed: Iterable[str]) -> frozenset[Flag]:
    """Return the flags."""
    return frozenset(Flag(word) for word in packed)


def reading_values(reading: Reading) -> dict[str, Any]:
    """Return a reading's own row."""
    scale, summary = reading.scale, reading.summary
    values: dict[str, Any] = {name: getattr(summary, name) for name in _PLAIN}
    for name, share in (
        ("void_share", summary.void_share),
        ("sampled_share", summary.sampled_share),
    ):
        values |= {
            name: share.value,
            f"{name}_low": share.low,
            f"{name}_high": share.high,
        }
    for name in _ENDS:
        low, high = getattr(summary, f"{name}_ends") or (None, None)
        values |= {f"{name}_low": low, f"{name}_high": high}
    for name, column in _JOINT_MARKS.items():
        marks = summary.joint_marks
        values[column] = None if marks is None else getattr(marks, name)
    return values | {
        "width_px": reading.width_px,
        "height_px": reading.height_px,
        "mm_per_px": None if scale is None else scale.mm_per_px,
        "scale_uncertainty": None if scale is None else scale.relative_uncertainty,
        "scale_method": None if scale is None else scale.method,
        "face": pack_face(reading.face),
        "smallest_mm_asked": reading.settings.smallest_mm,
        "face_kind_asked": reading.settings.face_kind,
        "pitch_mm_asked": reading.settings.pitch_mm,
        "depth_mm_asked": reading.settings.depth_mm,
        "honeycomb_px": [area.tolist() for area in reading.honeycomb_px],
        "light_flags": sorted(reading.light_flags),
        "flags": sorted(reading.flags),
        "lamp_towards_rad": reading.lamp_towards_rad,
        "method_version": reading.method_version,
        "library_versions": [list(pair) for pair in reading.library_versions],
        "measured_at": reading.measured_at,
        "second_light": _packed_pair(reading.second_light),
    }


def _packed_pair(second: SecondLight | None) -> dict[str, Any] | sa.Null:
    # SQL's own NULL, so that a reading of one photo is told by the column alone.
    return sa.null() if second is None else asdict(second)


def _unpack_pair(packed: dict[str, Any] | None) -> SecondLight | None:
    if packed is None:
        return None
    return SecondLight(**packed | {"to_second": tuple(packed["to_second"])})


def unpack_reading(
    row: Any,  # noqa: ANN401 - rows carry any type
    voids: VoidCatalog,
    rejected: VoidCatalog,
) -> Reading:
    """Build the reading from its row and its voids."""
    scale = None
    if row.mm_per_px is not None:
        scale = Scale(
            mm_per_px=row.mm_per_px,
            relative_uncertainty=row.scale_uncertainty,
            method=row.scale_method,
        )
    summary: dict[str, Any] = {name: getattr(row, name) for name in _PLAIN}
    for name in ("void_share", "sampled_share"):
        summary[name] = Share(
            value=getattr(row, name),
            low=getattr(row, f"{name}_low"),
            high=getattr(row, f"{name}_high"),
        )
    for name in _ENDS:
        low, high = getattr(row, f"{name}_low"), getattr(row, f"{name}_high")
        summary[f"{name}_ends"] = None if low is None else (low, high)
    if row.joint_length_mm is not None:
        summary["joint_marks"] = JointMarks(
            **{name: getattr(row, column) for name, column in _JOINT_MARKS.items()}
        )
    return Reading(
        photo_sha256=row.sha256,
        width_px=row.width_px,
        height_px=row.height_px,
        scale=scale,
        face=unpack_face(row.face),
        settings=MeasureSettings(
            smallest_mm=row.smallest_mm_asked,
            face_kind=row.face_kind_asked,
            pitch_mm=row.pitch_mm_asked,
            depth_mm=row.depth_mm_asked,
        ),
        summary=Summary(**summary),
        voids=voids,
        rejected=rejected,
        honeycomb_px=polygons(row.honeycomb_px),
        light_flags=flag_set(row.light_flags),
        flags=flag_set(row.flags),
        lamp_towards_rad=row.lamp_towards_rad,
        method_version=row.method_version,
        library_versions=tuple((name, number) for name, number in row.library_versions),
        measured_at=row.measured_at,
        photo_px=(row.photo_height_px, row.photo_width_px),
        second_light=_unpack_pair(row.second_light),
        usual_share=None
        if row.usual_share_low is None
        else Share(
            value=row.void_share, low=row.usual_share_low, high=row.usual_share_high
        ),
    )
