"""One and the same face in many lights: how far the measured share moves.

    python tests/benchmarks/lights.py [--seeds 1] [--faces NAME ...] [--out FILE.md]
        [--seed-base N]

Relief, colour and camera stay; only the light changes. Printed for each face: found
over true share in every light, the largest over the smallest, and the standard
deviation over the mean. A face is the same in all lights only if both are small.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import scoring
from tests.benchmarks.faces import REPORTING_BASE
from tests.benchmarks.measuring import measure
from tests.benchmarks.real_summary import met, table
from tests.benchmarks.shop import draw
from tests.benchmarks.shop.kinds import GOOD, PHONE, Kind
from tests.benchmarks.shop.light import LIGHTS
from tests.benchmarks.shop.voids import Population

MOST_SPREAD = 0.10
SIZES = {
    "small": {"median_mm": 1.3, "spread": 0.35, "range_mm": (0.6, 4.0)},
    "large": {"median_mm": 4.0, "spread": 0.45, "range_mm": (1.5, 16.0)},
}
GROUNDS = {
    "grey ply": Kind(camera=PHONE),
    "white steel": Kind(colour="white", form="steel", camera=GOOD),
    "red rubber": Kind(colour="red", form="rubber", marks=("release_streaks",)),
    "dark ply": Kind(colour="dark", polish=0.2, camera=PHONE),
}
FACES = {f"{ground}, {size}": (ground, size) for ground in GROUNDS for size in SIZES}


@dataclass(frozen=True, slots=True, kw_only=True)
class Lit:
    """One face in one light: shares in percent."""

    face: str
    seed: int
    light: str
    true_percent: float
    found_percent: float
    low_percent: float
    high_percent: float

    @property
    def ratio(self):
        return self.found_percent / self.true_percent


def kind_of(face):
    """The kind of a named face."""
    ground, size = FACES[face]
    population = Population(
        share_percent=(0.7, 1.2) if size == "small" else (1.5, 2.5),
        depth=(0.5, 1.3),
        inside=(0.8, 1.1),
        **SIZES[size],
    )
    return replace(
        GROUNDS[ground],
        voids=population,
        px_per_mm=(7.0, 7.0) if size == "small" else (5.0, 5.0),
    )


def measure_in(face, seed, light, base=REPORTING_BASE):
    """Draw a face in a light and measure it."""
    drawn = draw.draw_kind(kind_of(face), f"light {face}", seed, base, light=light)
    figures = measure(drawn.jpeg, drawn.mm_per_px, with_mask=False).figures
    limit_px = scoring.smallest_mm(drawn.mm_per_px) / drawn.mm_per_px
    counted = scoring.diameters_mm(drawn.area_px, 1.0) >= limit_px
    return Lit(
        face=face,
        seed=seed,
        light=light,
        true_percent=100 * float(drawn.area_px[counted].sum()) / drawn.labels.size,
        found_percent=figures["void_area_percent"],
        low_percent=figures["void_area_percent_low"],
        high_percent=figures["void_area_percent_high"],
    )


def spread(ratios):
    """Largest over smallest, and the standard deviation over the mean."""
    ratios = np.asarray(ratios, float)
    low = ratios.min()
    return (
        float(ratios.max() / low) if low > 0 else float("inf"),
        float(ratios.std(ddof=1) / ratios.mean()) if ratios.mean() > 0 else np.inf,
    )


def report(lit):
    """Lines of the report."""
    lights = list(dict.fromkeys(one.light for one in lit))
    faces = list(dict.fromkeys((one.face, one.seed) for one in lit))
    cells = {(one.face, one.seed, one.light): one for one in lit}
    yield "Found over true share; the face is the same in every light."
    yield ""

    def row(face):
        mine = [cells[*face, light].ratio for light in lights]
        apart, deviation = spread(mine)
        return [
            f"{face[0]} ({face[1]})",
            *(f"{value:.2f}" for value in mine),
            f"{apart:.2f}",
            f"{deviation:.3f}",
        ]

    rows = [row(face) for face in faces]
    means = [np.mean([cells[*face, light].ratio for face in faces]) for light in lights]
    apart, deviation = spread(means)
    rows.append(
        ["**mean**", *(f"{m:.2f}" for m in means), f"{apart:.2f}", f"{deviation:.3f}"]
    )
    yield from table(("face", *lights, "max / min", "sd / mean"), rows)
    yield ""
    yield from targets(lit)


def targets(lit):
    """The spread over lights held against its target, by size of void and in all."""
    groups = {f"{size} voids": f", {size}" for size in SIZES} | {"all faces": ""}
    rows = []
    for name, ending in groups.items():
        faces = dict.fromkeys((o.face, o.seed) for o in lit if o.face.endswith(ending))
        if not faces:
            continue
        values = np.array(
            [spread([o.ratio for o in lit if (o.face, o.seed) == f]) for f in faces]
        )
        mean = float(values[:, 1].mean())
        rows.append(
            [
                name,
                f"{mean:.3f}",
                f"{values[:, 1].max():.3f}",
                f"{np.median(values[:, 0]):.2f}",
                f"{MOST_SPREAD}",
                met(mean <= MOST_SPREAD),
            ]
        )
    head = ("spread over lights", "mean sd / mean", "largest", "median max / min",
            "wanted", "met")  # fmt: skip
    yield from table(head, rows)
    held = np.mean(
        [scoring.holds(o.low_percent, o.high_percent, o.true_percent) for o in lit]
    )
    yield ""
    yield f"The interval holds the truth on {held:.2f} of {len(lit)} photos."


def main():
    parser = argparse.ArgumentParser(description="One face in many lights.")
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--faces", nargs="+", choices=sorted(FACES), default=None)
    parser.add_argument("--lights", nargs="+", choices=sorted(LIGHTS), default=None)
    parser.add_argument("--seed-base", type=int, default=REPORTING_BASE)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    lit = [
        measure_in(face, seed, light, asked.seed_base)
        for face in asked.faces or FACES
        for seed in range(asked.seeds)
        for light in asked.lights or LIGHTS
    ]
    lines = list(report(lit))
    sys.stdout.write("\n".join(lines) + "\n")
    if asked.out:
        asked.out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
