"""A reading as plain numbers and words, for files and other programs."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Literal

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.model.reading import JointMarks, Reading

_PERCENT = 100.0


def reading_answer(reading: Reading) -> dict[str, object]:
    """Lay out a reading with the fixed keys of the command line.

    Shares become percent; what is not known becomes None.

    Returns
    -------
    dict
        Ready for JSON.
    """
    summary = reading.summary
    scale = None if reading.scale is None else reading.scale.mm_per_px
    return {
        "photo_sha256": reading.photo_sha256,
        "width_px": reading.width_px,
        "height_px": reading.height_px,
        "mm_per_px": scale,
        "face_area_mm2": summary.face_area_mm2,
        "void_area_mm2": summary.void_area_mm2,
        "void_area_percent": summary.void_share.value * _PERCENT,
        "void_area_percent_low": summary.void_share.low * _PERCENT,
        "void_area_percent_high": summary.void_share.high * _PERCENT,
        "sampled_percent_low": summary.sampled_share.low * _PERCENT,
        "sampled_percent_high": summary.sampled_share.high * _PERCENT,
        "usual_percent_low": _usual(reading, "low"),
        "usual_percent_high": _usual(reading, "high"),
        "void_count": summary.void_count,
        "voids_per_m2": summary.voids_per_m2,
        "largest_void_mm": summary.largest_void_mm,
        "smallest_counted_mm": summary.smallest_counted_mm,
        "joint_band_percent": _percent(summary.joint_band_share),
        "joint_band_percent_low": _end(summary.joint_band_ends, 0),
        "joint_band_percent_high": _end(summary.joint_band_ends, 1),
        "open_face_percent": _percent(summary.open_face_share),
        "open_face_percent_low": _end(summary.open_face_ends, 0),
        "open_face_percent_high": _end(summary.open_face_ends, 1),
        **_joint_answer(summary.joint_marks),
        "honeycomb_percent": float(summary.honeycomb_share) * _PERCENT,
        "honeycomb_percent_low": _end(summary.honeycomb_ends, 0),
        "honeycomb_percent_high": _end(summary.honeycomb_ends, 1),
        "light_flags": sorted(reading.light_flags),
        "flags": sorted(reading.flags),
        "method_version": reading.method_version,
        **_kind_answer(reading),
        **_pair_answer(reading),
        "voids": void_rows(reading),
    }


def _end(ends: tuple[float, float] | None, which: int) -> float | None:
    return None if ends is None else ends[which] * _PERCENT


def _joint_answer(marks: JointMarks | None) -> dict[str, float | None]:
    """Tell what joints left beside voids; None where no joint was marked."""
    return {
        f"joint_{name}" if name == "length_mm" else name: None
        if marks is None
        else getattr(marks, name)
        for name in (
            "length_mm",
            "sand_length_mm",
            "fin_length_mm",
            "arris_loss_mm2_per_m",
        )
    }


def _kind_answer(reading: Reading) -> dict[str, object]:
    """Tell the kind of face it was measured as; nothing where none was given."""
    asked = reading.settings
    if asked.face_kind is None:
        return {}
    return {
        "face_kind": asked.face_kind,
        "pitch_mm": asked.pitch_mm,
        "depth_mm": asked.depth_mm,
    }


def _pair_answer(reading: Reading) -> dict[str, object]:
    """Tell what a pair adds; nothing for a reading of one photo."""
    second = reading.second_light
    if second is None:
        return {}
    return {
        "second_photo_sha256": second.photo_sha256,
        "shift_px": second.shift_px,
        "rotation_deg": second.rotation_deg,
        "registration_rms_px": second.registration_rms_px,
        "light_angle_deg": second.light_angle_deg,
    }


def reading_sentence(reading: Reading) -> str:
    """Say a reading in one line.

    Returns
    -------
    str
        Share with its interval, number and smallest counted size.
    """
    summary = reading.summary
    size = f"{_two_digits(summary.smallest_counted_px)} px"
    if summary.smallest_counted_mm is not None:
        size = f"{_two_digits(summary.smallest_counted_mm)} mm"
    value, low, high = (
        f"{share * _PERCENT:.2f}"
        for share in (
            summary.void_share.value,
            summary.void_share.low,
            summary.void_share.high,
        )
    )
    if not summary.void_count:
        return (
            f"no void of {size} or more found; "
            f"at most {_rounded_up(summary.void_share.high)} % could hide below that"
        )
    voids = "1 void" if summary.void_count == 1 else f"{summary.void_count} voids"
    return f"{value} % void area (95 %: {low} to {high} %), {voids} of {size} or more"


def _two_digits(value: float) -> str:
    """Round to two digits, never as a power of ten."""
    return f"{float(f'{value:.2g}'):.10g}"


def _rounded_up(share: float) -> str:
    """Percent, upwards: an upper bound must not be rounded away."""
    return f"{math.ceil(share * _PERCENT * _PERCENT) / _PERCENT:.2f}"


def void_rows(reading: Reading) -> list[dict[str, object]]:
    """List the counted voids, largest first.

    Returns
    -------
    list of dict
        Position and size in px and mm, kind, flags; mm is None without a scale.
    """
    voids = reading.voids
    scale = None if reading.scale is None else reading.scale.mm_per_px
    area = None if scale is None else voids.area_px * scale**2
    columns: dict[str, Sequence[object]] = {
        "row_px": voids.row_px.tolist(),
        "col_px": voids.col_px.tolist(),
        "row_mm": _scaled(voids.row_px, scale),
        "col_mm": _scaled(voids.col_px, scale),
        "area_mm2": [None] * len(voids) if area is None else area.tolist(),
        "equivalent_diameter_mm": _scaled(voids.equivalent_diameter_px, scale),
        "feret_max_mm": _scaled(voids.feret_max_px, scale),
        "kind": voids.kind.tolist(),
        "flags": [sorted(flags) for flags in voids.flags],
    }
    rows = [
        dict(zip(columns, values, strict=True))
        for values in zip(*columns.values(), strict=True)
    ]
    return [rows[at] for at in np.argsort(-voids.area_px, kind="stable")]


def _scaled(values: NDArray[np.float64], scale: float | None) -> Sequence[object]:
    if scale is None:
        return [None] * len(values)
    return list((values * scale).tolist())


def _usual(reading: Reading, end: Literal["low", "high"]) -> float | None:
    usual = reading.usual_share
    return None if usual is None else _percent(getattr(usual, end))


def _percent(share: float | None) -> float | None:
    return None if share is None else share * _PERCENT
