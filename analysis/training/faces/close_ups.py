"""Faces that fill the photo or nearly: what runs across them is face on both sides.

A phone held close sees an arris, a moulded ring, a ledge or a change of light run from
edge to edge. None of them ends the face; only ground in a corner or along a side does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.training.faces.pieces import DrawnPiece
from analysis.training.faces.textures import between, field, step

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Light = NDArray[np.float32]


def close_up(rng: np.random.Generator, shape: tuple[int, int]) -> DrawnPiece:
    """Fill the photo with a face, at times but for a side, a corner or a round edge.

    Examples
    --------
    >>> bool(close_up(np.random.default_rng(1), (40, 60)).face.mean() > 0.2)
    True
    """
    face = np.ones(shape, np.uint8)
    for _ in range(rng.choice([0, 1, 2], p=[0.4, 0.4, 0.2])):
        away = _from_a_line(rng, shape)
        beyond = away > rng.uniform(0.15, 0.6) * min(shape)
        if rng.random() < 0.3:  # an edge that is worn or was never straight
            away = away + between(rng, 0.3, 4) * field(rng, shape, between(rng, 5, 60))
            beyond = away > rng.uniform(0.15, 0.6) * min(shape)
        face[beyond] = 0
    shading = _bent(rng, shape)
    for _ in range(rng.choice([0, 1, 2, 3], p=[0.25, 0.4, 0.25, 0.1])):
        shading *= _relief(rng, shape)
    return DrawnPiece(body=face.copy(), face=face, shading=shading)


def _from_a_line(rng: np.random.Generator, shape: tuple[int, int]) -> Light:
    """Return the distance from a straight line or a large arc near the middle, px."""
    rows, cols = shape
    y, x = np.mgrid[:rows, :cols].astype(np.float32)
    turn = rng.uniform(0, 2 * np.pi)
    at = np.array([rows, cols]) * (0.5 + rng.normal(0, 0.12, 2))
    away = (y - at[0]) * np.sin(turn) + (x - at[1]) * np.cos(turn)
    if rng.random() < 0.5:
        radius = between(rng, 0.5, 4) * max(shape)
        middle = at - radius * np.array([np.sin(turn), np.cos(turn)])
        away = np.hypot(y - middle[0], x - middle[1]) - radius
        if rng.random() < 0.3:
            away = -away
    return np.asarray(away, np.float32)


def _bent(rng: np.random.Generator, shape: tuple[int, int]) -> Light:
    """Light on a flat, a drum or a ball seen close: it fades away from a band."""
    shading = np.exp(rng.uniform(0, 0.3) * field(rng, shape, max(shape)))
    if rng.random() < 0.55:
        across = (_from_a_line(rng, shape) / max(shape)).astype(np.float32)
        across -= np.float32(rng.uniform(-0.4, 0.4))
        shading = shading * (1 - rng.uniform(0.2, 0.9) * np.clip(across**2 * 2, 0, 1))
    return np.asarray(np.maximum(shading, 0.03), np.float32)


def _relief(rng: np.random.Generator, shape: tuple[int, int]) -> Light:
    """Return the light, relative, of one form that runs across: face on both sides."""
    away = _from_a_line(rng, shape)
    away -= np.float32(rng.uniform(-0.35, 0.35) * min(shape))
    wide = between(rng, 0.6, 12)
    near = np.exp(-((away / wide) ** 2))
    kind = int(rng.integers(5))
    if kind == 0:  # an arris: two flats at a slant, its edge pale, worn or dark
        light = rng.normal(0, 0.5) * step(away, between(rng, 0.3, 6))
        light = light + rng.uniform(-0.9, 0.5) * near * (rng.random() < 0.7)
    elif kind == 1:  # a bead or a ring: lit on one side, shaded on the other
        slope = -2 * away / wide * near
        light = rng.uniform(0.1, 0.7) * slope + rng.uniform(-0.2, 0.2) * near
    elif kind == 2:  # a ledge: its soft shadow falls on one side only
        fade = np.exp(-np.maximum(away, 0) / between(rng, 3, 60)) * (away > 0)
        light = -rng.uniform(0.1, 1.3) * fade + rng.normal(0, 0.2) * step(away, 1)
    elif kind == 3:  # a groove or a line of the form
        thin = np.exp(-((away / between(rng, 0.5, 2.5)) ** 2))
        light = -rng.uniform(0.2, 1.6) * thin
    else:  # a wide hollow or bulge
        light = rng.normal(0, 0.4) * np.exp(-((away / between(rng, 15, 90)) ** 2))
    if rng.random() < 0.25:  # torn or worn along its way
        light = light * step(field(rng, shape, between(rng, 5, 40)) + 0.5, 0.1)
    return np.asarray(np.exp(light), np.float32)
