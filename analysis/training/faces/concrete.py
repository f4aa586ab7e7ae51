"""Concrete, drawn: tone, stains, ribs, seams, cracks, torn skin, voids, honeycomb."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.training.faces.textures import (
    between,
    colour,
    field,
    rough,
    scattered_cells,
    step,
    tinted,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Light = NDArray[np.float32]
    Shape = tuple[int, int]


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
    for mark in (
        _stains,
        _streaks,
        _ribs,
        _grains,
        _seams,
        _leaks,
        _cracks,
        _rough_skin,
    ):
        if rng.random() < 0.16:
            mark(rng, tone)
    light = level * np.exp(tone)
    if rng.random() < 0.85:
        _voids(rng, light)
    if rng.random() < 0.1:
        _honeycomb(rng, light)
    if rng.random() < 0.12:
        _torn(rng, light)
    return tinted(light, tint)


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
    _, cells = scattered_cells(rng, tone.shape, between(rng, 4, 14))
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


def _cracks(rng: np.random.Generator, tone: Light) -> None:
    """Draw cracks that wander right across or end within; both sides are face."""
    rows, cols = tone.shape
    line = np.zeros_like(tone)
    for _ in range(rng.integers(1, 4)):
        at = rng.uniform(0, 1, 2) * (cols, rows)
        turn, pace = rng.uniform(0, 2 * np.pi), between(rng, 3, 12)
        whole = rng.random() < 0.6
        for way in (0.0, np.pi):
            steps = 500 if whole else int(rng.integers(5, 60))
            leans = turn + way + 0.5 * np.cumsum(0.3 * rng.standard_normal(steps))
            leans += 0.5 * rng.standard_normal(steps)
            path = at + pace * np.cumsum(
                np.stack([np.cos(leans), np.sin(leans)], 1), axis=0
            )
            thick = int(rng.choice([1, 1, 1, 2, 3]))
            cv2.polylines(line, [path.astype(np.int32)], False, 1.0, thick)
    soft = np.asarray(
        cv2.GaussianBlur(line, (0, 0), between(rng, 0.3, 1.0)), np.float32
    )
    tone -= rng.uniform(0.2, 1.8) * soft
    if rng.random() < 0.4:  # the far edge is lit
        tone += rng.uniform(0.1, 0.5) * np.roll(soft, 2, axis=(0, 1))


def _rough_skin(rng: np.random.Generator, tone: Light) -> None:
    """Light a rough skin from the side: washed, brushed, worn or pulled off."""
    bumps = rough(rng, (tone.shape[0], tone.shape[1]), between(rng, 3, 14))
    down, right = np.gradient(bumps)
    turn = rng.uniform(0, 2 * np.pi)
    slope = np.cos(turn) * right + np.sin(turn) * down
    tone += between(rng, 0.04, 0.5) * slope / max(float(slope.std()), 1e-6)


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
    _, cells = scattered_cells(rng, light.shape, between(rng, 4, 12))
    lot = rng.uniform(0.05, 1.2, int(cells.max()) + 1).astype(np.float32)
    light[patch] *= lot[cells][patch]
