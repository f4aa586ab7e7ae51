"""The one place where pairs ask the room of voids: candidates, shapes, lists."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.flags import Flag
from analysis.pairs.reduction import enlarged_labels, enlarged_mask
from analysis.voids.background import background_light
from analysis.voids.candidates import find_candidates
from analysis.voids.doubts import Doubts
from analysis.voids.features import measure_features
from analysis.voids.honeycomb import honeycomb_patches, no_patches
from analysis.voids.light_direction import LightDirection
from analysis.voids.lines import on_lines
from analysis.voids.listing import Listing, size_kinds, void_flags
from analysis.voids.rejection import WORDS, Evidence, rejected_kinds
from analysis.voids.segmentation import Segmentation
from analysis.voids.settings import SETTINGS
from analysis.voids.shapes import outlines, region_pixels, region_shapes
from analysis.voids.splitting import split_touching

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.voids.candidates import Candidates as DarkSpots
    from analysis.voids.candidates import Surroundings
    from analysis.voids.features import Features
    from analysis.voids.honeycomb import Patches
    from analysis.voids.shapes import Pixels, Shapes

    Plane = NDArray[np.float32]

_CELL_PX = 12
_NEAR_LIMIT = 1.5
# Part of the dark area of a patch that changes with the lamp: of stones and holes
# nearly all, of flush stones little.
_LEAST_OPEN = 0.6
_NO_WORDS = {"grain": "looks alike in both lights: grain or mark"}
LINE_KINDS = ("crack", "joint_or_fin")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairCandidates:
    """Dark spots with their pixels and shapes."""

    spots: DarkSpots
    pixels: Pixels
    shapes: Shapes
    around: Surroundings

    def __len__(self) -> int:
        """Count them."""
        return len(self.spots.area_px)


def background_of(
    light: Plane, inside: NDArray[np.bool_], cell_px: int = _CELL_PX
) -> Plane:
    """Light without voids, at every px; only what is inside tells it."""
    return background_light(light, None if inside.all() else inside, cell_px).spread()


def candidates_of(darker: Plane, inside: NDArray[np.bool_]) -> PairCandidates:
    """Find dark spots; outside the face there are none.

    Examples
    --------
    >>> flat = np.ones((90, 120), np.float32)
    >>> flat[40:50, 60:70] = 0.2
    >>> len(candidates_of(flat, np.ones(flat.shape, bool)))
    1
    """
    spots, around = find_candidates(darker, None if inside.all() else inside)
    return listed(spots, around)


def listed(spots: DarkSpots, around: Surroundings) -> PairCandidates:
    """List the pixels and shapes of spots."""
    pixels = region_pixels(spots.labels, len(spots.area_px))
    return PairCandidates(
        spots=spots, pixels=pixels, shapes=region_shapes(pixels), around=around
    )


def redrawn(
    found: PairCandidates, labels: NDArray[np.int32], origin: NDArray[np.intp]
) -> PairCandidates:
    """Return spots with new labels; each keeps the figures of the one it came from.

    Parameters
    ----------
    found : PairCandidates
    labels : ndarray of int32, (rows, cols)
        1 to m.
    origin : ndarray of intp, (m,)
        0-based spot of `found` that each came from.

    Returns
    -------
    PairCandidates
        With areas in whole px.
    """
    old = found.spots
    size = np.bincount(labels.ravel(), minlength=len(origin) + 1)[1:]
    # Labels that lost all their px go; the others are numbered anew without gaps, so
    # that label k stays entry k - 1 of every column.
    kept = size > 0
    number = np.zeros(len(origin) + 1, dtype=np.int32)
    number[1:][kept] = 1 + np.arange(np.count_nonzero(kept))
    origin = origin[kept]
    spots = replace(
        old,
        labels=number[labels],
        area_px=size[kept].astype(np.float64),
        depth=old.depth[origin],
        noise=old.noise[origin],
        edge_px=old.edge_px[origin],
        background=old.background[origin],
        step=old.step[origin],
    )
    return listed(spots, found.around)


def enlarged(
    found: PairCandidates, patches: Patches, step: int, shape: tuple[int, int]
) -> tuple[PairCandidates, Patches]:
    """Bring spots and patches of a reduced photo back to the photo itself.

    Parameters
    ----------
    found : PairCandidates
    patches : Patches
    step : int
        Px of the photo, along a side, to one of the reduced.
    shape : tuple of int
        (rows, cols) of the photo.

    Returns
    -------
    found : PairCandidates
        Each of the same area, `step` x `step` px for one; edges stay in px of the
        reduced photo, as its `step` says.
    patches : Patches
    """
    labels = enlarged_labels(found.spots.labels, step, shape)
    spots = replace(
        found.spots,
        labels=labels,
        area_px=np.bincount(labels.ravel(), minlength=len(found) + 1)[1:].astype(
            np.float64
        ),
        step=found.spots.step * step,
    )
    cells = found.around.background
    around = replace(
        found.around,
        background=replace(cells, cell_px=cells.cell_px * step, shape=shape),
    )
    return listed(spots, around), replace(
        patches,
        extent=enlarged_mask(patches.extent, step, shape),
        low_px=patches.low_px * step**2,
        high_px=patches.high_px * step**2,
    )


def parted(found: PairCandidates, in_patch: NDArray[np.bool_]) -> PairCandidates:
    """Part those that are several touching voids."""
    labels, origin = split_touching(found.spots.labels, found.shapes, in_patch)
    return redrawn(found, labels, origin)


def patches_of(
    found: PairCandidates,
    darker: Plane,
    inside: NDArray[np.bool_],
    mm_per_px: float | None,
    pits: NDArray[np.bool_],
) -> Patches:
    """Mark honeycomb: among flush stones dark spots are many, but few change."""
    centres = np.column_stack([found.shapes.row_px, found.shapes.col_px])
    at = np.rint(centres).astype(np.intp)
    patches = honeycomb_patches(
        darker, found.around.background, inside, mm_per_px, at[pits]
    )
    area = np.where(patches.extent[at[:, 0], at[:, 1]], found.spots.area_px, 0.0)
    if area[pits].sum() < _LEAST_OPEN * area.sum():
        return no_patches(darker.shape)
    return patches


def weighed(
    found: PairCandidates,
    photo: NDArray[np.uint8],
    darker: Plane,
    in_patch: NDArray[np.bool_],
) -> tuple[Features, NDArray[np.str_], NDArray[np.bool_]]:
    """Features of one photo, which of them are lines, and which have a soft edge."""
    features = measure_features(
        found.spots, found.pixels, found.shapes, photo, darker, None
    )
    line = on_lines(
        found.around.dim, darker, found.around.background, found.pixels, found.shapes
    )
    kind = rejected_kinds(features, found.shapes, line, in_patch, None, Evidence.SURE)
    return features, np.where(np.isin(kind, LINE_KINDS), kind, ""), kind == "stain"


def edge_pixels(found: PairCandidates, face: NDArray[np.bool_]) -> NDArray[np.int64]:
    """Count the px of each spot at the edge of the face."""
    inner = cv2.erode(
        face.astype(np.uint8),
        np.ones((3, 3), np.uint8),
        borderType=cv2.BORDER_CONSTANT,
        borderValue=0,
    )
    met = found.spots.labels[inner == 0]
    return np.bincount(met, minlength=len(found) + 1)[1:].astype(np.int64)


def segmented(
    found: PairCandidates,
    kind: NDArray[np.str_],
    features: Features,
    patches: Patches,
    doubts: dict[Flag, NDArray[np.bool_]],
    *,
    face: NDArray[np.bool_],
    noise: float,
    lamp_rad: float | None,
    smallest_px2: float,
    mm_per_px: float | None,
) -> Segmentation:
    """List what was found as the room of voids lists it.

    Parameters
    ----------
    found : PairCandidates
    kind : ndarray of str, (n,)
        Why a spot is turned down; empty for a void.
    features : Features
    patches : Patches
        Honeycomb.
    doubts : dict
        Flags, spot by spot.
    face : ndarray of bool, (rows, cols)
    noise : float
        Noise of the relief.
    lamp_rad : float or None
        Towards the first lamp.
    smallest_px2 : float
        Smallest counted area, px².
    mm_per_px : float or None
    """
    spots, shapes, pixels = found.spots, found.shapes, found.pixels
    big = spots.area_px >= smallest_px2
    counted, turned_down = big & (kind == ""), big & (kind != "")
    sizes_mm = np.sqrt(4.0 * spots.area_px / np.pi) * (mm_per_px or np.nan)
    row, col = (np.rint(at).astype(np.intp) for at in (shapes.row_px, shapes.col_px))
    names = np.where(patches.extent[row, col], "honeycomb", size_kinds(sizes_mm))
    names = np.where(kind == "", names, kind)
    doubts = {**doubts, Flag.NEAR_LIMIT: spots.area_px < _NEAR_LIMIT * smallest_px2}
    listing = Listing(
        regions=spots,
        shapes=shapes,
        features=features,
        kind=names,
        flags=void_flags(doubts),
        lines=outlines(spots.labels, len(found)),
        words=WORDS | _NO_WORDS,
    )
    mask = np.zeros(face.shape, dtype=bool)
    # `ravel` of a fresh array is a view: the mask itself is written to.
    mask.ravel()[pixels.flat[counted[pixels.label]]] = True
    return Segmentation(
        voids=listing.of(counted),
        rejected=listing.of(turned_down),
        mask=mask,
        honeycomb=patches.extent,
        honeycomb_px=(patches.low_px, patches.high_px),
        light=LightDirection(towards_rad=lamp_rad, rakes=False),
        background=found.around.background,
        blur_px=features.sharp_edge_px,
        noise=noise,
        counted_share=float(mask.mean()),
        candidate_count=int(
            np.count_nonzero(
                counted & (spots.area_px >= SETTINGS.light.shaded_from_px2)
            )
        ),
        doubts=_no_doubts(float(spots.area_px[counted].sum())),
        by_network=True,
        evidence=Evidence.SURE,  # relief is measured, not guessed
    )


def _no_doubts(area_px: float) -> Doubts:
    """Doubts of one photo do not hold for a pair, whose interval is its own."""
    return Doubts(
        rim_px=0.0,
        strict_px=area_px,
        missed_px=0.0,
        wrong_px=0.0,
        shaped_px=0.0,
    )
