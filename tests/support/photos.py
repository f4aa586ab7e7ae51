"""Small photos whose voids are placed by hand, so that every figure is plain."""

from __future__ import annotations

import hashlib
import io
from datetime import UTC, datetime, timedelta

import numpy as np
from PIL import Image

from analysis.imaging.photo import read_photo
from analysis.model.photo import Face, JointLine, Scale
from analysis.model.reading import (
    MeasureSettings,
    Reading,
    Share,
    Summary,
    VoidCatalog,
)

ROWS, COLS = 40, 60
BEGIN = datetime(2026, 3, 31, 12, 0, tzinfo=UTC)
# Bands of 4 px along both sides: the open face is what is left between them.
BAND_PX = 4
LEFT = JointLine(line_px=np.array([[0.0, 0.0], [ROWS - 1.0, 0.0]]), name="left")
RIGHT = JointLine(
    line_px=np.array([[0.0, COLS - 1.0], [ROWS - 1.0, COLS - 1.0]]), name="right"
)


def png(number: int) -> bytes:
    """A photo unlike any other."""
    pixels = np.random.default_rng(number).integers(90, 200, (ROWS, COLS, 3))
    file = io.BytesIO()
    Image.fromarray(pixels.astype(np.uint8)).save(file, "PNG")
    return file.getvalue()


def square(row: float, col: float, side: int) -> np.ndarray:
    """Outline of a square void whose first pixel is (row, col)."""
    end = side - 0.6
    return np.array(
        [
            [row - 0.4, col - 0.4],
            [row - 0.4, col + end],
            [row + end, col + end],
            [row + end, col - 0.4],
        ]
    )


def voids_at(places: list[tuple[int, int, int]]) -> VoidCatalog:
    """Squares of given sides, px, by the row and column they begin at."""
    n = len(places)
    row, col, side = np.array(places, dtype=float).reshape(n, 3).T
    ones = np.ones(n)
    return VoidCatalog(
        row_px=row + (side - 1) / 2,
        col_px=col + (side - 1) / 2,
        area_px=side**2,
        area_sd_px=0.1 * ones,
        feret_max_px=side * 1.4,
        kind=np.full(n, "bughole"),
        reason=("",) * n,
        contrast=0.5 * ones,
        rim_sharpness=ones,
        shading=0 * ones,
        colour_shift=0 * ones,
        elongation=ones,
        solidity=ones,
        flags=(frozenset(),) * n,
        outline_px=tuple(square(r, c, int(s)) for r, c, s in places),
    )


def measured(
    data: bytes,
    places: list[tuple[int, int, int]],
    *,
    minutes: float,
    mm_per_px: float | None = 2.0,
    joints: bool = False,
    method_version: str = "1",
) -> Reading:
    """What a measuring of such voids gives, `minutes` after the beginning."""
    voids = voids_at(places)
    scale = None
    if mm_per_px is not None:
        scale = Scale(mm_per_px=mm_per_px, relative_uncertainty=0.01, method="typed")
    mm2 = None if mm_per_px is None else mm_per_px**2
    whole, area = float(ROWS * COLS), float(voids.area_px.sum())
    beside = np.array(
        [c + (s - 1) / 2 < BAND_PX or c + (s - 1) / 2 >= COLS - BAND_PX
         for _, c, s in places],
        dtype=bool,
    )  # fmt: skip
    in_band = float(voids.area_px[beside].sum())
    band, share = 2.0 * BAND_PX * ROWS, area / whole
    figures = Summary(
        face_area_px=whole,
        face_area_mm2=None if mm2 is None else whole * mm2,
        void_area_px=area,
        void_area_mm2=None if mm2 is None else area * mm2,
        void_share=Share(value=share, low=0.9 * share, high=1.1 * share + 1e-4),
        sampled_share=Share(value=share, low=0.8 * share, high=1.3 * share + 1e-4),
        void_count=len(places),
        voids_per_m2=None if mm2 is None else len(places) / (whole * mm2) * 1e6,
        largest_void_mm=None
        if mm_per_px is None or not places
        else float(np.sqrt(4 / np.pi * voids.area_px.max())) * mm_per_px,
        smallest_counted_mm=None if mm_per_px is None else mm_per_px,
        smallest_counted_px=1.0,
        joint_band_share=in_band / band if joints else None,
        open_face_share=(area - in_band) / (whole - band) if joints else None,
        honeycomb_share=0.0,
    )
    return Reading(
        photo_sha256=hashlib.sha256(data).hexdigest(),
        width_px=COLS,
        height_px=ROWS,
        scale=scale,
        face=Face(
            joints=(LEFT, RIGHT) if joints else (),
            joint_band_mm=BAND_PX * (mm_per_px or 1.0) - 0.5,
        ),
        settings=MeasureSettings(),
        summary=figures,
        voids=voids,
        rejected=voids_at([]),
        honeycomb_px=(),
        light_flags=frozenset(),
        flags=frozenset(),
        lamp_towards_rad=None,
        method_version=method_version,
        library_versions=(("numpy", "2"),),
        measured_at=BEGIN + timedelta(minutes=minutes),
        photo_px=(ROWS, COLS),
    )


def photo_of(data: bytes, name: str):
    """The same photo, decoded."""
    return read_photo(data, name)
