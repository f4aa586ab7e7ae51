"""From a face to its voids: detect, label, weigh, list."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.flags import Flag
from analysis.model.reading import (
    BUGHOLE_FROM_MM,
    LARGE_VOID_FROM_MM,
    VoidCatalog,
)
from analysis.voids.candidates import find_spots
from analysis.voids.evidence import weigh
from analysis.voids.lamp import join_lit, lamp_side
from analysis.voids.rejection import WORDS, rejected_kinds
from analysis.voids.shapes import outlines, region_pixels, region_shapes

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.candidates import Spots
    from analysis.voids.evidence import Evidence
    from analysis.voids.shapes import Shapes

METHOD_VERSION = "1"
_SMOOTHING_PX = 0.7
JOIN = False


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segmentation:
    """Voids of a face.

    Attributes
    ----------
    voids, rejected : VoidCatalog
        At or above the smallest counted size; turned-down spots of that size.
    mask : ndarray of bool, (rows, cols)
        Counted voids.
    honeycomb : ndarray of bool, (rows, cols)
        Extent of honeycomb patches.
    lamp_towards_rad : float or None
        Direction towards the lamp; None when the light has no side.
    blur_px : float
        Width of a sharp edge in this photo, px.
    noise : float
        Median flicker of the ground, as a share of it.
    """

    voids: VoidCatalog
    rejected: VoidCatalog
    mask: NDArray[np.bool_]
    honeycomb: NDArray[np.bool_]
    lamp_towards_rad: float | None
    blur_px: float
    noise: float


def segment(
    photo: NDArray[np.uint8],
    light: NDArray[np.float32],
    face: NDArray[np.bool_],
    *,
    smallest_px2: float,
    mm_per_px: float | None,
) -> Segmentation:
    """Find the voids of a face.

    Parameters
    ----------
    photo : ndarray of uint8, (rows, cols, 3)
        sRGB.
    light : ndarray of float32, (rows, cols)
        Linear light of the same pixels.
    face : ndarray of bool, (rows, cols)
        Measured pixels.
    smallest_px2 : float
        Smallest counted area, px².
    mm_per_px : float or None
        Scale, for the kinds by size; without one every void is a bughole.

    Returns
    -------
    Segmentation

    Examples
    --------
    >>> photo = np.full((90, 120, 3), 160, np.uint8)
    >>> photo[40:50, 60:70] = 40
    >>> light = (photo[..., 0] / 255.0).astype(np.float32) ** 2.2
    >>> face = np.ones(light.shape, bool)
    >>> found = segment(photo, light, face, smallest_px2=4, mm_per_px=None)
    >>> found.voids.area_px.round(0)
    array([100.])
    """
    smooth = cv2.GaussianBlur(light, (0, 0), _SMOOTHING_PX)
    spots = find_spots(smooth, None if face.all() else face)
    pixels = region_pixels(spots.labels, len(spots.area_px))
    shapes = region_shapes(pixels)
    towards = lamp_side(smooth, spots, shapes)
    if JOIN and towards is not None:
        spots = join_lit(smooth, spots, shapes, towards)
        pixels = region_pixels(spots.labels, len(spots.area_px))
        shapes = region_shapes(pixels)
    evidence = weigh(spots, pixels, shapes, photo, smooth, towards)
    reason = rejected_kinds(evidence, shapes)
    big = spots.area_px >= smallest_px2
    counted, turned_down = big & (reason == ""), big & (reason != "")
    lines = outlines(spots.labels, len(spots.area_px))
    sizes_mm = _diameters(spots.area_px) * (mm_per_px or np.nan)
    kind = np.where(counted, _size_kinds(sizes_mm), reason)
    flags = _void_flags(spots, face, lines, smallest_px2)

    def listed(chosen: NDArray[np.bool_]) -> VoidCatalog:
        return _catalog(chosen, spots, shapes, evidence, kind, flags, lines)

    mask = np.concatenate([[False], counted])[spots.labels]
    return Segmentation(
        voids=listed(counted),
        rejected=listed(turned_down),
        mask=mask,
        honeycomb=np.zeros(mask.shape, dtype=bool),
        lamp_towards_rad=towards,
        blur_px=evidence.sharp_edge_px,
        noise=float(np.median(spots.noise)) if len(spots.noise) else 0.0,
    )


def _diameters(area: NDArray[np.float64]) -> NDArray[np.float64]:
    diameter: NDArray[np.float64] = np.sqrt(4.0 * area / np.pi)
    return diameter


def _size_kinds(diameter_mm: NDArray[np.float64]) -> NDArray[np.str_]:
    kind = np.full(len(diameter_mm), "bughole", dtype="<U12")
    kind[diameter_mm < BUGHOLE_FROM_MM] = "pinhole"
    kind[diameter_mm >= LARGE_VOID_FROM_MM] = "large_void"
    return kind


_FAINT_DEPTH = 0.3
_NEAR_LIMIT = 1.5


def _void_flags(
    spots: Spots,
    face: NDArray[np.bool_],
    lines: tuple[NDArray[np.float64], ...],
    smallest_px2: float,
) -> tuple[frozenset[Flag], ...]:
    edge = np.zeros(len(spots.area_px) + 1, dtype=bool)
    inner = cv2.erode(
        face.astype(np.uint8),
        np.ones((3, 3), np.uint8),
        borderType=cv2.BORDER_CONSTANT,
        borderValue=0,
    )
    edge[spots.labels[inner == 0]] = True
    told = {
        Flag.TOUCHES_EDGE: edge[1:],
        Flag.NEAR_LIMIT: spots.area_px < _NEAR_LIMIT * smallest_px2,
        Flag.SHALLOW: spots.depth < _FAINT_DEPTH,
    }
    return tuple(
        frozenset(flag for flag, holds in told.items() if holds[at])
        for at in range(len(lines))
    )


def _catalog(
    chosen: NDArray[np.bool_],
    spots: Spots,
    shapes: Shapes,
    evidence: Evidence,
    kind: NDArray[np.str_],
    flags: tuple[frozenset[Flag], ...],
    lines: tuple[NDArray[np.float64], ...],
) -> VoidCatalog:
    at = np.flatnonzero(chosen)
    area = spots.area_px[at]
    return VoidCatalog(
        row_px=shapes.row_px[at],
        col_px=shapes.col_px[at],
        area_px=area,
        area_sd_px=_area_sd(area, spots.edge_px[at] * spots.step[at]),
        feret_max_px=shapes.feret_max_px[at],
        kind=kind[at],
        reason=tuple(WORDS.get(str(word), "") for word in kind[at]),
        contrast=evidence.contrast[at],
        rim_sharpness=evidence.rim_sharpness[at],
        shading=evidence.shading[at],
        colour_shift=evidence.colour_shift[at],
        elongation=shapes.elongation[at],
        solidity=shapes.solidity[at],
        flags=tuple(flags[i] for i in at),
        outline_px=tuple(lines[i] for i in at),
    )


# The boundary of one void is good to about this part of its edge width.
_EDGE_SHARE = 0.2


def _area_sd(
    area: NDArray[np.float64], edge_px: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Perimeter of a disc of that area times how far its boundary may be off."""
    off: NDArray[np.float64] = np.sqrt(4 * np.pi * area) * _EDGE_SHARE * edge_px
    return off
