"""Candidates as the product itself finds them in drawn photos.

The first stage of training imitates the detection pass on a GPU, which makes millions
of patches; this one runs the detection pass itself and reads the planes with the
product's own code, which makes fewer and the very ones the network will meet.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.training.camera import photograph
from analysis.training.scenes import draw_scenes
from analysis.voids.candidates import find_candidates
from analysis.voids.features import sharp_edge
from analysis.voids.opening.openings import level_of_step, seed_frames
from analysis.voids.opening.planes import (
    EDGE_OF_BLUR,
    LEAST_HALF_PX,
    SMOOTHING_PX,
    WIDE,
    Frames,
    lay_planes,
    pyramid,
    read_patches,
    read_seeds,
)
from analysis.voids.shapes import region_pixels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.training.fields import Dice

_VOID_FROM, _NOT_VOID_TO = 0.5, 0.12
_LEAST_PX = 3.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OwnPatches:
    """Patches with their answers; the planes of the light are left 0.

    Attributes
    ----------
    planes : ndarray of float16, (n, 10, 32, 32)
    opening : ndarray of float16, (n, 32, 32)
    is_void, told : ndarray of float32, (n,)
    lamp : ndarray of float32, (n, 2)
    """

    planes: NDArray[np.float16]
    opening: NDArray[np.float16]
    is_void: NDArray[np.float32]
    told: NDArray[np.float32]
    lamp: NDArray[np.float32]


def gather(dice: Dice, scenes: int, photos: int) -> OwnPatches:
    """Draw scenes, photograph them and read the product's candidates.

    Parameters
    ----------
    dice : Dice
        On the CPU.
    scenes : int
    photos : int
        Of each scene.

    Returns
    -------
    OwnPatches
    """
    drawn = draw_scenes(dice, scenes)
    rng = np.random.default_rng(dice.whole(0, 2**31))
    found = []
    for _ in range(photos):
        seen = photograph(dice, drawn)
        for light, opening, lamp in zip(
            seen.light, seen.opening, seen.lamp, strict=True
        ):
            found += _of_photo(rng, light.numpy(), opening.numpy(), lamp.numpy())
    return OwnPatches(
        planes=np.concatenate([some[0] for some in found]).astype(np.float16),
        opening=np.concatenate([some[1] for some in found]).astype(np.float16),
        is_void=np.concatenate([some[2] for some in found]).astype(np.float32),
        told=np.concatenate([some[3] for some in found]).astype(np.float32),
        lamp=np.concatenate([some[4] for some in found]).astype(np.float32),
    )


def _of_photo(
    rng: np.random.Generator,
    light: NDArray[np.float32],
    opening: NDArray[np.float32],
    lamp: NDArray[np.float32],
) -> list[tuple[NDArray[np.float32], ...]]:
    """Patches of one photo: framed by the dark part, then by the opening."""
    smooth = np.asarray(cv2.GaussianBlur(light, (0, 0), SMOOTHING_PX), np.float32)
    candidates, around = find_candidates(smooth, None)
    count = len(candidates.area_px)
    if count == 0:
        return []
    pixels = region_pixels(candidates.labels, count)
    blur = sharp_edge(candidates) / EDGE_OF_BLUR
    cover = pixels.total(opening.ravel()[pixels.flat]) / pixels.total()
    owner, whole = _owners(opening)
    met = np.zeros((count, int(whole.max()) + 1))
    np.add.at(met, (pixels.label, whole.ravel()[pixels.flat]), 1)
    met[:, 0] = 0.5  # none, unless a px of an opening was met
    own = met.argmax(axis=1)
    first = seed_frames(pixels)
    second = _by_opening(rng, first, whole, own)
    void = (cover > _VOID_FROM).astype(np.float32)
    told = ((cover > _VOID_FROM) | (cover < _NOT_VOID_TO)).astype(np.float32)
    covers = pyramid(opening)
    parts = []
    for frames in (first, second):
        for step in np.unique(candidates.step):
            mine = np.flatnonzero(
                (candidates.step == step) & (candidates.area_px >= _LEAST_PX)
            )
            if len(mine) == 0:
                continue
            level = level_of_step(
                smooth, around.backgrounds[int(step)], int(step), mine, blur
            )
            inside = frames[mine].reduced(step)
            planes = lay_planes(
                read_patches(level.levels, inside),
                read_patches(level.levels, inside, WIDE),
                read_seeds(candidates.labels, inside, step),
                inside,
                level.blur_px,
                candidates.noise[mine],
                None,
            )
            at = frames[mine]
            belongs = Frames(
                row_px=at.row_px, col_px=at.col_px, half_px=at.half_px, label=own[mine]
            )
            answer = read_patches(covers, at) * read_seeds(owner, belongs)
            answer *= ((own[mine] > 0) & (cover[mine] >= _NOT_VOID_TO))[:, None, None]
            lamps = np.broadcast_to(lamp, (len(mine), 2))
            parts.append((planes, answer, void[mine], told[mine], lamps))
    return parts


def _owners(
    opening: NDArray[np.float32],
) -> tuple[NDArray[np.int32], NDArray[np.int32]]:
    """Number the connected openings, with and without their soft rim."""
    inside = (opening > _VOID_FROM).astype(np.uint8)
    _, whole = cv2.connectedComponents(inside, connectivity=8)
    grown = cv2.dilate(whole.astype(np.float32), np.ones((3, 3), np.uint8))
    owner = np.where(whole > 0, whole, grown.astype(np.int32))
    return np.asarray(owner, np.int32), np.asarray(whole, np.int32)


def _by_opening(
    rng: np.random.Generator,
    frames: Frames,
    whole: NDArray[np.int32],
    own: NDArray[np.intp],
) -> Frames:
    """Frames about the openings, a little off; about the dark part where there is none."""
    boxes = region_pixels(whole, int(whole.max()))
    count = len(frames)
    half = frames.half_px * rng.uniform(0.4, 1.0, count)
    row, col = frames.row_px.copy(), frames.col_px.copy()
    has = own > 0
    if has.any():
        around = seed_frames(boxes)
        at = own[has] - 1
        long = around.half_px[at] / 2
        half[has] = long * rng.uniform(0.85, 1.4, len(at))
        row[has] = around.row_px[at] + 0.12 * long * rng.standard_normal(len(at))
        col[has] = around.col_px[at] + 0.12 * long * rng.standard_normal(len(at))
    return Frames(
        row_px=row,
        col_px=col,
        half_px=np.maximum(half, LEAST_HALF_PX),
        label=frames.label,
    )
