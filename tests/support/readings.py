"""Readings made by hand, whose figures are plain to see."""

from datetime import UTC, datetime

import numpy as np

from analysis.flags import Flag
from analysis.model.photo import Face, Scale
from analysis.model.reading import (
    MeasureSettings,
    Reading,
    Share,
    Summary,
    VoidCatalog,
)


def catalog(areas_px=(), **changes):
    """Discs of given areas, n-th at (10 n, 20 n)."""
    n = len(areas_px)
    ones = np.ones(n)
    columns = {
        "row_px": 10.0 * np.arange(n),
        "col_px": 20.0 * np.arange(n),
        "area_px": np.array(areas_px, dtype=float),
        "area_sd_px": 0.1 * ones,
        "feret_max_px": 5.0 * ones,
        "kind": np.full(n, "pinhole"),
        "reason": ("",) * n,
        "contrast": 0.5 * ones,
        "rim_sharpness": ones,
        "shading": 0 * ones,
        "colour_shift": 0 * ones,
        "elongation": ones,
        "solidity": ones,
        "flags": (frozenset(),) * n,
        "outline_px": tuple(
            np.array([[0.0, 0.0], [0.0, 2.0], [2.0, 2.0]]) for _ in range(n)
        ),
    }
    return VoidCatalog(**(columns | changes))


def summary(**changes):
    figures = {
        "face_area_px": 10_000.0,
        "face_area_mm2": 400.0,
        "void_area_px": 91.0,
        "void_area_mm2": 3.64,
        "void_share": Share(value=0.0091, low=0.0080, high=0.0105),
        "sampled_share": Share(value=0.0091, low=0.0070, high=0.0120),
        "void_count": 123,
        "voids_per_m2": 307_500.0,
        "largest_void_mm": 2.5,
        "smallest_counted_mm": 0.5,
        "smallest_counted_px": 2.5,
        "joint_band_share": None,
        "open_face_share": None,
        "honeycomb_share": 0.02,
    }
    return Summary(**(figures | changes))


def reading(voids=None, *, mm_per_px=0.2, **changes):
    scale = None
    if mm_per_px is not None:
        scale = Scale(mm_per_px=mm_per_px, relative_uncertainty=0.01, method="typed")
    parts = {
        "photo_sha256": "ab" * 32,
        "width_px": 400,
        "height_px": 300,
        "scale": scale,
        "face": Face(),
        "settings": MeasureSettings(),
        "summary": summary(),
        "voids": catalog() if voids is None else voids,
        "rejected": catalog(),
        "honeycomb_px": (),
        "light_flags": frozenset({Flag.UNEVEN_LIGHT, Flag.TOO_DARK}),
        "flags": frozenset({Flag.WHOLE_PHOTO, Flag.BLURRED}),
        "lamp_towards_rad": None,
        "method_version": "1",
        "library_versions": (("numpy", "2"),),
        "measured_at": datetime(2026, 1, 2, tzinfo=UTC),
        "photo_px": (300, 400),
    }
    return Reading(**(parts | changes))
