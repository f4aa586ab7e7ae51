"""From dark candidates to whole openings, parted where several touch."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.flags import Flag
from analysis.voids.bodies import bodies_apart
from analysis.voids.candidates import Candidates
from analysis.voids.features import sharp_edge
from analysis.voids.judging import judging_features, void_probability
from analysis.voids.light_direction import (
    LightDirection,
    find_light_direction,
    join_lit,
    raked_towards,
)
from analysis.voids.opening import network
from analysis.voids.opening.openings import draw_openings
from analysis.voids.opening.pasting import paste
from analysis.voids.opening.planes import EDGE_OF_BLUR
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import region_pixels, region_shapes
from analysis.voids.splitting import split_touching

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.candidates import Surroundings
    from analysis.voids.opening.openings import Openings
    from analysis.voids.shapes import Pixels, Shapes

    _Floats = NDArray[np.float64]

_SET = SETTINGS.opening


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Completed:
    """Openings of candidates.

    Attributes
    ----------
    regions : Candidates
        As the candidates were, but with the labels and areas of their openings.
    origin : ndarray of intp, (m,)
        Candidate that each region came from.
    probability : ndarray of float64, (m,)
        Of being a void, 0..1.
    network_logit : ndarray of float64, (m,)
        The network's own log odds of a void; 0 without a network.
    rim_doubt_px : ndarray of float64, (m,)
        Px whose side of the rim is not sure, each by how unsure it is, px².
    light : LightDirection
    by_network : bool
        Whether the network drew the openings.
    doubts : dict of Flag to ndarray of bool, (m,)
    """

    regions: Candidates
    origin: NDArray[np.intp]
    probability: _Floats
    network_logit: _Floats
    rim_doubt_px: _Floats
    light: LightDirection
    by_network: bool
    doubts: dict[Flag, NDArray[np.bool_]]


def complete(
    light: NDArray[np.float32],
    face: NDArray[np.bool_],
    candidates: Candidates,
    around: Surroundings,
    pixels: Pixels,
    shapes: Shapes,
    patches: NDArray[np.bool_],
    sand: NDArray[np.bool_] | None = None,
) -> Completed:
    """Give each candidate its whole opening, and part openings that touch.

    Parameters
    ----------
    light : ndarray of float32, (rows, cols)
        Linear light, lightly smoothed.
    face : ndarray of bool, (rows, cols)
        Measured pixels; openings end where the face does.
    candidates : Candidates
    around : Surroundings
    pixels : Pixels
    shapes : Shapes
        Of the candidates.
    patches : ndarray of bool, (rows, cols)
        Honeycomb, in which openings are lobed however long they are.
    sand : ndarray of bool, (rows, cols), optional
        Bare sand along a joint, whose grains do not tell what the face is like.

    Returns
    -------
    Completed
        Where the network cannot be used, openings by darkness and bright far walls.
    """
    if network.record() is None:
        seen = find_light_direction(light, candidates, pixels, shapes)
        return _by_rays(light, candidates, shapes, patches, seen)
    rakes = raked_towards(light, candidates, shapes) is not None
    blur = sharp_edge(candidates) / EDGE_OF_BLUR
    # Each pit of a chain is drawn by itself: the chain as one would be drawn with what
    # lies between its pits. Honeycomb has no pits of its own.
    in_patch = inside(patches, shapes)
    labels, body_of, is_line = bodies_apart(candidates.labels, shapes, in_patch)
    if is_line.any():
        candidates = _shared_out(
            candidates, body_of, labels, body_of, candidates.area_px, shapes.pixel_count
        )
        pixels = region_pixels(labels, len(body_of))
        shapes = region_shapes(pixels)
        in_patch = inside(patches, shapes)
    parts, part_of = _parted(
        candidates,
        candidates.labels,
        np.arange(pixels.count),
        candidates.area_px,
        shapes,
        in_patch,
        left_whole=in_patch | is_line,
    )
    if len(part_of) > pixels.count:
        pixels = region_pixels(parts.labels, len(part_of))
    drawn = draw_openings(light, around.backgrounds, parts, pixels, blur)
    in_sand = None if sand is None else inside(sand, region_shapes(pixels))
    # What is left of a line would be drawn with the pits that were taken from it.
    has = (drawn.area_px > 0) & ~is_line[part_of] & ~_swallow_patches(drawn, patches)
    return _by_network(face, parts, pixels, patches, drawn, has, in_sand, rakes=rakes)


def _by_network(
    face: NDArray[np.bool_],
    candidates: Candidates,
    pixels: Pixels,
    patches: NDArray[np.bool_],
    drawn: Openings,
    has: NDArray[np.bool_],
    in_sand: NDArray[np.bool_] | None,
    *,
    rakes: bool,
) -> Completed:
    sharp = sharp_edge(candidates)
    likely = void_probability(
        judging_features(candidates, drawn.void_logit, sharp, in_sand)
    )
    labels, origin, area = _pasted(face, candidates, pixels, drawn, has)
    shapes = region_shapes(region_pixels(labels, len(origin)))
    regions, parent = _parted(
        candidates, labels, origin, area, shapes, inside(patches, shapes)
    )
    # Candidate of each part: its opening is `parent`, the opening's candidate `origin`.
    at = origin[parent]
    side = float(np.hypot(*drawn.light))
    towards = float(np.arctan2(drawn.light[1], drawn.light[0]))
    # What is left of an opening, or one part of it, bears that share of its doubt.
    part = regions.area_px / np.maximum(drawn.area_px[at], 1e-6)
    return Completed(
        regions=regions,
        origin=at,
        probability=likely[at],
        network_logit=np.asarray(drawn.void_logit[at], dtype=np.float64),
        rim_doubt_px=drawn.unsure_px[at] * np.minimum(part, 1.0),
        light=LightDirection(
            towards_rad=towards if side > _SET.least_side_share else None,
            rakes=rakes,
        ),
        by_network=True,
        doubts={
            Flag.SPLIT: np.bincount(parent, minlength=len(origin))[parent] > 1,
            Flag.LIT_INSIDE: drawn.area_px[at]
            > _SET.lit_inside_ratio * candidates.area_px[at],
        },
    )


def _swallow_patches(drawn: Openings, patches: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Tell openings that take most of a patch of honeycomb for one void."""
    if not patches.any():
        return np.zeros(len(drawn.area_px), dtype=bool)
    _, number = cv2.connectedComponents(patches.view(np.uint8), connectivity=8)
    size = np.bincount(number.ravel())
    rows, cols = patches.shape
    row = np.clip(np.rint(drawn.frames.row_px), 0, rows - 1).astype(np.intp)
    col = np.clip(np.rint(drawn.frames.col_px), 0, cols - 1).astype(np.intp)
    own = number[row, col]
    most = SETTINGS.opening.most_of_patch_share * size[own]
    return np.asarray((own > 0) & (drawn.area_px > most))


def _pasted(
    face: NDArray[np.bool_],
    candidates: Candidates,
    pixels: Pixels,
    drawn: Openings,
    has: NDArray[np.bool_],
) -> tuple[NDArray[np.int32], NDArray[np.intp], _Floats]:
    """Label image of the openings; candidates without one keep their dark part.

    An opening of the network is as large as its px are likely; what the edge of the
    face or another opening takes away of it is taken away in whole px.
    """
    shape = (face.shape[0], face.shape[1])
    labels, origin, own_px = paste(drawn, has, shape)
    if not face.all():
        labels[~face] = 0
    bare = np.flatnonzero(~has)
    renumber = np.zeros(len(has) + 1, dtype=np.int32)
    # A table from candidates to new labels. Those with an opening stay 0 in it: their
    # dark px outside of the opening become background.
    renumber[bare + 1] = len(origin) + 1 + np.arange(len(bare))
    flat = labels.ravel()
    free = flat[pixels.flat] == 0
    flat[pixels.flat[free]] = renumber[pixels.label[free] + 1]
    count = len(origin) + len(bare)
    on = np.flatnonzero(labels > 0)
    size = np.bincount(flat[on], minlength=count + 1)[1:].astype(np.float64)
    area = np.concatenate([drawn.area_px[origin], candidates.area_px[bare]])
    area[: len(origin)] *= size[: len(origin)] / np.maximum(own_px, 1.0)
    origin = np.concatenate([origin, bare])
    # A region that the face's edge or others left no px is dropped; labels close up.
    alive = size > 0
    renumber = np.zeros(count + 1, dtype=np.int32)
    renumber[1:][alive] = 1 + np.arange(np.count_nonzero(alive))
    flat[on] = renumber[flat[on]]
    return labels, origin[alive], area[alive]


def _parted(
    candidates: Candidates,
    labels: NDArray[np.int32],
    origin: NDArray[np.intp],
    area: _Floats,
    shapes: Shapes,
    in_patch: NDArray[np.bool_],
    left_whole: NDArray[np.bool_] | None = None,
) -> tuple[Candidates, NDArray[np.intp]]:
    """Part regions that touch; also the region that each part was of."""
    labels, parent = split_touching(labels, shapes, in_patch, left_whole)
    parts = _shared_out(
        candidates, origin[parent], labels, parent, area, shapes.pixel_count
    )
    return parts, parent


def _shared_out(
    candidates: Candidates,
    at: NDArray[np.intp],
    labels: NDArray[np.int32],
    parent: NDArray[np.intp],
    area: _Floats,
    whole_px: _Floats,
) -> Candidates:
    """Return parts of regions: figures of their candidates, and areas by whole px.

    Of each part `at` tells the candidate, and `parent` the region, which has an area
    and so many whole px.
    """
    size = whole_px
    if len(parent) > len(size):
        px = labels.ravel()[np.flatnonzero(labels > 0)]
        size = np.bincount(px, minlength=len(parent) + 1)[1:].astype(np.float64)
    return Candidates(
        labels=labels,
        area_px=area[parent] * size / whole_px[parent],
        depth=candidates.depth[at],
        noise=candidates.noise[at],
        edge_px=candidates.edge_px[at],
        background=candidates.background[at],
        step=candidates.step[at],
    )


def _by_rays(
    light: NDArray[np.float32],
    candidates: Candidates,
    shapes: Shapes,
    patches: NDArray[np.bool_],
    seen: LightDirection,
) -> Completed:
    """Join the bright far walls of raked pits to their dark parts."""
    whole = candidates
    if seen.towards_rad is not None and seen.rakes:
        whole = join_lit(light, candidates, shapes, seen.towards_rad)
    every = np.arange(len(candidates.area_px))
    if whole is not candidates:
        shapes = region_shapes(region_pixels(whole.labels, len(every)))
    regions, parent = _parted(
        whole, whole.labels, every, whole.area_px, shapes, inside(patches, shapes)
    )
    return Completed(
        regions=regions,
        origin=parent,
        probability=np.ones(len(parent)),
        network_logit=np.zeros(len(parent)),
        rim_doubt_px=np.zeros(len(parent)),
        light=seen,
        by_network=False,
        doubts={
            Flag.SPLIT: np.bincount(parent, minlength=len(every))[parent] > 1,
            Flag.LIT_INSIDE: (whole.area_px > candidates.area_px)[parent],
        },
    )


def inside(patches: NDArray[np.bool_], shapes: Shapes) -> NDArray[np.bool_]:
    """Tell which regions have their centroid in a patch."""
    row = np.rint(shapes.row_px).astype(np.intp)
    col = np.rint(shapes.col_px).astype(np.intp)
    return np.asarray(patches[row, col])
