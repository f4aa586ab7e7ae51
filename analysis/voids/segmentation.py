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
from analysis.voids.candidates import Spots, find_spots
from analysis.voids.evidence import sharp_edge, weigh
from analysis.voids.honeycomb import honeycomb_patches
from analysis.voids.judging import judging_features, void_probability
from analysis.voids.lamp import SHADED_FROM_PX2, Lamp, find_lamp, join_lit
from analysis.voids.lines import on_lines
from analysis.voids.opening import network
from analysis.voids.opening.openings import Openings, draw_openings, paste
from analysis.voids.rejection import WORDS, rejected_kinds
from analysis.voids.shapes import (
    on_boundary,
    outlines,
    region_pixels,
    region_shapes,
)
from analysis.voids.splitting import split_touching

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.evidence import Evidence
    from analysis.voids.ground import Ground
    from analysis.voids.shapes import Pixels, Shapes

METHOD_VERSION = "1"
_SMOOTHING_PX = 0.7
EDGE_OF_BLUR = 2.5


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
    lamp : Lamp
        Where the light comes from.
    ground : Ground
        The light the face would show without voids.
    blur_px : float
        Width of a sharp edge in this photo, px.
    noise : float
        Median flicker of the ground, as a share of it.
    dark_share : float
        Part of the face in dark spots, counted or not, 0..1.
    spot_count : int
        Dark spots large enough to be shaded, counted or not.
    """

    voids: VoidCatalog
    rejected: VoidCatalog
    mask: NDArray[np.bool_]
    honeycomb: NDArray[np.bool_]
    lamp: Lamp
    ground: Ground
    blur_px: float
    noise: float
    dark_share: float
    spot_count: int


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
    array([99.])
    """
    smooth = np.asarray(
        cv2.GaussianBlur(light, (0, 0), _SMOOTHING_PX), dtype=np.float32
    )
    del light  # a large photo does not fit twice
    spots, around = find_spots(smooth, None if face.all() else face)
    pixels = region_pixels(spots.labels, len(spots.area_px))
    shapes = region_shapes(pixels)
    patches = honeycomb_patches(
        smooth, around.ground, around.dim, face, mm_per_px, _centres(shapes)
    )
    drawn = None
    if network.record() is not None and len(spots.area_px):
        blur = sharp_edge(spots) / EDGE_OF_BLUR
        drawn = draw_openings(smooth, around.grounds, spots, pixels, blur)
    seeds = (spots, pixels, shapes)
    if drawn is None:
        spots, lamp, doubts = _completed(spots, pixels, shapes, smooth, patches)
        logit = np.full(len(spots.area_px), np.inf)
    else:
        lamp = find_lamp(smooth, spots, pixels, shapes)
        spots, origin, doubts = _whole(spots, drawn, patches)
        feats = judging_features(seeds[0], seeds[2], drawn, drawn.levels, sharp_edge(seeds[0]))
        prob = void_probability(feats)
        logit = np.log(np.maximum(prob, 1e-9) / np.maximum(1 - prob, 1e-9))[origin]
        LAB["feats"] = feats
    pixels = region_pixels(spots.labels, len(spots.area_px))
    shapes = region_shapes(pixels)
    evidence = weigh(spots, pixels, shapes, photo, smooth, lamp.towards_rad)
    in_patch = _inside(patches, shapes)
    on_line = on_lines(around.dim, smooth, around.ground, pixels, shapes)
    at_edge = _edge_pixels(spots, face)
    if LAB.get("rules", True):
        reason = rejected_kinds(evidence, shapes, on_line, in_patch)
    else:
        reason = np.full(len(logit), "", dtype="<U12")
    if LAB.get("soft", True):
        reason[(reason == "stain") | (reason == "other")] = ""
    reason[(logit < LAB.get("cut", 0.0)) & (reason == "")] = "other"
    LAB["last"] = dict(spots=spots, shapes=shapes, evidence=evidence, on_line=on_line, in_patch=in_patch, logit=logit, reason=reason, drawn=drawn, seeds=seeds, origin=origin if drawn is not None else None, around=around)
    reason[_runs_out(at_edge, pixels, shapes, int(np.count_nonzero(face)))] = "edge"
    big = spots.area_px >= smallest_px2
    counted, turned_down = big & (reason == ""), big & (reason != "")
    lines = outlines(spots.labels, len(spots.area_px))
    sizes_mm = _diameters(spots.area_px) * (mm_per_px or np.nan)
    size_kind = np.where(in_patch, "honeycomb", size_kinds(sizes_mm))
    kind = np.where(counted, size_kind, reason)
    flags = _void_flags(
        {
            **doubts,
            Flag.TOUCHES_EDGE: at_edge > 0,
            Flag.NEAR_LIMIT: spots.area_px < _NEAR_LIMIT * smallest_px2,
            Flag.SHALLOW: spots.depth < _FAINT_DEPTH,
        }
    )

    def listed(chosen: NDArray[np.bool_]) -> VoidCatalog:
        return _catalog(chosen, spots, shapes, evidence, kind, flags, lines)

    mask = np.zeros(face.shape, dtype=bool)
    mask.ravel()[pixels.flat[counted[pixels.label]]] = True
    return Segmentation(
        voids=listed(counted),
        rejected=listed(turned_down),
        mask=mask,
        honeycomb=patches,
        lamp=lamp,
        ground=around.ground,
        blur_px=evidence.sharp_edge_px,
        noise=around.noise,
        dark_share=len(pixels.flat) / np.count_nonzero(face),
        spot_count=int(np.count_nonzero(spots.area_px >= SHADED_FROM_PX2)),
    )


LAB = {}


def _whole(
    spots: Spots, drawn: Openings, patches: NDArray[np.bool_]
) -> tuple[Spots, NDArray[np.intp], dict[Flag, NDArray[np.bool_]]]:
    """Give each spot its opening, and part openings that touch."""
    shape = (spots.labels.shape[0], spots.labels.shape[1])
    has = drawn.area_px > 0
    labels, origin, own_px = paste(drawn, has, shape)
    size = np.bincount(labels.ravel(), minlength=len(origin) + 1)[1:]
    area = drawn.area_px[origin] * size / np.maximum(own_px, 1)
    # Spots without an opening are kept as they are, to be told apart with a reason.
    bare = np.flatnonzero(~has)
    renumber = np.zeros(len(has) + 1, dtype=np.int32)
    renumber[bare + 1] = len(origin) + 1 + np.arange(len(bare))
    free = labels == 0
    labels[free] = renumber[spots.labels[free]]
    origin = np.concatenate([origin, bare])
    area = np.concatenate([area, spots.area_px[bare]])
    size = np.bincount(labels.ravel(), minlength=len(origin) + 1)[1:]
    alive = size > 0
    renumber = np.zeros(len(origin) + 1, dtype=np.int32)
    renumber[1:][alive] = 1 + np.arange(np.count_nonzero(alive))
    labels = renumber[labels]
    origin, area = origin[alive], area[alive]
    shapes = region_shapes(region_pixels(labels, len(origin)))
    labels, parent = split_touching(labels, shapes, _inside(patches, shapes))
    part = region_pixels(labels, len(parent)).total() / shapes.pixel_count[parent]
    at = origin[parent]
    whole = Spots(
        labels=labels,
        area_px=area[parent] * part,
        depth=spots.depth[at],
        noise=spots.noise[at],
        edge_px=spots.edge_px[at],
        ground=spots.ground[at],
        step=spots.step[at],
    )
    doubts = {
        Flag.SPLIT: np.bincount(parent, minlength=len(origin))[parent] > 1,
        Flag.LIT_INSIDE: whole.area_px > 1.3 * spots.area_px[at],
    }
    return whole, at, doubts


def _completed(
    spots: Spots,
    pixels: Pixels,
    shapes: Shapes,
    light: NDArray[np.float32],
    patches: NDArray[np.bool_],
) -> tuple[Spots, Lamp, dict[Flag, NDArray[np.bool_]]]:
    """Join the bright far walls of raked pits and part those that touch."""
    lamp = find_lamp(light, spots, pixels, shapes)
    dark_px = spots.area_px
    if lamp.towards_rad is not None and lamp.rakes:
        spots = join_lit(light, spots, shapes, lamp.towards_rad)
        shapes = region_shapes(region_pixels(spots.labels, len(spots.area_px)))
    labels, origin = split_touching(spots.labels, shapes, _inside(patches, shapes))
    size = region_pixels(labels, len(origin)).total()
    part = size / shapes.pixel_count[origin]
    doubts = {
        Flag.SPLIT: np.bincount(origin, minlength=len(dark_px))[origin] > 1,
        Flag.LIT_INSIDE: (spots.area_px > dark_px)[origin],
    }
    whole = Spots(
        labels=labels,
        area_px=spots.area_px[origin] * part,
        depth=spots.depth[origin],
        noise=spots.noise[origin],
        edge_px=spots.edge_px[origin],
        ground=spots.ground[origin],
        step=spots.step[origin],
    )
    return whole, lamp, doubts


def _centres(shapes: Shapes) -> NDArray[np.intp]:
    """Rows and columns of the centroids, (n, 2)."""
    return np.rint(np.column_stack([shapes.row_px, shapes.col_px])).astype(np.intp)


def _edge_pixels(spots: Spots, face: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Count the pixels of each spot at the edge of the face."""
    inner = cv2.erode(
        face.astype(np.uint8),
        np.ones((3, 3), np.uint8),
        borderType=cv2.BORDER_CONSTANT,
        borderValue=0,
    )
    met = spots.labels[inner == 0]
    return np.bincount(met, minlength=len(spots.area_px) + 1)[1:].astype(np.int64)


def _runs_out(
    at_edge: NDArray[np.int64], pixels: Pixels, shapes: Shapes, face_px: int
) -> NDArray[np.bool_]:
    """Tell large dark areas that the edge of the face bounds for a good part."""
    rim = pixels.total(on_boundary(pixels))
    out = (shapes.pixel_count > _LARGE_PART * face_px) & (at_edge > _EDGE_PART * rim)
    return np.asarray(out)


def _inside(patches: NDArray[np.bool_], shapes: Shapes) -> NDArray[np.bool_]:
    """Tell which regions have their centroid in a patch."""
    row, col = _centres(shapes).T
    return np.asarray(patches[row, col])


def _diameters(area: NDArray[np.float64]) -> NDArray[np.float64]:
    diameter: NDArray[np.float64] = np.sqrt(4.0 * area / np.pi)
    return diameter


def size_kinds(diameter_mm: NDArray[np.float64]) -> NDArray[np.str_]:
    """Name voids by their equivalent diameter; without a scale (NaN) all are bugholes.

    Examples
    --------
    >>> size_kinds(np.array([1.0, 2.0, 15.0, np.nan])).tolist()
    ['pinhole', 'bughole', 'large_void', 'bughole']
    """
    kind = np.full(len(diameter_mm), "bughole", dtype="<U12")
    kind[diameter_mm < BUGHOLE_FROM_MM] = "pinhole"
    kind[diameter_mm >= LARGE_VOID_FROM_MM] = "large_void"
    return kind


_FAINT_DEPTH = 0.3
_NEAR_LIMIT = 1.5
# A shadow over a part of the face is large and runs out of it.
_LARGE_PART, _EDGE_PART = 0.03, 0.25


def _void_flags(
    told: dict[Flag, NDArray[np.bool_]],
) -> tuple[frozenset[Flag], ...]:
    """Gather the flags that hold, void by void."""
    count = len(told[Flag.TOUCHES_EDGE])
    return tuple(
        frozenset(flag for flag, holds in told.items() if holds[at])
        for at in range(count)
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
        area_sd_px=area_sd(area, spots.step[at]),
        feret_max_px=shapes.feret_max_px[at],
        kind=np.where(kind[at] == "edge", "other", kind[at]),
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


# How far a boundary may lie off, together for all voids of a photo (drawn faces).
_BOUNDARY_SD_PX = 0.2


def area_sd(
    area: NDArray[np.float64], step: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Perimeter of a disc of that area times how far its boundary may be off.

    Examples
    --------
    >>> area_sd(np.array([np.pi * 100]), np.array([1.0])).round(2)
    array([12.57])
    """
    off: NDArray[np.float64] = np.sqrt(4 * np.pi * area) * _BOUNDARY_SD_PX * step
    return off
