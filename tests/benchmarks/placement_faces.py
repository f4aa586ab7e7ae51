"""Faces whose pattern of voids is known: positions and sizes drawn directly.

`face(kind, random, changed=...)` returns a `FaceGrid`. `changed` draws other face
sizes, band widths, void sizes and strengths.
"""

from __future__ import annotations

import numpy as np

from analysis.model.diagnosis import FaceGrid

CELL_MM = 2.0
KINDS = ("leak", "top", "random", "clusters", "slope", "honeycomb")
NAMES = {
    "leak": "joint_leak",
    "top": "more_at_top",
    "random": None,
    "clusters": "clusters",
    "slope": "under_slope",
    "honeycomb": "honeycomb",
}


def face(kind, random, *, changed=False):
    """Return a drawn face of one kind, with a joint, a slope and its height known."""
    tall, wide = random.uniform(180, 500, 2) if changed else (300.0, 400.0)
    rows, cols = round(tall / CELL_MM), round(wide / CELL_MM)
    row, col = np.mgrid[:rows, :cols] + 0.5
    joint_at = random.uniform(0.25, 0.75) * cols
    band = (random.uniform(8, 20) if changed else 15.0) / CELL_MM
    in_band = np.abs(col - joint_at) <= band
    slope = row < rows * (random.uniform(0.2, 0.4) if changed else 0.3)
    density = np.ones((rows, cols))
    count = random.poisson(random.uniform(30, 160) if changed else 80)
    if kind == "leak":
        density[in_band] *= random.uniform(4, 10)
    if kind == "top":
        low, high = (1.6, 3.0) if changed else (2.0, 2.6)
        density *= np.exp(random.uniform(low, high) * (1 - row / rows))
    if kind == "slope":
        density[slope] *= random.uniform(3, 6)
    places = _at_random(random, density, max(count, 12))
    if kind == "clusters":
        places = _clusters(random, rows, cols, max(count, 40), changed=changed)
    patch = np.zeros((rows, cols), dtype=bool)
    if kind == "honeycomb":
        centre = random.uniform(0.2, 0.8, 2) * (rows, cols)
        reach = random.uniform(14, 30) / CELL_MM
        patch = np.hypot(row - centre[0], col - centre[1]) < reach
    spread = random.uniform(0.3, 0.6) if changed else 0.45
    return FaceGrid(
        cell_mm=CELL_MM,
        on_face=np.ones((rows, cols), dtype=bool),
        joint=in_band.astype(np.int64),
        joint_names=("left",),
        sloped=slope if kind in {"slope", "random"} else np.zeros_like(slope),
        by_insert=np.zeros((rows, cols), dtype=bool),
        height=1 - row / rows,
        patch=patch,
        row=places[:, 0],
        col=places[:, 1],
        diameter_mm=np.exp(random.normal(np.log(2.5), spread, len(places))),
    )


def _at_random(random, density, count):
    chance = (density / density.sum()).reshape(-1)
    cell = random.choice(density.size, count, p=chance)
    place = np.column_stack(np.unravel_index(cell, density.shape)).astype(float)
    return place + random.uniform(0, 1, place.shape) - 0.5


def _clusters(random, rows, cols, count, *, changed):
    """Parents at random, voids around them (Thomas process), cut at the face."""
    each = random.uniform(5, 12) if changed else 8.0
    reach = (random.uniform(5, 12) if changed else 8.0) / CELL_MM
    parents = random.uniform(0, 1, (max(round(count / each), 4), 2)) * (rows, cols)
    own = parents[random.integers(0, len(parents), count)]
    places = own + random.normal(0, reach, own.shape)
    inside = ((places > 0) & (places < (rows - 1, cols - 1))).all(axis=1)
    return places[inside]
