"""How often the intervals of a point count hold the share of the face.

    python tests/benchmarks/point_count.py            # prints the table, 4 minutes
    python tests/benchmarks/point_count.py --write    # and commits it to results/

Faces are maps of round voids laid at random, or in clumps, whose share is known to the
px. Each map is counted again and again with other lots; nobody taps: a point is in a
void where the map says so.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import NamedTuple

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.point_count.drawing import candidate_tiles, draw_by_candidates, draw_even
from analysis.point_count.figures import ENOUGH_HITS, count_figure

ROWS, COLS = 900, 1200
RESULTS = Path(__file__).with_name("results") / "point_count.md"


class Case(NamedTuple):
    name: str
    share: float
    across_px: float
    points: int
    clumped: bool = False
    by_candidates: bool = False
    found: float = 1.0


CASES = (
    Case("0.2 %, small voids", 0.002, 10, 400),
    Case("0.6 %, small voids", 0.006, 10, 100),
    Case("0.6 %, small voids", 0.006, 10, 400),
    Case("0.6 %, small voids", 0.006, 10, 1600),
    Case("0.6 %, small voids", 0.006, 10, 6400),
    Case("0.6 %, large voids", 0.006, 40, 1600),
    Case("2 %, small voids", 0.02, 10, 400),
    Case("2 %, clumped", 0.02, 12, 400, clumped=True),
    Case("2 %, clumped", 0.02, 12, 1600, clumped=True),
    Case("5 %, large voids", 0.05, 40, 400),
    Case("5 %, small voids", 0.05, 12, 1600),
    Case("0.6 %, all found", 0.006, 10, 400, by_candidates=True),
    Case("0.6 %, 8 of 10 found", 0.006, 10, 400, by_candidates=True, found=0.8),
    Case("0.6 %, half found", 0.006, 10, 1600, by_candidates=True, found=0.5),
)  # fmt: skip


class Voids(NamedTuple):
    mask: np.ndarray
    found: np.ndarray
    usual_px2: float


def void_map(case: Case, rng: np.random.Generator) -> Voids:
    """Lay round voids until their area is the case's share."""
    mask, found = np.zeros((ROWS, COLS), bool), np.zeros((ROWS, COLS), bool)
    wanted, laid, areas = case.share * mask.size, 0.0, []
    middles = rng.uniform(0, 1, (12, 2)) * mask.shape
    while laid < wanted:
        across = case.across_px * rng.lognormal(0, 0.4)
        at = rng.uniform(0, 1, 2) * mask.shape
        if case.clumped:
            at = middles[rng.integers(12)] + rng.normal(0, 60, 2)
        reach = int(across / 2) + 1
        rows = np.arange(max(0, int(at[0]) - reach), min(ROWS, int(at[0]) + reach + 2))
        cols = np.arange(max(0, int(at[1]) - reach), min(COLS, int(at[1]) + reach + 2))
        if not (len(rows) and len(cols)):
            continue
        disc = np.hypot(rows[:, None] - at[0], cols[None] - at[1]) <= across / 2
        window = np.ix_(rows, cols)
        mask[window] |= disc
        if rng.random() < case.found:
            found[window] |= disc
        areas.append(disc.sum())
        laid = mask.sum()
    each = np.array(areas, dtype=float)
    return Voids(mask, found, float((each**2).sum() / each.sum()))


def counted(case: Case, voids: Voids, seed: int):
    """Count one map with one lot."""
    face = np.ones(voids.mask.shape, bool)
    if case.by_candidates:
        tiles = candidate_tiles(voids.found, case.across_px)
        half = case.points // 2
        plan = draw_by_candidates(
            face, tiles, (half, half), void_px2=voids.usual_px2, seed=seed
        )
    else:
        plan = draw_even(face, case.points, void_px2=voids.usual_px2, seed=seed)
    px = np.concatenate([field.points_px for field in plan.fields])
    px = np.clip(np.rint(px).astype(int), 0, np.array(face.shape) - 1)
    hit = voids.mask[px[:, 0], px[:, 1]]
    return count_figure(plan, "".join("v" if one else "s" for one in hit))


class Line(NamedTuple):
    case: Case
    hits: float
    bias_percent: float
    standard: float
    few: float
    used: float
    width: float


def study(case: Case, maps: int, counts: int, seed: int = 0) -> Line:
    """Count maps of one kind; coverage of each interval."""
    rng = np.random.default_rng([seed, *case.name.encode(), case.points])
    rows = []
    for _ in range(maps):
        voids = void_map(case, rng)
        truth = voids.mask.mean()
        for _ in range(counts):
            one = counted(case, voids, int(rng.integers(2**31)))
            rows.append(
                (
                    one.hits,
                    one.share / truth,
                    one.standard_low <= truth <= one.standard_high,
                    one.few_low <= truth <= one.few_high,
                    one.low <= truth <= one.high,
                    (one.high - one.low) / truth,
                )
            )
    table = np.array(rows, dtype=float)
    mean = table.mean(axis=0)
    return Line(
        case, mean[0], 100 * (mean[1] - 1), *mean[2:5], float(np.median(table[:, 5]))
    )


def table(lines: list[Line], runs: int) -> str:
    how = (
        "`python tests/benchmarks/point_count.py --write`; maps of round voids on "
        f"{COLS} x {ROWS} px, {runs} counts a line, 25 points a field. 'Standard' is "
        "Student's t over fields (ASTM E562); 'few hits' is Fay and Feuer (1997); "
        f"'used' takes the latter where fewer than {ENOUGH_HITS} voids were hit in "
        "some part. Target: 'used' holds the share in 93 of 100 counts or more. Width "
        "is the used interval over the true share, in the middle."
    )
    head = ("face", "points", "grid", "hits", "estimate off")
    head += ("standard", "few hits", "used", "width")
    said = [
        "# Point counts: how often the interval holds the share of the face",
        "",
        how,
        "",
        f"| {' | '.join(head)} |",
        "|---" * len(head) + "|",
    ]
    for line in lines:
        grid = "by candidates" if line.case.by_candidates else "even"
        said.append(
            f"| {line.case.name} | {line.case.points:,} | {grid} | {line.hits:.1f} | "
            f"{line.bias_percent:+.1f} % | {100 * line.standard:.1f} % | "
            f"{100 * line.few:.1f} % | {100 * line.used:.1f} % | {line.width:.1f} |"
        )
    return "\n".join(said) + "\n"


def main() -> None:
    options = argparse.ArgumentParser()
    options.add_argument("--maps", type=int, default=20)
    options.add_argument("--counts", type=int, default=50)
    options.add_argument("--write", action="store_true")
    given = options.parse_args()
    lines = [study(case, given.maps, given.counts) for case in CASES]
    said = table(lines, given.maps * given.counts)
    sys.stdout.write(said)
    if given.write:
        RESULTS.write_text(said, encoding="utf-8")


if __name__ == "__main__":
    main()
