"""Mouths and floors of voids, and where on a face they sit.

A void is air that stayed: parts of spheres (shallow ones, deep ones whose mouth is
narrower than the cave), bubbles run together, bubbles drawn out as they climbed,
tracks, pinholes. Each has a mouth in the plane of the face, painted on a canvas four
times finer than the photo, and a floor below it; the mouth is the truth.
"""

from __future__ import annotations

from dataclasses import dataclass

import cv2
import numpy as np

DEEPEST_MM = 9.0
SHAPES = ("bubble", "cave", "joined", "climbing", "skinned", "pocket", "track")


@dataclass(frozen=True, slots=True, kw_only=True)
class Population:
    """How many voids, how large, how deep, of what shapes, and where.

    `depth` is the floor's depth over the mouth's radius, lowest and highest;
    `weights` go with `SHAPES`; `clumped` and `gradient` are 0 for evenly strewn.
    """

    share_percent: tuple[float, float] = (0.5, 1.3)
    median_mm: float = 1.6
    spread: float = 0.5
    range_mm: tuple[float, float] = (0.5, 14.0)
    depth: tuple[float, float] = (0.35, 1.3)
    weights: tuple[float, ...] = (0.46, 0.14, 0.14, 0.1, 0.1, 0.06, 0.0)
    clumped: float = 0.15
    gradient: float = 0.4
    lip: tuple[float, float] = (0.03, 0.16)
    inside: tuple[float, float] = (0.72, 1.12)  # albedo inside over that outside


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Pit:
    """One void on its own patch of the canvas (radius 1 is the mouth's).

    `level` is below 1 inside the mouth and grows outwards; `floor` the depth there.
    """

    level: np.ndarray
    floor: np.ndarray
    cave: float = 1.0  # mouth area over the area of the cave's walls


def _cap(r2, depth):
    """Depth of a sphere with a mouth of radius 1 and the given greatest depth."""
    radius = (1 + depth**2) / (2 * depth)
    return depth - radius + np.sqrt(np.maximum(radius**2 - r2, 0))


def _cave_ratio(depth):
    """Mouth over cap area of the same sphere."""
    return 1 / (1 + depth**2)


def _wavy(rng, x, y, strength):
    angle = np.arctan2(y, x)
    wave = np.ones_like(x)
    for lobes in range(2, 7):
        wave += rng.normal(0, strength / lobes) * np.cos(
            lobes * angle + rng.uniform(0, 2 * np.pi)
        )
    return np.maximum(wave, 0.4)


def _bubble(rng, x, y, depth):
    stretch = np.sqrt(1 + min(rng.exponential(0.15), 0.8))
    u = np.hypot(x * stretch, y / stretch) / _wavy(rng, x, y, 0.05)
    return Pit(level=u, floor=_cap(np.minimum(u, 1) ** 2, depth))


def _cave(rng, x, y, depth):
    depth = max(depth, 1.0) * rng.uniform(1.1, 1.7)
    u = np.hypot(x, y) / _wavy(rng, x, y, 0.09)
    floor = _cap(np.minimum(u, 1) ** 2, depth)
    return Pit(level=u, floor=floor, cave=_cave_ratio(depth))


def _joined(rng, x, y, depth):
    """Two to four bubbles run together; ridges stay between their floors."""
    level, floor = np.full_like(x, 9.0), np.zeros_like(x)
    far, reach = 0.0, rng.uniform(0.5, 0.75)
    for _ in range(rng.integers(2, 5)):
        turn = rng.uniform(0, 2 * np.pi)
        dx, dy = far * np.cos(turn), far * np.sin(turn)
        r2 = ((x - dx) ** 2 + (y - dy) ** 2) / reach**2
        level = np.minimum(level, 1 + (np.sqrt(r2) - 1) * reach)
        floor = np.maximum(floor, np.where(r2 < 1, reach * _cap(r2, depth), 0))
        far, reach = rng.uniform(0.4, 0.6), rng.uniform(0.3, 0.55)
    return Pit(level=level, floor=floor)


def _climbing(rng, x, y, depth):
    """Drawn out along the climb (towards smaller y), narrower behind."""
    long = rng.uniform(1.35, 2.2)
    lean = rng.normal(0, 0.15)
    along, across = (y + lean * x) / long, (x - lean * y) * long
    taper = 1 + rng.uniform(0.1, 0.4) * np.clip(along, -1, 1)
    u = np.hypot(along, across * taper) / _wavy(rng, x, y, 0.04)
    return Pit(level=u, floor=_cap(np.minimum(u, 1) ** 2, depth) / long**0.25)


def _skinned(rng, x, y, depth):
    """A thin skin of paste still hangs over part of it: a ragged, smaller mouth."""
    cells = rng.standard_normal((9, 9), dtype=np.float32)
    rag = cv2.resize(cells, x.shape[::-1], interpolation=cv2.INTER_CUBIC)
    u = np.hypot(x, y) * (1 + 0.14 * np.clip(rag, -2, 2))
    depth = max(depth, 0.6)
    floor = _cap(np.minimum(np.hypot(x, y) / 1.35, 1) ** 2, depth) * 1.2
    return Pit(level=u, floor=np.maximum(floor, 0.15), cave=0.55)


def _pocket(rng, x, y, depth):
    """Air under a stone: angular mouth, uneven floor."""
    corners = rng.integers(4, 7)
    turns = np.sort(rng.uniform(0, 2 * np.pi, corners))
    u = np.zeros_like(x)
    for turn in turns:
        u = np.maximum(u, (x * np.cos(turn) + y * np.sin(turn)) / rng.uniform(0.55, 1))
    u = np.maximum(u, np.hypot(x, y) / 1.3)
    tip = rng.normal(0, 0.35, 2)
    wall = np.clip((1 - u) / rng.uniform(0.25, 0.6), 0, 1)
    return Pit(
        level=u, floor=depth * wall * np.clip(1 + tip[0] * x + tip[1] * y, 0.2, 2)
    )


def _track(rng, x, y, depth):
    """A worm track: a narrow winding channel."""
    long = rng.uniform(2.2, 3.4)
    bend = rng.normal(0, 0.25) * np.sin(2.2 * y / long + rng.uniform(0, 6))
    u = np.hypot(np.maximum(np.abs(y) - long * 0.6, 0), (x - bend) / 0.42)
    u /= _wavy(rng, x, y, 0.05)
    return Pit(level=u, floor=0.42 * _cap(np.minimum(u, 1) ** 2, depth))


_MAKERS = dict(
    zip(
        SHAPES,
        (_bubble, _cave, _joined, _climbing, _skinned, _pocket, _track),
        strict=True,
    )
)
REACH = {"climbing": 2.3, "track": 3.4}


def sink(surface, rng, centre_mm, radius_mm, population, shape=None):
    """Sink one void; returns whether any of it lies on the face.

    Parameters
    ----------
    surface : Surface
        Changed in place: canvas, relief, colour.
    rng : numpy.random.Generator
    centre_mm : tuple of float
        (row, col).
    radius_mm : float
    population : Population
    shape : str, optional
        One of `SHAPES`, or 'disc' (a plain circle); drawn by weight where not given.
    """
    fine = surface.canvas_per_mm
    if shape is None:
        shape = SHAPES[rng.choice(len(SHAPES), p=population.weights)]
    half = (REACH.get(shape, 1.7) * radius_mm + 0.2) * fine + 4
    corner = np.floor((np.array(centre_mm) * fine - half) / 2).astype(int) * 2
    top, left = np.maximum(corner, 0)
    ends = np.ceil((np.array(centre_mm) * fine + half) / 2).astype(int) * 2
    bottom, right = np.minimum(ends, surface.canvas.shape)
    if bottom - top < 2 or right - left < 2:
        return False
    yy = (np.arange(top, bottom, dtype=np.float32) + 0.5) / fine - centre_mm[0]
    xx = (np.arange(left, right, dtype=np.float32) + 0.5) / fine - centre_mm[1]
    x, y = np.meshgrid(xx / radius_mm, yy / radius_mm)
    turn = rng.normal(0, 0.3) if shape == "climbing" else rng.uniform(0, np.pi)
    x, y = x * np.cos(turn) + y * np.sin(turn), y * np.cos(turn) - x * np.sin(turn)
    depth = rng.uniform(*population.depth)
    depth = min(depth, DEEPEST_MM / radius_mm)
    if shape == "disc":
        u = np.hypot(x, y)
        pit = Pit(level=u, floor=_cap(np.minimum(u, 1) ** 2, depth))
    else:
        pit = _MAKERS[shape](rng, x, y, depth)
    lip = rng.uniform(*population.lip) * min(1.0, 1.5 / radius_mm)
    tone = rng.uniform(*population.inside) * np.array([1, 0.98, 0.95]) ** rng.uniform(
        -1, 2
    )
    surface.open(pit, (top, left), radius_mm, lip=lip, tone=tone)
    return True


def sizes_mm(rng, area_mm2, population):
    """Diameters whose circles add up to an area, largest first."""
    found, total = [], 0.0
    low, high = population.range_mm
    while total < area_mm2:
        size = population.median_mm * np.exp(population.spread * rng.standard_normal())
        if low <= size <= high:
            found.append(size)
            total += np.pi / 4 * size**2
    return np.sort(found)[::-1]


def strew(surface, rng, population):
    """Sink a population of voids over the face."""
    high, wide = surface.size_mm
    share = rng.uniform(*population.share_percent) / 100
    radii = sizes_mm(rng, share * high * wide, population) / 2 if share else []
    nests = rng.uniform(0, 1, (4, 2)) * (high, wide)
    placed = np.zeros((len(radii), 3))
    for number, radius in enumerate(radii):
        for _ in range(40):
            centre = _place(rng, population, nests, (high, wide))
            gap = np.hypot(*(placed[:number, :2] - centre).T)
            if np.all(gap > 1.25 * (placed[:number, 2] + radius) + 0.25):
                break
        placed[number] = (*centre, radius)
        sink(surface, rng, centre, radius, population)


def _place(rng, population, nests, size_mm):
    """More towards the top of the face, some in clumps."""
    if rng.random() < population.clumped:
        nest = nests[rng.integers(len(nests))]
        return np.mod(nest + rng.normal(0, 0.06, 2) * max(size_mm), size_mm)
    row, col = rng.uniform(0, 1, 2)
    if rng.random() < population.gradient:
        row = row**2
    return np.array([row, col]) * size_mm
