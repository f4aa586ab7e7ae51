"""The face's colour and small relief: everything that is no void."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.synthetic.filters import softened
from analysis.synthetic.noise import clouds, fractal
from analysis.synthetic.rims import Rims, covered, draw_harmonics

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.synthetic.recipe import FaceRecipe, Joint
    from analysis.synthetic.scene import Aggregate

# cv2.polylines takes whole numbers: so many of their bits are a fraction of a px.
SUBPIXEL_BITS = 4


HONEYCOMB_FADE_MM = 2.5


def faded(extent: NDArray[np.float32], mm_per_px: float) -> NDArray[np.float32]:
    """Return the cover by honeycomb with a soft edge: skin breaks up gradually.

    Examples
    --------
    >>> round(float(faded(np.ones((9, 9), np.float32), 0.5).min()), 3)
    1.0
    """
    if not extent.any():
        return extent
    return softened(extent, HONEYCOMB_FADE_MM / mm_per_px)


def tint(
    recipe: FaceRecipe, honeycomb: NDArray[np.float32], rng: np.random.Generator
) -> NDArray[np.float32]:
    """Return the linear reflectance of the flat face.

    Parameters
    ----------
    recipe : FaceRecipe
        Surface and joints.
    honeycomb : ndarray of float32, (rows, cols)
        Cover by honeycomb patches, 0..1: stones show there.
    rng : Generator
        Source of randomness.

    Returns
    -------
    ndarray of float32, (rows, cols, 3)

    Examples
    --------
    >>> from analysis.synthetic.recipe import FaceRecipe
    >>> recipe = FaceRecipe(height_px=20, width_px=30, mm_per_px=0.5)
    >>> tint(recipe, np.zeros((20, 30), np.float32), np.random.default_rng(1)).shape
    (20, 30, 3)
    """
    surface = recipe.surface
    value = _value(recipe, rng)
    if honeycomb.any():
        stones = clouds(value.shape, 3.0 / recipe.mm_per_px, rng)
        value *= 1 + honeycomb * np.float32(0.16) * stones
    _darken_joints(recipe, value, rng)
    _draw_lines(recipe, value, rng)
    colour = np.array(surface.reflectance, np.float32)
    face: NDArray[np.float32] = value[..., None] * colour
    if surface.mottle_contrast:
        hue = fractal(value.shape, 1.6 * surface.mottle_mm / recipe.mm_per_px, 2, rng)
        hue *= np.float32(0.25 * surface.mottle_contrast)
        # Red and blue against each other: warmer and colder spots, about as bright.
        face[..., 0] *= 1 + hue
        face[..., 2] *= 1 - hue
    for grains in surface.aggregate:
        _strew(recipe, face, grains, rng)
    _bloom(recipe, face, rng)
    np.clip(face, 0, 1, out=face)
    return face


def relief_mm(
    recipe: FaceRecipe, honeycomb: NDArray[np.float32], rng: np.random.Generator
) -> NDArray[np.float32] | None:
    """Return fins, board grain and skin roughness above the face plane, mm.

    None when the face is flat.

    Examples
    --------
    >>> from analysis.synthetic.recipe import FaceRecipe
    >>> from analysis.synthetic.scene import Surface
    >>> recipe = FaceRecipe(height_px=20, width_px=30, mm_per_px=0.5,
    ...                     surface=Surface(roughness_mm=0))
    >>> relief_mm(recipe, np.zeros((20, 30), np.float32), np.random.default_rng(1))
    """
    surface, scale = recipe.surface, recipe.mm_per_px
    shape = (recipe.height_px, recipe.width_px)
    height = np.zeros(shape, np.float32)
    if surface.roughness_mm:
        height += np.float32(surface.roughness_mm) * clouds(shape, 0.5 / scale, rng)
    if surface.board_relief_mm:
        height += np.float32(surface.board_relief_mm) * _boards(recipe, rng)
    if honeycomb.any():
        height += np.float32(0.12) * honeycomb * fractal(shape, 2.0 / scale, 3, rng)
    for joint in recipe.joints:
        if joint.fin_height_mm:
            away, _ = _from_joint(recipe, joint, rng)
            ragged = np.clip(1 + 0.4 * clouds(shape, 6.0 / scale, rng), 0, 2)
            width = max(0.4 * joint.fin_height_mm + 0.15, 0.6 * scale)
            ridge = np.maximum(1 - away / np.float32(width), 0)
            height += np.float32(joint.fin_height_mm) * ridge * ragged
    return height if height.any() else None


def _value(recipe: FaceRecipe, rng: np.random.Generator) -> NDArray[np.float32]:
    """Return the brightness of the paste, mean about 1, with grain and stains."""
    surface, scale = recipe.surface, recipe.mm_per_px
    shape = (recipe.height_px, recipe.width_px)
    value = np.ones(shape, np.float32)
    if surface.mottle_contrast:
        mottle = fractal(shape, surface.mottle_mm / scale, 5, rng)
        value += np.float32(surface.mottle_contrast) * mottle
    if surface.grain_contrast:
        grain = clouds(shape, surface.grain_mm / scale, rng)
        value += np.float32(surface.grain_contrast) * grain
    if surface.board_contrast:
        value += np.float32(surface.board_contrast) * _boards(recipe, rng)
    for _ in range(int(surface.stains)):
        at, soft = _soft_patch(recipe, surface.stain_mm, 0.8, rng)
        value[at] *= 1 - np.float32(surface.stain_strength) * soft
    np.clip(value, 0.2, 2.0, out=value)
    return value


def _boards(recipe: FaceRecipe, rng: np.random.Generator) -> NDArray[np.float32]:
    """Return streaks down the picture, standard deviation about 1."""
    shape, scale = (recipe.height_px, recipe.width_px), recipe.mm_per_px
    wide = recipe.surface.board_mm / scale
    streaks = clouds(shape, (60 * wide, 0.5 * wide), rng)
    return 0.8 * streaks + 0.6 * clouds(shape, (25 * wide, 0.2 * wide), rng)


def _soft_patch(
    recipe: FaceRecipe, size_mm: float, softness: float, rng: np.random.Generator
) -> tuple[tuple[slice, slice], NDArray[np.float32]]:
    """Return a window and a ragged patch in it that fades from 1 to 0."""
    diameter = size_mm / recipe.mm_per_px * np.exp(0.4 * rng.standard_normal())
    half = int(np.ceil(diameter))
    row = int(rng.integers(0, recipe.height_px))
    col = int(rng.integers(0, recipe.width_px))
    rows = slice(max(row - half, 0), min(row + half + 1, recipe.height_px))
    cols = slice(max(col - half, 0), min(col + half + 1, recipe.width_px))
    down = np.arange(rows.start, rows.stop, dtype=np.float32)[:, None] - row
    right = np.arange(cols.start, cols.stop, dtype=np.float32)[None, :] - col
    away = np.hypot(down, right) / np.float32(0.5 * diameter)
    wave = fractal((away.shape[0], away.shape[1]), max(diameter / 3, 2), 3, rng)
    edge = (1 + 0.22 * wave - away) / np.float32(softness)
    inner = np.clip(0.5 + edge, 0, 1)
    # Smoothstep: no kink where the patch begins or ends.
    return (rows, cols), (inner * inner * (3 - 2 * inner)).astype(np.float32)


def _bloom(
    recipe: FaceRecipe, face: NDArray[np.float32], rng: np.random.Generator
) -> None:
    """Whiten patches of the face in place: soft, cloudy, a little grainy."""
    surface = recipe.surface
    # A thin veil of salt lets a dark paste show through.
    salt = np.minimum(1.1 * np.array(surface.reflectance, np.float32) ** 0.3, 1)
    for _ in range(int(surface.bloom)):
        at, soft = _soft_patch(recipe, surface.bloom_mm, 0.5, rng)
        size = max(1.5 / recipe.mm_per_px, 2)
        cloudy = fractal((soft.shape[0], soft.shape[1]), size, 3, rng)
        veil = np.clip(soft * (0.8 + 0.35 * cloudy), 0, 1)[..., None]
        strength = np.float32(surface.bloom_strength) * veil
        face[at] += strength * (salt - face[at])


def _strew(
    recipe: FaceRecipe,
    face: NDArray[np.float32],
    grains: Aggregate,
    rng: np.random.Generator,
) -> None:
    """Paint flush grains into the face in place, each of its own shade."""
    scale = recipe.mm_per_px
    # The mean square of a log-normal diameter is the median's times e^(2 s^2).
    mean_area = np.pi / 4 * grains.median_mm**2 * np.exp(2 * grains.spread**2)
    # Strewn a little beyond the picture, so that its edge cuts grains like any other.
    spill = 2 * grains.median_mm / scale
    height, width = recipe.height_px + 2 * spill, recipe.width_px + 2 * spill
    count = int(rng.poisson(grains.share * height * width * scale**2 / mean_area))
    diameter = grains.median_mm * np.exp(grains.spread * rng.standard_normal(count))
    rims = Rims(
        row_px=rng.random(count) * height - spill,
        col_px=rng.random(count) * width - spill,
        diameter_px=diameter / scale,
        harmonics=draw_harmonics(np.full(count, 0.25), rng),
    )
    cover = covered(rims, (recipe.height_px, recipe.width_px))
    shade = 1 + 0.25 * clouds(cover.shape, grains.median_mm / scale, rng)
    colour = np.array(grains.reflectance, np.float32)
    stone = np.clip(shade, 0.3, 2)[..., None] * colour
    face += cover[..., None] * (stone - face)


def _from_joint(
    recipe: FaceRecipe, joint: Joint, rng: np.random.Generator
) -> tuple[NDArray[np.float32], NDArray[np.float32]]:
    """Return distance from the joint in mm, and how far beyond its ends."""
    scale = np.float32(recipe.mm_per_px)
    start, end = np.array(joint.start_mm), np.array(joint.end_mm)
    length = float(np.hypot(*(end - start)))
    along = ((end - start) / length).astype(np.float32)
    down = np.arange(recipe.height_px, dtype=np.float32)[:, None] * scale
    right = np.arange(recipe.width_px, dtype=np.float32)[None, :] * scale
    down, right = down - np.float32(start[0]), right - np.float32(start[1])
    across = right * along[0] - down * along[1]
    run = down * along[0] + right * along[1]
    beyond = np.maximum(np.maximum(-run, run - np.float32(length)), 0)
    wander = rng.standard_normal(3) * 0.15
    sway = np.float32(wander[0]) * np.sin(run / np.float32(17 + 5 * abs(wander[1])))
    return np.hypot(across + sway, beyond).astype(np.float32), beyond


def _darken_joints(
    recipe: FaceRecipe, value: NDArray[np.float32], rng: np.random.Generator
) -> None:
    """Darken leak bands and joint lines in place."""
    for joint in recipe.joints:
        away, _ = _from_joint(recipe, joint, rng)
        if joint.leak_width_mm:
            ragged = fractal(value.shape, 9.0 / recipe.mm_per_px, 4, rng)
            reach = np.float32(joint.leak_width_mm) * np.clip(1 + 0.4 * ragged, 0.2, 2)
            leak = np.exp(-((away / reach) ** 2))
            sand = clouds(value.shape, 0.5 / recipe.mm_per_px, rng)
            value *= 1 - leak * (np.float32(0.20) + np.float32(0.07) * sand)
        if joint.gap_mm:
            half = np.float32(0.5 * joint.gap_mm)
            edge = np.float32(max(recipe.mm_per_px, 0.05))
            line = np.clip((half - away) / edge + np.float32(0.5), 0, 1)
            value *= 1 - np.float32(0.55) * line


def _draw_lines(
    recipe: FaceRecipe, value: NDArray[np.float32], rng: np.random.Generator
) -> None:
    """Draw cracks (dark, wandering) and scratches (light, straight) in place."""
    surface = recipe.surface
    for _ in range(int(surface.cracks)):
        path = _wandering(recipe, rng, 0.22, 0.7)
        _stroke(recipe, value, path, surface.crack_width_mm, -0.7)
    for _ in range(int(surface.scratches)):
        path = _wandering(recipe, rng, 0.004, 0.25)
        _stroke(recipe, value, path, surface.scratch_width_mm, 0.16)


def _wandering(
    recipe: FaceRecipe, rng: np.random.Generator, bend: float, reach: float
) -> NDArray[np.float64]:
    """Return a path in (col, row) px; `bend` is the turn per step, radians."""
    steps = 120
    long = reach * max(recipe.height_px, recipe.width_px) * (0.5 + rng.random())
    heading = rng.random() * 2 * np.pi
    turn = bend * rng.standard_normal(steps)
    # The crack strays, but is pulled back to its heading.
    drift = np.convolve(turn, 0.9 ** np.arange(20))[:steps]
    angle = heading + drift
    step = long / steps * np.column_stack([np.cos(angle), np.sin(angle)])
    start = rng.random(2) * [recipe.width_px, recipe.height_px]
    jitter = 0.15 * bend * long / steps * rng.standard_normal((steps, 2))
    path: NDArray[np.float64] = start + np.cumsum(step, axis=0) + 8 * jitter
    return path


def _stroke(
    recipe: FaceRecipe,
    value: NDArray[np.float32],
    path: NDArray[np.float64],
    width_mm: float,
    strength: float,
) -> None:
    """Darken or lighten `value` along a path in place; thin lines fade instead."""
    width_px = width_mm / recipe.mm_per_px
    mask = np.zeros(value.shape, np.uint8)
    fixed = np.rint(path * 2**SUBPIXEL_BITS).astype(np.int32).reshape(-1, 1, 2)
    thick = max(1, round(width_px))
    cv2.polylines(mask, [fixed], False, 255, thick, cv2.LINE_AA, SUBPIXEL_BITS)
    fade = min(1.0, width_px / thick)
    value *= 1 + mask.astype(np.float32) * np.float32(strength * fade / 255)
