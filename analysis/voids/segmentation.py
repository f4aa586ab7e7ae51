"""From a face to its voids: detect, complete, measure features, decide, list."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, TypeAlias

import cv2
import numpy as np

from analysis.flags import Flag
from analysis.voids.along_joints import pits_in_sand, told_along_joints
from analysis.voids.arris_row import chipped_off
from analysis.voids.candidates import find_candidates
from analysis.voids.completion import complete, inside
from analysis.voids.doubts import doubted_in_glare, doubts_by_part, doubts_of
from analysis.voids.features import measure_features
from analysis.voids.honeycomb import honeycomb_patches, part_of, with_holes
from analysis.voids.leak_sand import bare_sand, gap_closed
from analysis.voids.lines import on_lines
from analysis.voids.listing import Listing, size_kinds, void_flags
from analysis.voids.rejection import (
    Evidence,
    broad_stains,
    clear_marks,
    evidence_of_voids,
    rejected_kinds,
    several_clear,
)
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import (
    on_boundary,
    outlines,
    region_pixels,
    region_shapes,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.reading import JointMarks, VoidCatalog
    from analysis.voids.background import Background
    from analysis.voids.candidates import Candidates
    from analysis.voids.completion import Completed
    from analysis.voids.doubts import Doubts
    from analysis.voids.features import Features
    from analysis.voids.joints import JointLines
    from analysis.voids.leak_sand import Sand
    from analysis.voids.light_direction import LightDirection
    from analysis.voids.shapes import Pixels, Shapes

# Rows and columns of a picture.
Part: TypeAlias = tuple[slice, slice]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Segmentation:
    """Voids of a face.

    Attributes
    ----------
    voids, rejected : VoidCatalog
        At or above the smallest counted size; turned-down candidates of that size.
    mask : ndarray of bool, (rows, cols)
        Counted voids.
    honeycomb : ndarray of bool, (rows, cols)
        Extent of honeycomb patches.
    honeycomb_px : tuple of float
        95 % interval of their area, px².
    light : LightDirection
        Where the light comes from.
    background : Background
        The light the face would show without voids.
    blur_px : float
        Width of a sharp edge in this photo, px.
    noise : float
        Median noise of the background, as a share of it.
    counted_share : float
        Part of the face in counted voids, 0..1.
    candidate_count : int
        Dark candidates large enough to be shaded, counted or not.
    doubts : Doubts
    by_network : bool
        Whether the network drew the openings.
    evidence : Evidence
        Whether the face has voids at all, by its likeliest candidates.
    joint_marks : JointMarks or None
        What joints left beside voids; None without joints or scale.
    part_doubts : tuple of Doubts, or None
        Of the joint band and of the open face; None without joints or scale.
    """

    voids: VoidCatalog
    rejected: VoidCatalog
    mask: NDArray[np.bool_]
    honeycomb: NDArray[np.bool_]
    honeycomb_px: tuple[float, float]
    light: LightDirection
    background: Background
    blur_px: float
    noise: float
    counted_share: float
    candidate_count: int
    doubts: Doubts
    by_network: bool
    evidence: Evidence
    joint_marks: JointMarks | None = None
    part_doubts: tuple[Doubts, Doubts] | None = None


def segment(
    photo: NDArray[np.uint8],
    light: NDArray[np.float32],
    face: NDArray[np.bool_],
    *,
    smallest_px2: float,
    mm_per_px: float | None,
    own: Part | None = None,
    joints: JointLines | None = None,
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
    own : tuple of slice, optional
        Rows and columns to list: voids and spots with their centroid elsewhere are
        left to the neighbours of a tile.
    joints : JointLines, optional
        Along them bare sand, fins and broken arrises are looked for.

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
    >>> bool(90 < found.voids.area_px[0] < 110)
    True
    """
    smooth = np.asarray(
        cv2.GaussianBlur(light, (0, 0), SETTINGS.patches.smoothing_px), dtype=np.float32
    )
    del light  # a large photo does not fit twice
    smooth, sand = _sand_levelled(smooth, face, joints)
    candidates, around = find_candidates(smooth, None if face.all() else face)
    dark = region_pixels(candidates.labels, len(candidates.area_px))
    dark_shapes = region_shapes(dark)
    patches = honeycomb_patches(
        smooth, around.background, face, mm_per_px, _centres(dark_shapes)
    )
    whole = complete(
        smooth,
        face,
        candidates,
        around,
        dark,
        dark_shapes,
        patches.extent,
        None if sand is None else sand.mask,
    )
    regions = whole.regions
    pixels = region_pixels(regions.labels, len(regions.area_px))
    shapes = region_shapes(pixels)
    whole = doubted_in_glare(whole, around.background, shapes)
    features = measure_features(
        regions, pixels, shapes, photo, smooth, whole.light.towards_rad
    )
    patches = with_holes(
        patches,
        inside(patches.extent, shapes),
        whole.probability,
        regions.area_px,
    )
    in_patch = inside(patches.extent, shapes)
    on_line = on_lines(around.dim, smooth, around.background, pixels, shapes)
    at_edge = _edge_pixels(regions, face)
    pits = None
    if joints is not None and sand is not None:
        pits = pits_in_sand(sand, joints.mm_per_px, whole, shapes, features)
        whole = replace(whole, probability=pits.probability)
    chips = _chips(smooth, face, whole, shapes, in_patch, on_line, joints)
    evidence = _evidence(features, shapes, whole, on_line, chips)
    reason = rejected_kinds(features, shapes, on_line, in_patch, whole, evidence)
    reason[chips & (reason == "")] = "arris"
    marks = None
    if joints is not None:
        own_face = face if own is None else _cropped(face, own)
        marks, whole = told_along_joints(
            smooth,
            around.background,
            own_face,
            sand,
            pits,
            joints,
            whole,
            features,
            shapes,
            reason,
        )
    reason[_runs_out(at_edge, pixels, shapes, int(np.count_nonzero(face)))] = "edge"
    big = (regions.area_px >= smallest_px2) & _within(own, shapes)
    counted, turned_down = big & (reason == ""), big & (reason != "")
    sizes_mm = _diameters(regions.area_px) * (mm_per_px or np.nan)
    size_kind = np.where(in_patch, "honeycomb", size_kinds(sizes_mm))
    listing = Listing(
        regions=regions,
        shapes=shapes,
        features=features,
        kind=np.where(counted, size_kind, reason),
        flags=void_flags(
            {
                **whole.doubts,
                Flag.TOUCHES_EDGE: at_edge > 0,
                Flag.NEAR_LIMIT: regions.area_px
                < SETTINGS.flags.near_limit_ratio * smallest_px2,
                Flag.SHALLOW: regions.depth < SETTINGS.flags.shallow_depth,
            }
        ),
        lines=outlines(regions.labels, len(regions.area_px)),
    )
    mask = np.zeros(face.shape, dtype=bool)
    mask.ravel()[pixels.flat[counted[pixels.label]]] = True
    own_patches = patches if own is None else part_of(patches, own)
    return Segmentation(
        voids=listing.of(counted),
        rejected=listing.of(turned_down),
        mask=mask,
        honeycomb=own_patches.extent,
        honeycomb_px=(own_patches.low_px, own_patches.high_px),
        light=whole.light,
        background=around.background,
        blur_px=features.sharp_edge_px,
        noise=around.noise,
        counted_share=float(regions.area_px[counted].sum()) / np.count_nonzero(face),
        candidate_count=int(
            np.count_nonzero(
                (candidates.area_px >= SETTINGS.light.shaded_from_px2)
                & _within(own, dark_shapes)
            )
        ),
        doubts=doubts_of(whole, counted, turned_down),
        by_network=whole.by_network,
        evidence=evidence,
        joint_marks=marks,
        part_doubts=doubts_by_part(whole, shapes, joints, counted, turned_down),
    )


def _sand_levelled(
    light: NDArray[np.float32], face: NDArray[np.bool_], joints: JointLines | None
) -> tuple[NDArray[np.float32], Sand | None]:
    """Close the gaps of joints, and bring bare sand to the tone of the face."""
    if joints is None:
        return light, None
    light = gap_closed(light, joints.seam, joints.mm_per_px)
    sand = bare_sand(
        light,
        face,
        joints.band,
        joints.seam,
        joints.mm_per_px,
        lines_px=joints.lines_px,
    )
    return (light if sand is None else sand.levelled), sand


def _chips(
    smooth: NDArray[np.float32],
    face: NDArray[np.bool_],
    whole: Completed,
    shapes: Shapes,
    in_patch: NDArray[np.bool_],
    on_line: NDArray[np.bool_],
    joints: JointLines | None,
) -> NDArray[np.bool_]:
    """Tell what broke off an arris that nobody marked; at joints others judge."""
    if not whole.by_network:
        return np.zeros(len(in_patch), dtype=bool)
    holes = (whole.probability >= SETTINGS.rejection.counted_from) & ~in_patch
    if joints is not None:
        holes &= ~inside(joints.band, shapes)
    return chipped_off(smooth, shapes, holes, on_line, int(np.count_nonzero(face)))


def _evidence(
    features: Features,
    shapes: Shapes,
    whole: Completed,
    on_line: NDArray[np.bool_],
    chips: NDArray[np.bool_],
) -> Evidence:
    """Tell whether the face has voids, by all but chips and what may be stains."""
    likely, noise = whole.probability, whole.regions.noise
    told = ~chips & ~broad_stains(features, shapes)
    clear = told & clear_marks(features, shapes, likely, noise, on_line)
    return evidence_of_voids(
        likely[told],
        features.contrast[told],
        shapes.pixel_count[told],
        several_clear=several_clear(shapes, clear),
    )


def _within(own: Part | None, shapes: Shapes) -> NDArray[np.bool_]:
    """Tell which centroids lie in a part; every px of the photo is in one part."""
    if own is None:
        return np.ones(len(shapes.row_px), dtype=bool)
    inside = [
        (at >= part.start - 0.5) & (at < part.stop - 0.5)
        for at, part in zip((shapes.row_px, shapes.col_px), own, strict=True)
    ]
    return np.asarray(inside[0] & inside[1])


def _cropped(mask: NDArray[np.bool_], own: Part) -> NDArray[np.bool_]:
    kept = np.zeros_like(mask)
    kept[own] = mask[own]
    return kept


def _centres(shapes: Shapes) -> NDArray[np.intp]:
    """Rows and columns of the centroids, (n, 2)."""
    return np.rint(np.column_stack([shapes.row_px, shapes.col_px])).astype(np.intp)


def _edge_pixels(regions: Candidates, face: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Count the pixels of each region at the edge of the face."""
    labels = regions.labels
    if face.all() and min(face.shape) > 1:
        # The photo's own edge, each corner once.
        sides = labels[0], labels[-1], labels[1:-1, 0], labels[1:-1, -1]
        met = np.concatenate(sides)
    else:
        # Zeros beyond the photo: its own edge is one of the face too.
        inner = cv2.erode(
            face.astype(np.uint8),
            np.ones((3, 3), np.uint8),
            borderType=cv2.BORDER_CONSTANT,
            borderValue=0,
        )
        met = labels[inner == 0]
    return np.bincount(met, minlength=len(regions.area_px) + 1)[1:].astype(np.int64)


def _runs_out(
    at_edge: NDArray[np.int64], pixels: Pixels, shapes: Shapes, face_px: int
) -> NDArray[np.bool_]:
    """Tell large dark areas that the edge of the face bounds for a good part."""
    rim = pixels.total(on_boundary(pixels))
    large = shapes.pixel_count > SETTINGS.rejection.shadow_face_share * face_px
    return np.asarray(large & (at_edge > SETTINGS.rejection.shadow_rim_share * rim))


def _diameters(area: NDArray[np.float64]) -> NDArray[np.float64]:
    diameter: NDArray[np.float64] = np.sqrt(4.0 * area / np.pi)
    return diameter
