"""How well fluted faces are measured as flat ones and along their flutes.

    python tests/benchmarks/ribs.py [--seeds 1] [--seed-base N] [--write]

Flutes as waves, as hollows between arrises and as flat ribs, of 12 to 60 mm pitch and
2 to 10 mm depth, in two lights; bodies, voids, lights and camera are the third
renderer's. Truth is the share of the photo that mouths of voids cover.
"""

from __future__ import annotations

import argparse
import sys
import zlib
from dataclasses import replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.imaging.photo import read_photo
from analysis.model.photo import Face, Scale
from analysis.model.reading import MeasureSettings
from analysis.services.measuring import examined
from tests.benchmarks.scoring import holds
from tests.benchmarks.shop import surface as surfaces
from tests.benchmarks.shop.camera import Camera, expose, look, parallax
from tests.benchmarks.shop.draw import truth
from tests.benchmarks.shop.light import LIGHTS, shade
from tests.benchmarks.shop.surface import FORMS
from tests.benchmarks.shop.voids import Population, strew

TABLE = Path(__file__).parent / "results" / "ribs.md"
REPORTING_BASE = 51977
SIZE_PX = (720, 960)
COARSE = 4  # samples of the relief to one of the shadows that flutes cast
AS_SEEN_STEPS = 12
DIM = 0.1  # light below which shading of the skin hardly shows, of a level face's
LIGHT_NAMES = ("window", "near_lamp")
# Profile, pitch mm, depth mm.
FLUTES = (
    ("wave", 12, 2),
    ("wave", 30, 5),
    ("wave", 60, 10),
    ("hollow", 20, 4),
    ("hollow", 40, 8),
    ("rib", 30, 4),
    ("rib", 50, 8),
)
PX_PER_MM = {0: 5.5, 12: 7.0, 20: 6.0, 30: 5.0, 40: 4.5, 50: 4.0, 60: 3.8}
VOIDS = Population(share_percent=(0.6, 2.0), depth=(0.45, 1.3))
HEAD = (
    "| profile | pitch mm | depth mm | light | true % | flat % | honeycomb % "
    "| found % | levelled | ribbed % | 95 % | honeycomb % | given % | 95 % |"
)
WAYS = {
    "flat": lambda *_: MeasureSettings(face_kind="flat"),
    "found": lambda *_: MeasureSettings(),
    "ribbed": lambda *_: MeasureSettings(face_kind="ribbed"),
    "given": lambda *size: MeasureSettings(
        face_kind="ribbed", pitch_mm=size[0], depth_mm=size[1]
    ),
}


def height_of(profile, place, pitch, depth):
    """Height below the crest, mm, at a place across, mm."""
    turn = (place / pitch) % 1.0
    if profile == "wave":
        return depth / 2 * (np.cos(2 * np.pi * turn) - 1)
    if profile == "hollow":
        # A circle's arc between two sharp arrises.
        radius = (pitch**2 / 4 + depth**2) / (2 * depth)
        return (radius - depth) - np.sqrt(radius**2 - ((turn - 0.5) * pitch) ** 2)
    # Flat rib, flank of a third of the rib's width, flat bottom.
    away = np.abs(turn - 0.5) * 2
    return -depth * np.clip((0.6 - away) / 0.2, 0, 1)


def draw(profile, pitch, depth, light, seed, base, size_px=SIZE_PX):
    """Draw one face: its file, scale, and truth."""

    def relief(rows, cols, rng):
        lean = np.radians(rng.choice([0.0, 90.0]) + rng.normal(0, 4))
        place = rows * np.cos(lean) + cols * np.sin(lean)
        return height_of(profile, place + rng.uniform(0, pitch), pitch, depth)

    key = [base, zlib.crc32(f"{profile}/{pitch}/{depth}/{light}".encode()), seed]
    return draw_relief(relief, PX_PER_MM[pitch], LIGHTS[light], key, size_px)


def draw_relief(relief, px_per_mm, light, key, size_px=SIZE_PX):
    """Draw a face that is no plane; `relief` gives mm from rows and cols in mm."""
    rng = np.random.default_rng(key)
    colour = str(rng.choice(["grey", "warm_grey", "white"]))
    surface = surfaces.bare(px_per_mm, size_px, colour)
    FORMS[str(rng.choice(["film_ply", "rubber"]))](surface, rng)
    surfaces.clouds(surface, rng, 0.045, finest_mm=1.5, hurst=0.5)
    surfaces.sand(surface, rng, 0.02, 0.7, 0.8)
    strew(surface, rng, VOIDS)
    # Flutes come last: voids sink from where the flute's own surface is.
    rows = (np.arange(surface.shape[0], dtype=np.float32) + 0.5) * surface.step_mm
    cols = (np.arange(surface.shape[1], dtype=np.float32) + 0.5) * surface.step_mm
    cut = relief(rows[:, None], cols[None], rng)
    surface.height += np.float32(cut)
    view = look(Camera(), rng, size_px, surface.px_per_mm)
    lit = light(rng, surface.size_mm)
    radiance = shade(surface, lit)
    # Inside voids every horizon was followed; on the flutes that is done more coarsely.
    outside = _light_on_flutes(cut, surface, lit, radiance / surface.albedo)
    kept = surface.active[..., None]
    radiance = np.where(kept, radiance, outside * surface.albedo)
    # A void is seen through its own mouth, and with the flute from where that lies.
    surface.height -= cut
    parallax(radiance, surface, view)
    radiance = _as_seen(radiance, surface, view, cut)
    camera = replace(Camera(), gain=float(rng.uniform(1.5, 5.0)))
    jpeg = expose(radiance, rng, camera, view)
    return jpeg, 1 / view.px_per_mm, truth(surface, view)


def _as_seen(radiance, surface, view, cut):
    """Move what lies deep to where the camera sees it, the truth with it.

    The ray through a point of the plane goes on down to the flute; no flank is so steep
    that one hides another.
    """
    high, wide = surface.shape
    finer = surface.canvas.shape[0] // high
    rows, cols = (np.float32(one) for one in np.mgrid[:high, :wide])
    middle = np.array(view.place_mm[:2]) / surface.step_mm - 0.5
    lean_down = (rows - np.float32(middle[0])) / np.float32(view.place_mm[2])
    lean_right = (cols - np.float32(middle[1])) / np.float32(view.place_mm[2])
    deep = np.zeros_like(rows)
    for _ in range(AS_SEEN_STEPS):  # mm
        deep = -_taken(
            np.float32(cut), cols + deep * lean_right, rows + deep * lean_down
        )
    size = surface.canvas.shape[::-1]
    fine = [
        cv2.resize(deep * lean, size, interpolation=cv2.INTER_LINEAR)
        for lean in (lean_right, lean_down)
    ]
    fine[0] = finer * fine[0] + np.arange(size[0], dtype=np.float32)[None]
    fine[1] = finer * fine[1] + np.arange(size[1], dtype=np.float32)[:, None]
    mouths = _taken(np.float32(surface.canvas), *fine, cv2.INTER_NEAREST)
    surface.canvas[:] = mouths.astype(surface.canvas.dtype)
    return _taken(radiance, cols + deep * lean_right, rows + deep * lean_down)


def _taken(picture, right, down, how=cv2.INTER_LINEAR):
    return cv2.remap(picture, right, down, how, borderMode=cv2.BORDER_REPLICATE)


def _light_on_flutes(cut, surface, lit, open_light):
    """Light that reaches flutes past each other, (rows, cols, 3).

    What a coarser picture of the flutes gets past its horizons, with the fine
    picture's own shading; flanks turned away still get what the dome gives.
    """
    fine = cut.shape
    size = (round(fine[1] / COARSE), round(fine[0] / COARSE))
    small = surfaces.bare(
        surface.px_per_mm / COARSE, (size[1] // 2, size[0] // 2), "grey"
    )
    small.height[:] = cv2.resize(
        np.float32(cut), small.shape[::-1], interpolation=cv2.INTER_AREA
    )
    unhidden = shade(small, lit) / small.albedo
    small.active[:] = True
    seen = shade(small, lit) / small.albedo
    before, there = (
        cv2.resize(np.float32(one), fine[::-1], interpolation=cv2.INTER_LINEAR)
        for one in (unhidden, seen)
    )
    return there * (open_light + DIM) / (before + DIM)


def measured(jpeg, mm_per_px, settings):
    """Figures of one way of measuring, in percent."""
    made = examined(
        read_photo(jpeg),
        scale=Scale(mm_per_px=mm_per_px, relative_uncertainty=0.01, method="typed"),
        face=Face(),
        settings=settings,
        tell=lambda *_: None,
    )
    summary = made.summary(made.found)
    share = summary.void_share
    return {
        "share": 100 * share.value,
        "ends": (100 * share.low, 100 * share.high),
        "honeycomb": 100 * summary.honeycomb_share,
        "levelled": bool(made.levelling.variant),
        "smallest_px": summary.smallest_counted_px,
    }


def true_share(drawn, smallest_px):
    """Share of voids of the smallest counted size or larger, percent."""
    counts = np.zeros(len(drawn["area_px"]) + 1, bool)
    counts[1:] = drawn["area_px"] >= np.pi / 4 * smallest_px**2
    near = cv2.dilate(np.uint8(counts[drawn["labels"]]), np.ones((3, 3), np.uint8)) > 0
    return 100 * float(np.where(near, drawn["cover"], 0).mean())


def score(flute, light, seed, base):
    """Draw one face and measure it in each way."""
    jpeg, mm_per_px, drawn = draw(*flute, light, seed, base)
    ways = {
        name: measured(jpeg, mm_per_px, settings(*flute[1:]))
        for name, settings in WAYS.items()
    }
    true = true_share(drawn, ways["flat"]["smallest_px"])
    return {"flute": flute, "light": light, "true": true, "ways": ways}


def report(rows):
    """Lines of the table, and the targets below it."""
    lines = [
        HEAD,
        "|" + "---|" * 14,
    ]
    for row in rows:
        flat, found, ribbed, given = (row["ways"][name] for name in WAYS)
        cells = [*map(str, row["flute"]), row["light"], f"{row['true']:.2f}"]
        cells += [f"{flat['share']:.2f}", f"{flat['honeycomb']:.1f}"]
        cells += [f"{found['share']:.2f}", "yes" if found["levelled"] else "no"]
        cells += [f"{ribbed['share']:.2f}", "{:.2f} to {:.2f}".format(*ribbed["ends"])]
        cells += [f"{ribbed['honeycomb']:.1f}", f"{given['share']:.2f}"]
        cells.append("{:.2f} to {:.2f}".format(*given["ends"]))
        lines.append(f"| {' | '.join(cells)} |")
    lines += [
        "",
        "| measured as | target | figure | wanted | met |",
        "|---|---|---|---|---|",
    ]
    for way in WAYS:
        for what, value, low, high in figures(rows, way):
            met = "met" if low <= value <= high else "NOT met"
            lines.append(
                f"| {way} | {what} | {value:.3g} | {low:g} to {high:g} | {met} |"
            )
    return lines


def figures(rows, way):
    """What is asked for: (what, value, lowest, highest)."""
    true = np.array([row["true"] for row in rows])
    mine = [row["ways"][way] for row in rows]
    share = np.array([one["share"] for one in mine])
    ends = np.array([one["ends"] for one in mine])
    yield "bias, found over true %", 100 * (share.sum() / true.sum() - 1), -8, 8
    off = 100 * (share / true - 1)
    yield "median error of a face %", float(np.median(np.abs(off))), 0, 8
    held = [holds(*e, t) for e, t in zip(ends.tolist(), true.tolist(), strict=True)]
    yield "interval holds the truth", float(np.mean(held)), 0.9, 1
    wide = ends[:, 1] / np.maximum(ends[:, 0], 1e-9)
    yield "median high/low", float(np.median(wide)), 1, 2
    yield "false honeycomb, most %", max(one["honeycomb"] for one in mine), 0, 0
    yield (
        "levelled, part of faces",
        float(np.mean([m["levelled"] for m in mine])),
        (0 if way in {"flat", "found"} else 1),
        (0 if way == "flat" else 1),
    )


def main():
    run(
        "Fluted and ribbed faces",
        Path(__file__).name,
        (FLUTES, LIGHT_NAMES),
        score,
        report,
        TABLE,
    )


def run(title, script, kinds, score_one, report_of, table):
    """Score each of the first kinds in each of the second, print, write if asked."""
    parser = argparse.ArgumentParser(description=f"{title}, drawn.")
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--seed-base", type=int, default=REPORTING_BASE)
    parser.add_argument("--write", action="store_true")
    asked = parser.parse_args()
    rows = [
        score_one(shape, light, seed, asked.seed_base)
        for shape in kinds[0]
        for light in kinds[1]
        for seed in range(asked.seeds)
    ]
    lines = report_of(rows)
    sys.stdout.write("\n".join(lines) + "\n")
    if asked.write:
        command = f"python tests/benchmarks/{script} --seeds {asked.seeds}"
        head = [f"# {title}", "", f"    {command} --write", ""]
        table.write_text("\n".join([*head, *lines]) + "\n")


if __name__ == "__main__":
    main()
