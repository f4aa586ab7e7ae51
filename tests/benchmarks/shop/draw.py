"""One face of the third renderer, with its truth.

    python tests/benchmarks/shop/draw.py FOLDER [--kinds a b] [--seeds 1]

writes photos, and their truth beside them, to look at.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[3]))

from tests.benchmarks.faces import REPORTING_BASE, DrawnFace, kept
from tests.benchmarks.shop import surface as surfaces
from tests.benchmarks.shop.camera import expose, look, parallax, warped
from tests.benchmarks.shop.kinds import KINDS
from tests.benchmarks.shop.light import LIGHTS, gloss, shade
from tests.benchmarks.shop.marks import MARKS
from tests.benchmarks.shop.surface import CANVAS, FINE, FORMS
from tests.benchmarks.shop.voids import strew

HIGH_PX, WIDE_PX = 700, 900


def draw(name, seed, base=REPORTING_BASE, size_px=(HIGH_PX, WIDE_PX), light=None):
    """Draw the `seed`-th face of a kind.

    Parameters
    ----------
    name : str
        One of `KINDS`.
    seed, base : int
    size_px : tuple of int
        (rows, cols) of the photo, before a tilt shortens it.
    light : str, optional
        One of `LIGHTS`; the kind's own where not given. The same face under another
        light has the same relief, colour and truth.

    Returns
    -------
    DrawnFace
    """
    return draw_kind(KINDS[name], name, seed, base, size_px, light)


def draw_kind(kind, name, seed, base, size_px=(HIGH_PX, WIDE_PX), light=None):
    """Draw a face of a kind that need not be listed."""
    key = [base, zlib.crc32(name.encode()), seed]
    face_rng, camera_rng = (np.random.default_rng([*key, part]) for part in (1, 2))
    light = light or kind.light
    light_rng = np.random.default_rng([*key, 3, zlib.crc32(light.encode())])
    surface = cast(kind, face_rng, size_px)
    view = look(kind.camera, camera_rng, size_px, surface.px_per_mm)
    lit = LIGHTS[light](light_rng, surface.size_mm)
    radiance = shade(surface, lit)
    radiance += gloss(surface, lit, view.place_mm)
    parallax(radiance, surface, view)
    return DrawnFace(
        kind=name,
        seed=seed,
        jpeg=expose(radiance, camera_rng, exposed_for(kind), view),
        mm_per_px=1 / view.px_per_mm,
        **truth(surface, view),
    )


def exposed_for(kind):
    """The camera brings light and dark faces nearer to each other, not to one grey."""
    green = surfaces.COLOURS[kind.colour][1] / surfaces.COLOURS["grey"][1]
    return replace(kind.camera, level=min(kind.camera.level * green**0.25, 215))


def cast(kind, rng, size_px):
    """Relief and colour of a face."""
    surface = surfaces.bare(rng.uniform(*kind.px_per_mm), size_px, kind.colour)
    FORMS[kind.form](surface, rng)
    surfaces.clouds(
        surface, rng, kind.cloudy[0], finest_mm=kind.cloudy[1], hurst=kind.cloudy[2]
    )
    if kind.sand[0]:
        surfaces.sand(surface, rng, *kind.sand)
    if kind.polish:
        surfaces.shine(surface, rng, kind.polish)
    if kind.bow_mm:
        surfaces.bend(surface, rng, kind.bow_mm)
    for mark in kind.marks:
        MARKS[mark](surface, rng)
    strew(surface, rng, kind.voids)
    return surface


def truth(surface, view):
    """Labels, areas and cover on the photo's grid, from the canvas of the mouths."""
    seen = warped(surface.canvas.astype(np.float32), view, CANVAS, CANVAS, exact=True)
    seen = seen.astype(np.int32)
    high, wide = view.shape
    cells = seen.reshape(high, CANVAS, wide, CANVAS)
    cover = (cells > 0).mean(axis=(1, 3), dtype=np.float32)
    labels = np.where(cover >= 0.5, cells.max(axis=(1, 3)), 0).astype(np.int32)
    areas = np.bincount(seen.ravel(), minlength=len(surface.caves))[1:]

    def shown(mask):
        return warped(np.float32(mask), view, FINE) >= 0.5

    return {
        "labels": labels,
        "area_px": areas / CANVAS**2,
        "cover": cover,
        "honeycomb": shown(surface.honeycomb),
        "lines": shown(surface.lines),
    }


def draw_once(name, seed, base, folder):
    """Draw, or read what was drawn before by the same drawing."""
    return kept(draw, Path(__file__).parent.glob("*.py"), name, seed, base, folder)


def main():
    parser = argparse.ArgumentParser(description="Write drawn faces to look at.")
    parser.add_argument("folder", type=Path)
    parser.add_argument("--kinds", nargs="+", choices=sorted(KINDS), default=None)
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--seed-base", type=int, default=REPORTING_BASE)
    asked = parser.parse_args()
    asked.folder.mkdir(parents=True, exist_ok=True)
    for name in asked.kinds or KINDS:
        for seed in range(asked.seeds):
            face = draw(name, seed, asked.seed_base)
            stem = asked.folder / f"{name}_{seed}"
            stem.with_suffix(".jpg").write_bytes(face.jpeg)
            cv2.imwrite(f"{stem}_truth.png", np.uint8(255 * (face.labels > 0)))


if __name__ == "__main__":
    main()
