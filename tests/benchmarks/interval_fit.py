"""Fit how much each doubt moves the ends of the measuring interval.

    python tests/benchmarks/interval_fit.py [--seeds 2] [--seed-bases 11 77] [--jobs 2]
        [--cache FOLDER]

Quantile regression with weights of 0 or more (a linear programme) of the log of truth
over found on the terms of `analysis.voids.measurement.doubt_terms`, one fit for each
end, every renderer weighing the same. Prints the weights and the coverage with each
renderer left out in turn. Never run on the reporting seeds.
"""

from __future__ import annotations

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import cv2
import numpy as np
from scipy import optimize, sparse

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import scoring
from tests.benchmarks.coverage import FIRST_MM_PER_PX, first_recipes
from tests.benchmarks.measuring import measure
from tests.benchmarks.renderers import RENDERERS

# A little more than 95 %, for what no renderer shows.
ENDS = (0.03, 0.97)
# What was turned down by its shape adds no more than itself. Expected areas (missed,
# wrong) may be a few times too small.
MOST_UP = (None, None, None, None, 4.0, 1.0, None, None, None)
MOST_DOWN = (None, None, None, None, 4.0, None, None, None, None)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FitRow:
    """One face with voids: terms of the two ends, log of truth over found."""

    renderer: str
    kind: str
    tier: str
    up: np.ndarray
    down: np.ndarray
    log_ratio: float
    unreliable: bool


def _measured(data, mm_per_px):
    """Figures of a photo, and the terms of its interval (None without voids)."""
    from analysis.voids import measurement  # noqa: PLC0415  wrapped while it runs

    seen = []
    plain = measurement.doubt_terms

    def noting(found):
        seen.append(plain(found))
        return seen[-1]

    measurement.doubt_terms = noting
    try:
        figures = measure(data, mm_per_px, with_mask=False).figures
    finally:
        measurement.doubt_terms = plain
    return figures, seen[-1] if seen else None


def _row(job):
    cv2.setNumThreads(1)
    renderer, kind, seed, base, cache = job
    if renderer == "first":
        from analysis.synthetic import draw_face  # noqa: PLC0415  only where asked for

        _, _, tier, recipe = next(row for row in first_recipes() if row[0] == kind)
        face = draw_face(recipe, seed=base + seed)
        pixels = np.asarray(face.pixels)[..., ::-1]
        _, data = cv2.imencode(".jpg", pixels, [cv2.IMWRITE_JPEG_QUALITY, 95])
        figures, terms = _measured(data.tobytes(), FIRST_MM_PER_PX)
        true = 100 * face.share_of(scoring.smallest_mm(FIRST_MM_PER_PX))
    else:
        known = RENDERERS[renderer]
        tier = "grain" if known.kinds[kind].grainy else known.kinds[kind].tier
        face = known.draw_once(kind, seed, base, cache)
        figures, terms = _measured(face.jpeg, face.mm_per_px)
        limit = scoring.smallest_mm(face.mm_per_px)
        sizes = scoring.diameters_mm(face.area_px, face.mm_per_px)
        true = 100 * float(face.area_px[sizes >= limit].sum()) / face.labels.size
    if terms is None or true <= 0:
        return None
    return FitRow(
        renderer=renderer,
        kind=kind,
        tier=tier,
        up=terms[0],
        down=terms[1],
        log_ratio=float(np.log(true / figures["void_area_percent"])),
        unreliable="unreliable_finish" in figures["flags"],
    )


def gather(seeds, base, jobs, cache):
    """Rows of all renderers."""
    wanted = [("first", kind, s) for kind, *_ in first_recipes() for s in range(seeds)]
    for renderer, known in RENDERERS.items():
        kinds = [kind for kind, one in known.kinds.items() if one.tier != "clean"]
        wanted += [(renderer, kind, s) for kind in kinds for s in range(seeds)]
    with ProcessPoolExecutor(jobs) as pool:
        rows = pool.map(_row, [(*job, base, cache) for job in wanted])
        return [row for row in rows if row is not None]


def quantile_weights(terms, values, quantile, weight, most):
    """Weights from 0 to `most` whose sum with the terms is a quantile of the values.

    min sum weight (q over + (1 - q) under), values = terms w + over - under.
    """
    count, width = terms.shape
    cost = np.concatenate([np.zeros(width), quantile * weight, (1 - quantile) * weight])
    eye = sparse.identity(count)
    found = optimize.linprog(
        cost,
        A_eq=sparse.hstack([sparse.csr_matrix(terms), eye, -eye]),
        b_eq=values,
        bounds=[(0, one) for one in most] + [(0, None)] * (2 * count),
        method="highs",
    )
    return found.x[:width]


def fit(rows):
    """Weights of the upper and the lower end."""
    names = [row.renderer for row in rows]
    weight = np.array([1 / names.count(name) for name in names])
    ratio = np.array([row.log_ratio for row in rows])
    up = np.array([row.up for row in rows])
    down = np.array([row.down for row in rows])
    low, high = ENDS
    return (
        quantile_weights(up, ratio, high, weight, MOST_UP),
        quantile_weights(down, -ratio, 1 - low, weight, MOST_DOWN),
    )


def coverage(rows, weights):
    """Share held and median of high over low."""
    up, down = weights
    ends = [(-row.down @ down, row.up @ up) for row in rows]
    held = [
        low <= row.log_ratio <= high
        for row, (low, high) in zip(rows, ends, strict=False)
    ]
    return float(np.mean(held)), float(np.median([np.exp(b - a) for a, b in ends]))


def report(rows):
    """Lines: weights of all, coverage with each renderer left out."""
    told = [row for row in rows if not row.unreliable and row.tier != "grain"]
    for name, weights in zip(("up", "down"), fit(told), strict=True):
        yield f"{name}: ({', '.join(f'{value:.3f}' for value in weights)})"
    yield ""
    yield "| left out | tier | faces | held | median high/low |"
    yield "|---|---|---|---|---|"
    for name in dict.fromkeys(row.renderer for row in told):
        weights = fit([row for row in told if row.renderer != name])
        for tier in ("easy", "hard"):
            mine = [r for r in told if r.renderer == name and r.tier == tier]
            if mine:
                held, wide = coverage(mine, weights)
                yield f"| {name} | {tier} | {len(mine)} | {held:.3f} | {wide:.2f} |"


def main():
    parser = argparse.ArgumentParser(description="Fit the measuring interval.")
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--seed-bases", type=int, nargs="+", default=(11, 77))
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--cache", type=Path, help="folder to keep drawn faces in")
    asked = parser.parse_args()
    rows = [
        row
        for base in asked.seed_bases
        for row in gather(asked.seeds, base, asked.jobs, asked.cache)
    ]
    sys.stdout.write("\n".join(report(rows)) + "\n")


if __name__ == "__main__":
    main()
