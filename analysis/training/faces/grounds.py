"""What a piece may lie on or stand before, drawn."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.training.faces.concrete import concrete
from analysis.training.faces.textures import (
    WHITE,
    between,
    colour,
    rough,
    scattered_cells,
    step,
    tinted,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Light = NDArray[np.float32]
    Shape = tuple[int, int]


def _plain(rng: np.random.Generator, shape: Shape) -> Light:
    tone = between(rng, 0.01, WHITE) * np.exp(
        between(rng, 0.002, 0.1) * rough(rng, shape, between(rng, 20, 300))
    )
    return tinted(tone, colour(rng, 0.5 if rng.random() < 0.5 else 0.05))


def _planks(rng: np.random.Generator, shape: Shape) -> Light:
    side = max(shape)
    wide = between(rng, 12, 160)
    square = (side * 3 // 2, side * 3 // 2)
    boards = round(square[0] / wide) + 2
    tone = np.repeat(rng.normal(0, between(rng, 0.03, 0.25), boards), int(wide) + 1)
    tone = np.asarray(tone[: square[0]], np.float32)
    short = (square[0], max(4, square[1] // int(between(rng, 6, 40))))
    grain = cv2.resize(rough(rng, short, between(rng, 4, 20)), square[::-1])
    flat = np.resize(tone, square[0])[:, None] + between(rng, 0.03, 0.3) * grain
    if rng.random() < 0.7:
        edge = np.arange(square[0]) % (int(wide) + 1) < rng.integers(1, 4)
        flat[edge] -= between(rng, 0.2, 2)
    for _ in range(rng.integers(0, 8)):  # knots
        at = rng.integers(0, square[0], 2).tolist()
        axes = (int(rng.integers(3, 14)), int(rng.integers(2, 7)))
        cv2.ellipse(flat, at, axes, 0, 0, 360, float(rng.uniform(-1.2, -0.4)), -1)
    turned = _turned(flat, rng.uniform(0, 360) if rng.random() < 0.6 else 0, shape)
    if rng.random() < 0.4:
        turned = _turned(flat, 90, shape)
    wood = np.array([1.45, 0.95, 0.5], np.float32) ** np.float32(rng.uniform(0, 1.2))
    return tinted(between(rng, 0.04, 0.6) * np.exp(turned), wood * colour(rng, 0.05))


def _turned(flat: Light, degrees: float, shape: Shape) -> Light:
    side = flat.shape[0]
    turn = cv2.getRotationMatrix2D((side / 2, side / 2), degrees, 1.0)
    turn[:, 2] += (shape[1] / 2 - side / 2, shape[0] / 2 - side / 2)
    return np.asarray(
        cv2.warpAffine(flat, turn, shape[::-1], borderMode=cv2.BORDER_REFLECT),
        np.float32,
    )


def _tiles(rng: np.random.Generator, shape: Shape) -> Light:
    pitch = between(rng, 14, 140)
    turn = rng.uniform(0, np.pi) if rng.random() < 0.5 else 0.0
    rows, cols = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    u = (rows * np.cos(turn) + cols * np.sin(turn)) / pitch
    v = (cols * np.cos(turn) - rows * np.sin(turn)) / (pitch * rng.uniform(0.5, 2))
    v = v + 0.5 * (np.floor(u) % 2) * (rng.random() < 0.4)
    lot = rng.normal(0, between(rng, 0.01, 0.3), 997)
    which = (np.floor(u) * 31 + np.floor(v) * 17).astype(int) % 997
    tone = lot[which] + between(rng, 0.01, 0.15) * rough(rng, shape, 20)
    gap = rng.uniform(0.02, 0.12)
    edge = np.minimum(u % 1, v % 1) < gap
    tone = np.where(edge, tone + rng.uniform(-1.5, 0.5), tone).astype(np.float32)
    return tinted(between(rng, 0.05, 0.7) * np.exp(tone), colour(rng, 0.12))


def _floor(rng: np.random.Generator, shape: Shape) -> Light:
    """Draw a grey floor or wall: smooth, faintly mottled or speckled, worn."""
    tone = between(rng, 0.01, 0.12) * rough(rng, shape, between(rng, 15, 150))
    tone += between(rng, 0.004, 0.1) * rng.standard_normal(shape, dtype=np.float32)
    if rng.random() < 0.4:  # damp or dirt, softly edged
        spot = rough(rng, shape, between(rng, 60, 250)) - rng.uniform(0, 1.5)
        tone += rng.uniform(-0.6, 0.3) * step(spot, between(rng, 0.02, 0.4))
    for _ in range(rng.choice([0, 1, 2], p=[0.6, 0.25, 0.15])):  # joints and cracks
        ends = (rng.uniform(-0.2, 1.2, (2, 2)) * shape[::-1]).astype(np.int32)
        deep = float(rng.uniform(-1.2, -0.2))
        cv2.line(
            tone, ends[0].tolist(), ends[1].tolist(), deep, int(rng.integers(1, 3))
        )
    return tinted(between(rng, 0.06, 0.7) * np.exp(tone), colour(rng, 0.05))


def _gravel(rng: np.random.Generator, shape: Shape) -> Light:
    away, cells = scattered_cells(rng, shape, between(rng, 4, 26))
    lot = rng.normal(0, between(rng, 0.1, 0.6), int(cells.max()) + 1)
    depth = away / max(float(away.max()), 1.0)
    tone = lot[cells] - rng.uniform(0.5, 3) * depth**2
    stones = tinted(between(rng, 0.08, 0.6) * np.exp(tone), colour(rng, 0.1))
    hue = np.exp(0.1 * rng.standard_normal((int(cells.max()) + 1, 3)))
    return np.asarray(stones * hue[cells], np.float32)


def _grass(rng: np.random.Generator, shape: Shape) -> Light:
    light = np.empty((*shape, 3), np.float32)
    light[:] = np.array([0.05, 0.08, 0.02]) * between(rng, 0.3, 2)
    count = rng.integers(500, 2500)
    starts = rng.uniform(0, 1, (count, 2)) * shape[::-1]
    long = between(rng, 5, 25)
    ends = starts + long * rng.standard_normal((count, 2))
    thick = int(rng.integers(1, 3))
    dry = rng.uniform(0, 0.6)
    for start, end in zip(starts.astype(int), ends.astype(int), strict=True):
        blade = np.array([0.13, 0.22, 0.05]) * between(rng, 0.4, 2.2)
        if rng.random() < dry:
            blade = np.array([0.3, 0.24, 0.11]) * between(rng, 0.4, 1.6)
        cv2.line(light, start.tolist(), end.tolist(), blade.tolist(), thick)
    return light


def _folds(rng: np.random.Generator, shape: Shape) -> Light:
    """Sheet: folds and highlights of plastic, cloth or metal."""
    bend = rough(rng, shape, between(rng, 30, 200), fade=0.4)
    slope = np.gradient(bend, axis=int(rng.integers(0, 2))) * between(rng, 3, 30)
    tone = between(rng, 0.02, 0.8) * (1 + 0.6 * np.tanh(slope))
    tone += rng.uniform(0, 0.8) * (np.tanh(slope) > rng.uniform(0.7, 1))
    return tinted(tone.astype(np.float32), colour(rng, rng.uniform(0, 0.7)))


def _heap(rng: np.random.Generator, shape: Shape) -> Light:
    """Things of all colours over one another."""
    light = ground(rng, shape, plain=True)
    for _ in range(rng.integers(3, 25)):
        middle = rng.uniform(-0.1, 1.1, 2) * shape[::-1]
        reach = between(rng, 8, 150)
        count = int(rng.integers(3, 9))
        turns = np.sort(rng.uniform(0, 2 * np.pi, count))
        away = reach * rng.uniform(0.4, 1, count)
        line = middle + away[:, None] * np.stack([np.cos(turns), np.sin(turns)], 1)
        shade = between(rng, 0.01, 0.9) * colour(rng, rng.uniform(0, 0.6))
        mask = np.zeros(shape, np.uint8)
        cv2.fillPoly(mask, [line.astype(np.int32)], 1)
        part = 1 + between(rng, 0.01, 0.3) * rough(rng, shape, between(rng, 5, 60))
        light[mask > 0] = (np.maximum(part, 0.1)[..., None] * shade)[mask > 0]
    return light


def _sky(rng: np.random.Generator, shape: Shape) -> Light:
    down = np.linspace(0, 1, shape[0], dtype=np.float32)[:, None]
    blue = np.array([0.35, 0.55, 0.9]) ** rng.uniform(0, 1.5)
    light = blue + (1 - blue) * (down * rng.uniform(0.2, 1))[..., None]
    cloud = rough(rng, shape, between(rng, 60, 200))
    white = step(cloud - rng.uniform(-0.5, 2), 1 / 3)
    return np.asarray(light + (0.9 - light) * white[..., None], np.float32)


def _other_concrete(rng: np.random.Generator, shape: Shape) -> Light:
    return concrete(rng, shape)


_GROUNDS: tuple[tuple[Callable[[np.random.Generator, Shape], Light], float], ...] = (
    (_plain, 2.0),
    (_planks, 2.0),
    (_other_concrete, 1.8),
    (_floor, 2.2),
    (_tiles, 0.8),
    (_gravel, 1.7),
    (_grass, 0.8),
    (_folds, 1.2),
    (_sky, 0.4),
    (_heap, 0.9),
)


def ground(rng: np.random.Generator, shape: Shape, *, plain: bool = False) -> Light:
    """Return a bench, floor or wall of any kind; often two that meet in a line.

    Parameters
    ----------
    rng : Generator
    shape : tuple of int
        Rows and columns.
    plain : bool
        One kind only, and no heap of things.

    Returns
    -------
    ndarray of float32, (rows, cols, 3)

    Examples
    --------
    >>> ground(np.random.default_rng(1), (40, 50)).shape
    (40, 50, 3)
    """
    kinds = _GROUNDS[:-1] if plain else _GROUNDS
    weights = np.array([weight for _, weight in kinds])
    lot = rng.choice(len(kinds), p=weights / weights.sum())
    light = kinds[lot][0](rng, shape)
    if plain or rng.random() < 0.6:
        return light
    other = ground(rng, shape, plain=True)
    rows, cols = np.mgrid[: shape[0], : shape[1]].astype(np.float32)
    lean = rng.normal(0, 0.2)
    line = shape[0] * rng.uniform(0.1, 0.9) + lean * (cols - shape[1] / 2)
    above = rows < line
    light[above] = other[above]
    return light
