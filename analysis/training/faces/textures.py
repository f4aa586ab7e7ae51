"""Drawn surfaces: what a piece may lie on or stand before, and concrete itself.

All are light, linear, 1 about white; scales are px of the drawing.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Light = NDArray[np.float32]
    Shape = tuple[int, int]

_WHITE = 0.9


def field(rng: np.random.Generator, shape: Shape, wave_px: float) -> Light:
    """Return a smooth random field of about unit spread.

    Parameters
    ----------
    rng : Generator
    shape : tuple of int
        Rows and columns.
    wave_px : float
        Distance between its cells, px.

    Returns
    -------
    ndarray of float32, (rows, cols)

    Examples
    --------
    >>> field(np.random.default_rng(1), (20, 30), 5.0).shape
    (20, 30)
    """
    cells = [max(2, min(side, round(side / max(wave_px, 1.0)) + 2)) for side in shape]
    grid = rng.standard_normal(cells, dtype=np.float32)
    smooth = cv2.resize(grid, shape[::-1], interpolation=cv2.INTER_CUBIC)
    return np.asarray(smooth, np.float32)


def rough(
    rng: np.random.Generator, shape: Shape, wave_px: float, *, fade: float = 0.6
) -> Light:
    """Return fields of halving wavelength added up.

    Examples
    --------
    >>> rough(np.random.default_rng(1), (20, 30), 10.0).dtype
    dtype('float32')
    """
    total = field(rng, shape, wave_px)
    gain = 1.0
    while wave_px > 2:
        wave_px /= 2
        gain *= fade
        total += np.float32(gain) * field(rng, shape, wave_px)
    return total / np.float32(max(float(total.std()), 1e-6))


def between(rng: np.random.Generator, low: float, high: float) -> float:
    """Return a number between two, evenly in its logarithm.

    Examples
    --------
    >>> 1 <= between(np.random.default_rng(1), 1.0, 9.0) <= 9
    True
    """
    return float(np.exp(rng.uniform(np.log(low), np.log(high))))


def colour(rng: np.random.Generator, strength: float) -> Light:
    """Return a random tint of mean 1.

    Examples
    --------
    >>> colour(np.random.default_rng(1), 0.0).tolist()
    [1.0, 1.0, 1.0]
    """
    tint = np.exp(strength * rng.standard_normal(3)).astype(np.float32)
    return np.asarray(tint / tint.mean(), np.float32)


def step(away: Light, edge: float) -> Light:
    """Return a soft step: 0 where `away` is far below 0, 1 far above.

    Examples
    --------
    >>> step(np.array([-90.0, 0.0, 90.0], np.float32), 1.0).round(3).tolist()
    [0.0, 0.5, 1.0]
    """
    return np.asarray(0.5 + 0.5 * np.tanh(away / (2 * edge)), np.float32)


def _tinted(tone: NDArray[Any], tint: Light) -> Light:
    return np.asarray(np.maximum(tone, 0.002)[..., None] * tint, np.float32)


def concrete(rng: np.random.Generator, shape: Shape) -> Light:
    """Return a cast surface: any grey, some pigments, mottled, with voids.

    Examples
    --------
    >>> concrete(np.random.default_rng(1), (40, 50)).shape
    (40, 50, 3)
    """
    level = between(rng, 0.02, 0.75) if rng.random() < 0.5 else between(rng, 0.15, 0.5)
    tint = colour(rng, 0.35 if rng.random() < 0.15 else 0.05)
    amount = between(rng, 0.01, 0.14)
    tone = amount * rough(rng, shape, between(rng, 20, 200), fade=rng.uniform(0.4, 0.8))
    tone += between(rng, 0.005, 0.06) * rng.standard_normal(shape, dtype=np.float32)
    for mark in (_stains, _streaks, _ribs, _grains, _seams, _leaks):
        if rng.random() < 0.16:
            mark(rng, tone)
    light = level * np.exp(tone)
    if rng.random() < 0.85:
        _voids(rng, light)
    if rng.random() < 0.06:
        _honeycomb(rng, light)
    if rng.random() < 0.12:
        _torn(rng, light)
    return _tinted(light, tint)


def _stains(rng: np.random.Generator, tone: Light) -> None:
    spot = rough(rng, tone.shape, between(rng, 40, 160))
    edge = rng.uniform(0.3, 1.5)
    tone += rng.uniform(-0.5, 0.5) * step(spot - edge, 1 / between(rng, 2, 20))


def _streaks(rng: np.random.Generator, tone: Light) -> None:
    rows, cols = tone.shape
    down = rng.random() < 0.5
    thin = (rows // 12 + 2, cols) if down else (rows, cols // 12 + 2)
    drawn = field(rng, thin, between(rng, 2, 12))
    tone += between(rng, 0.02, 0.15) * cv2.resize(
        drawn, (cols, rows), interpolation=cv2.INTER_CUBIC
    )


def _ribs(rng: np.random.Generator, tone: Light) -> None:
    turn = rng.uniform(0, np.pi)
    rows, cols = np.mgrid[: tone.shape[0], : tone.shape[1]].astype(np.float32)
    along = rows * np.float32(np.sin(turn)) + cols * np.float32(np.cos(turn))
    wave = np.sin(2 * np.pi * along / between(rng, 4, 60))
    tone += between(rng, 0.02, 0.35) * wave * abs(wave) ** rng.uniform(0, 2)


def _grains(rng: np.random.Generator, tone: Light) -> None:
    _, cells = _cells(rng, tone.shape, between(rng, 4, 14))
    lot = rng.standard_normal(int(cells.max()) + 1).astype(np.float32)
    tone += between(rng, 0.05, 0.5) * lot[cells] * (lot[cells] > rng.uniform(-1, 1))


def _seams(rng: np.random.Generator, tone: Light) -> None:
    rows, cols = tone.shape
    line = np.zeros_like(tone)
    for _ in range(rng.integers(1, 4)):
        ends = rng.uniform(-0.2, 1.2, (2, 2)) * (cols, rows)
        points = ends.astype(np.int32).tolist()
        cv2.line(line, points[0], points[1], 1.0, int(rng.integers(1, 3)))
    tone += rng.uniform(-0.8, 0.4) * line


def _leaks(rng: np.random.Generator, tone: Light) -> None:
    """Draw a joint that leaked: a band of sand and grains along a line."""
    rows, cols = np.mgrid[: tone.shape[0], : tone.shape[1]].astype(np.float32)
    turn = rng.uniform(0, np.pi) if rng.random() < 0.4 else rng.choice([0, np.pi / 2])
    spot = rng.uniform(0, 1, 2) * tone.shape
    away = (rows - spot[0]) * np.cos(turn) + (cols - spot[1]) * np.sin(turn)
    away += 2 * field(rng, (tone.shape[0], tone.shape[1]), 30)
    band = np.exp(-((away / between(rng, 2, 14)) ** 2))
    sand = rough(rng, (tone.shape[0], tone.shape[1]), between(rng, 2, 6))
    tone += band * (between(rng, 0.05, 0.6) * sand + rng.uniform(-0.4, 0.3))


def _torn(rng: np.random.Generator, light: Light) -> None:
    """Torn cavities and chips: large, ragged, rough within."""
    rows, cols = light.shape
    for _ in range(rng.integers(1, 4)):
        count = int(rng.integers(6, 14))
        turns = np.linspace(0, 2 * np.pi, count, endpoint=False)
        reach = between(rng, 4, 26) * rng.uniform(0.5, 1.2, count)
        line = np.stack([np.cos(turns), np.sin(turns)], 1) * reach[:, None]
        line += rng.uniform(0, 1, 2) * (cols, rows)
        mask = np.zeros(light.shape, np.uint8)
        cv2.fillPoly(mask, [line.astype(np.int32)], 1)
        inside = mask > 0
        floor = np.exp(0.4 * rough(rng, (rows, cols), between(rng, 2, 10)))
        light[inside] *= rng.uniform(0.15, 0.9) * floor[inside]


def _voids(rng: np.random.Generator, light: Light) -> None:
    rows, cols = light.shape
    count = round(between(rng, 4, 700))
    median = between(rng, 0.7, 3.0)
    lit = rng.uniform(0, 0.5)
    turn = rng.uniform(0, 2 * np.pi)
    for _ in range(count):
        size = median * np.exp(0.6 * rng.standard_normal())
        at = (int(rng.uniform(0, cols)), int(rng.uniform(0, rows)))
        ground = float(light[at[1], at[0]])
        axes = (max(1, round(size)), max(1, round(size * rng.uniform(0.5, 1))))
        lean = float(rng.uniform(0, 180))
        if lit > 0.1 and size > 2:
            shift = (at[0] + round(np.cos(turn)), at[1] + round(np.sin(turn)))
            cv2.ellipse(light, shift, axes, lean, 0, 360, ground * (1 + lit), -1)
        cv2.ellipse(light, at, axes, lean, 0, 360, ground * rng.uniform(0.05, 0.7), -1)


def _honeycomb(rng: np.random.Generator, light: Light) -> None:
    patch = rough(rng, light.shape, between(rng, 60, 200)) > rng.uniform(0.6, 1.5)
    _, cells = _cells(rng, light.shape, between(rng, 4, 12))
    lot = rng.uniform(0.05, 1.2, int(cells.max()) + 1).astype(np.float32)
    light[patch] *= lot[cells][patch]


def _cells(
    rng: np.random.Generator, shape: Shape, size_px: float
) -> tuple[Light, NDArray[np.int32]]:
    """Return the distance to the nearest of scattered points, and which it is."""
    count = max(4, round(shape[0] * shape[1] / size_px**2))
    rows = rng.integers(0, shape[0], count)
    cols = rng.integers(0, shape[1], count)
    bare = np.full(shape, 255, np.uint8)
    bare[rows, cols] = 0
    away, cells = cv2.distanceTransformWithLabels(
        bare, cv2.DIST_L2, 3, labelType=cv2.DIST_LABEL_PIXEL
    )
    return np.asarray(away, np.float32), np.asarray(cells, np.int32)


def _plain(rng: np.random.Generator, shape: Shape) -> Light:
    tone = between(rng, 0.01, _WHITE) * np.exp(
        between(rng, 0.002, 0.1) * rough(rng, shape, between(rng, 20, 300))
    )
    return _tinted(tone, colour(rng, 0.5 if rng.random() < 0.5 else 0.05))


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
    return _tinted(between(rng, 0.04, 0.6) * np.exp(turned), wood * colour(rng, 0.05))


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
    return _tinted(between(rng, 0.05, 0.7) * np.exp(tone), colour(rng, 0.12))


def _gravel(rng: np.random.Generator, shape: Shape) -> Light:
    away, cells = _cells(rng, shape, between(rng, 4, 26))
    lot = rng.normal(0, between(rng, 0.1, 0.6), int(cells.max()) + 1)
    depth = away / max(float(away.max()), 1.0)
    tone = lot[cells] - rng.uniform(0.5, 3) * depth**2
    stones = _tinted(between(rng, 0.08, 0.6) * np.exp(tone), colour(rng, 0.1))
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
    return _tinted(tone.astype(np.float32), colour(rng, rng.uniform(0, 0.7)))


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
    (_other_concrete, 2.0),
    (_tiles, 0.8),
    (_gravel, 1.2),
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
