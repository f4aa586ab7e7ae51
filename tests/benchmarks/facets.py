"""How well faceted faces are measured as flat ones and facet by facet.

    python tests/benchmarks/facets.py [--seeds 1] [--seed-base N] [--write]

Two facets with an arris right across, three that meet in a point, and four of a
shallow pyramid, each leaning 10 to 25 degrees, in one, two and three lights; bodies,
voids, lights and camera are the third renderer's. Truth is the share of the photo that
mouths of voids cover.
"""

from __future__ import annotations

import sys
import zlib
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.model.reading import MeasureSettings
from tests.benchmarks.ribs import draw_relief, figures, measured, run, true_share
from tests.benchmarks.shop.light import LIGHTS, Lamp, Light, _far

TABLE = Path(__file__).parent / "results" / "facets.md"
PX_PER_MM = 4.5
COUNTS = (2, 3, 4)
WAYS = ("flat", "faceted")
HEAD = (
    "| facets | light | true % | flat % | honeycomb % | faceted % | 95 % "
    "| honeycomb % | levelled |"
)


def three_lamps(rng, size_mm):
    """Three lamps of a hall, about as far from each other."""
    azimuth = rng.uniform(0, 360)
    lamps = tuple(
        Lamp(
            place_mm=_far(
                azimuth + turn, rng.uniform(30, 60), 5 * max(size_mm), size_mm
            ),
            half_width_mm=25,
            power=power,
        )
        for turn, power in ((0, 0.34), (115, 0.22), (240, 0.16))
    )
    return Light(dome=0.28, lamps=lamps)


LIT_BY = {
    "window": LIGHTS["window"],
    "two_lamps": LIGHTS["two_lamps"],
    "three_lamps": three_lamps,
}


def facets(count):
    """Relief of so many facets about a point near the middle, its top at 0."""

    def relief(rows, cols, rng):
        middle = rng.uniform(0.35, 0.65, 2)
        down = rows - middle[0] * rows.max()
        right = cols - middle[1] * cols.max()
        first = rng.uniform(0, 2 * np.pi)
        planes = []
        for place in range(count):
            turn = first + 2 * np.pi * place / count + rng.normal(0, 0.1)
            fall = np.tan(np.radians(rng.uniform(10, 25)))
            planes.append(-fall * (down * np.sin(turn) + right * np.cos(turn)))
        return np.minimum.reduce(planes)

    return relief


def score(count, light, seed, base):
    """Draw one face and measure it in each way."""
    key = [base, zlib.crc32(f"facets/{count}/{light}".encode()), seed]
    jpeg, mm_per_px, drawn = draw_relief(facets(count), PX_PER_MM, LIT_BY[light], key)
    ways = {
        way: measured(jpeg, mm_per_px, MeasureSettings(face_kind=way)) for way in WAYS
    }
    true = true_share(drawn, ways["flat"]["smallest_px"])
    return {"count": count, "light": light, "true": true, "ways": ways}


def report(rows):
    """Lines of the table, and the targets below it."""
    lines = [HEAD, "|" + "---|" * 9]
    for row in rows:
        flat, faceted = (row["ways"][way] for way in WAYS)
        cells = [str(row["count"]), row["light"], f"{row['true']:.2f}"]
        cells += [f"{flat['share']:.2f}", f"{flat['honeycomb']:.1f}"]
        cells += [f"{faceted['share']:.2f}"]
        cells += ["{:.2f} to {:.2f}".format(*faceted["ends"])]
        cells += [f"{faceted['honeycomb']:.1f}", "yes" if faceted["levelled"] else "no"]
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


def main():
    run("Faceted faces", Path(__file__).name, (COUNTS, LIT_BY), score, report, TABLE)


if __name__ == "__main__":
    main()
