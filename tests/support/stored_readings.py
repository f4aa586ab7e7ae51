"""Photos and readings to keep: every field filled, values that rounding would show."""

import hashlib
from datetime import UTC, datetime

import numpy as np

from analysis.flags import Flag
from analysis.model.photo import Face, JointLine, Photo, Scale
from analysis.model.reading import (
    MeasureSettings,
    Reading,
    Share,
    Summary,
    VoidCatalog,
)


def photo_of(data, name="bänk 椅子 🪴.jpg"):
    return Photo(
        pixels=np.zeros((30, 40, 3), dtype=np.uint8),
        opaque=None,
        sha256=hashlib.sha256(data).hexdigest(),
        name=name,
        file_format="JPEG",
        taken_at=datetime(2026, 3, 29, 1, 30),  # noqa: DTZ001 - cameras state no zone
    )


def catalog(n, *, kinds=("bughole", "pinhole"), seed=0, area_px=None):
    rng = np.random.default_rng(seed)
    return VoidCatalog(
        row_px=rng.random(n) * 30,
        col_px=rng.random(n) * 40,
        area_px=rng.random(n) * 50 + 4 if area_px is None else np.array(area_px),
        area_sd_px=rng.random(n),
        feret_max_px=rng.random(n) * 9,
        kind=np.array([kinds[i % len(kinds)] for i in range(n)], dtype=np.str_),
        reason=tuple(f"reason {i}" for i in range(n)),
        contrast=rng.random(n),
        rim_sharpness=rng.random(n),
        shading=rng.random(n) * 2 - 1,
        colour_shift=rng.random(n) / 3,
        elongation=1 + rng.random(n),
        solidity=rng.random(n),
        flags=tuple(
            frozenset({Flag.SPLIT, Flag.SHALLOW} if i % 2 else ()) for i in range(n)
        ),
        outline_px=tuple(rng.random((3 + i, 2)) * 30 for i in range(n)),
    )


def reading_of(data, *, scale=True, n=5, **changes):
    mm_per_px = 0.1 + 0.2  # 0.30000000000000004
    values = {
        "photo_sha256": hashlib.sha256(data).hexdigest(),
        "width_px": 40,
        "height_px": 30,
        "scale": Scale(
            mm_per_px=mm_per_px, relative_uncertainty=0.01, method="two_points"
        )
        if scale
        else None,
        "face": Face(
            outline_px=np.array([[0.1, 0.2], [0.3, 39.7], [29 / 3, 20.0]]),
            left_out_px=(np.array([[1.0, 1], [2, 2], [1, 2]]),),
            joints=(JointLine(line_px=np.array([[0, 1.5], [9, 1.5]]), name="left"),),
            joint_band_mm=12.5,
        ),
        "settings": MeasureSettings(
            smallest_mm=0.7 if scale else None,
            face_kind="ribbed",
            pitch_mm=30.0 if scale else None,
            depth_mm=4.5 if scale else None,
        ),
        "summary": summary_of(scale=scale),
        "voids": catalog(n),
        "rejected": catalog(3, kinds=("crack", "stain", "other"), seed=1),
        "honeycomb_px": (np.array([[1.0, 2], [3, 4], [5, 6.1]]),),
        "light_flags": frozenset({Flag.UNEVEN_LIGHT}),
        "flags": frozenset({Flag.BLURRED, Flag.SMALL_FACE}),
        "lamp_towards_rad": -1 / 3,
        "method_version": "1",
        "library_versions": (("numpy", "2.4.6"), ("scikit-image", "0.26.0")),
        "measured_at": datetime(2026, 3, 31, 21, 30, 1, 123456, tzinfo=UTC),
        "photo_px": (30, 40),
    }
    return Reading(**(values | changes))


def summary_of(*, scale=True, **changes):
    values = {
        "face_area_px": 1000.25,
        "face_area_mm2": 90.0225 if scale else None,
        "void_area_px": 1 / 3,
        "void_area_mm2": 0.03 if scale else None,
        "void_share": Share(value=0.0125, low=0.01, high=0.015),
        "sampled_share": Share(value=0.0125, low=0.005, high=0.03),
        "void_count": 5,
        "voids_per_m2": 1e4 / 3 if scale else None,
        "largest_void_mm": 1.7 if scale else None,
        "smallest_counted_mm": 0.7 if scale else None,
        "smallest_counted_px": 2.2567583,
        "joint_band_share": 0.02,
        "open_face_share": 0.01,
        "honeycomb_share": 0.0,
    }
    return Summary(**(values | changes))
