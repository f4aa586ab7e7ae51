"""Accuracy of the void area on drawn faces, and on real photos where present.

    python tests/benchmarks/accuracy.py [--renderer first|second|third|all]
        [--kinds K...] [--tiers easy hard clean] [--seeds 5] [--jobs 2]
        [--out FILE.md] [--dump FOLDER]
        [--real FOLDER | --no-real] [--seed-base N] [--cache FOLDER]

Prints one line per kind, the pools, each target with met or not met, and how often
the intervals hold by renderer and light. Of the first renderer (`analysis.synthetic`,
on which constants were chosen) only the intervals are told.
"""

from __future__ import annotations

import argparse
import os
import sys
from concurrent.futures import ProcessPoolExecutor
from itertools import product
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import coverage, real_faces, scoring
from tests.benchmarks.faces import REPORTING_BASE, SEEDS
from tests.benchmarks.measuring import measure
from tests.benchmarks.renderers import RENDERERS

REPORTED_FROM_MM = 2.0
UNRELIABLE = "unreliable_finish"
MOST_HIGH_OVER_LOW = 2.5
TIERS = ("easy", "hard", "clean")
COLUMNS = (
    "faces", "true %", "found %", "bias %", "median error %", "90th pct %",
    "precision", "recall", "F1", "F1 counted", "IoU", "held", "high/low",
    "unreliable", "false on lines %", "s",
)  # fmt: skip


def score_face(renderer, name, seed, base, cache):
    """Draw, measure and score one face; also what to look at."""
    cv2.setNumThreads(1)
    face = RENDERERS[renderer].draw_once(name, seed, base, cache)
    found = measure(face.jpeg, face.mm_per_px)
    return score(face, found, renderer), _picture(face, found)


def score(face, found, renderer):
    """Score what was found on a face of one of a renderer's kinds."""
    kind = RENDERERS[renderer].kinds[face.kind]
    figures, pixels = found.figures, face.labels.size
    limit_px = scoring.smallest_mm(face.mm_per_px) / face.mm_per_px
    counted = scoring.diameters_mm(face.area_px, 1.0) >= limit_px
    true_mask = np.isin(face.labels, np.flatnonzero(counted) + 1)
    small = (face.cover > 0) & (face.labels > 0) & ~true_mask
    scored = cv2.dilate(np.uint8(small), np.ones((3, 3))) == 0
    found_labels = scoring.label(found.mask, found.centres)

    def at(size_px):
        return scoring.match_at(face.labels, face.area_px, found_labels, size_px)

    return scoring.FaceScore(
        renderer=renderer,
        light=kind.light,
        kind=face.kind,
        seed=face.seed,
        tier=kind.tier,
        grainy=kind.grainy,
        true_percent=100 * float(face.area_px[counted].sum()) / pixels,
        found_percent=figures["void_area_percent"],
        low_percent=figures["void_area_percent_low"],
        high_percent=figures["void_area_percent_high"],
        iou=scoring.pixel_iou(true_mask, found.mask, scored | true_mask),
        at_2_mm=at(REPORTED_FROM_MM / face.mm_per_px),
        at_smallest=at(limit_px),
        lines_percent=100
        * float((found.mask & face.lines & (face.labels == 0)).mean()),
        honeycomb_true_percent=100 * float(face.honeycomb.mean()),
        honeycomb_found_percent=figures["honeycomb_percent"] or 0.0,
        unreliable=UNRELIABLE in figures["flags"],
        smallest_as_stated=bool(
            np.isclose(
                figures["smallest_counted_mm"],
                scoring.smallest_mm(face.mm_per_px),
                rtol=0.01,
            )
        ),
        seconds=found.seconds,
    )


def _picture(face, found):
    """The photo with the true outlines in cyan and the found ones in magenta."""
    photo = cv2.imdecode(np.frombuffer(face.jpeg, np.uint8), cv2.IMREAD_COLOR)
    for mask, colour in ((face.labels > 0, (255, 255, 0)), (found.mask, (255, 0, 255))):
        lines, _ = cv2.findContours(
            np.uint8(mask), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE
        )
        cv2.drawContours(photo, lines, -1, colour, 1)
    return cv2.imencode(".png", photo)[1].tobytes()


def run(asked):
    """Score every face asked for, in the order of the kinds."""
    kinds = [
        (renderer, kind)
        for renderer in RENDERERS
        if asked.renderer in {renderer, "all"}
        for kind, drawn in RENDERERS[renderer].kinds.items()
        if (not asked.kinds or kind in asked.kinds) and drawn.tier in asked.tiers
    ]
    jobs = [(*kind, seed) for kind, seed in product(kinds, range(asked.seeds))]
    fixed = (asked.seed_base, asked.cache)
    columns = [*zip(*jobs, strict=True), *([value] * len(jobs) for value in fixed)]
    if asked.jobs == 1:
        return list(map(score_face, *columns))
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    with ProcessPoolExecutor(asked.jobs) as pool:
        return list(pool.map(score_face, *columns))


def pooled(scores):
    """Figures of a set of faces, by name."""
    errors = np.array([s.error_percent for s in scores])
    sizes = np.abs(errors[np.isfinite(errors)])
    hits = sum((s.at_2_mm for s in scores), scoring.Hits(right=0, missed=0, wrong=0))
    return {
        "faces": len(scores),
        "true %": _mean(s.true_percent for s in scores),
        "found %": _mean(s.found_percent for s in scores),
        "bias %": _mean(errors),
        "median error %": np.median(sizes) if len(sizes) else np.nan,
        "90th pct %": np.quantile(sizes, 0.9) if len(sizes) else np.nan,
        "precision": hits.precision,
        "recall": hits.recall,
        "F1": _mean(s.at_2_mm.f1 for s in scores),
        "F1 counted": _mean(s.at_smallest.f1 for s in scores),
        "IoU": _mean(s.iou for s in scores),
        "held": _mean(s.covered for s in scores),
        "high/low": np.median([s.high_over_low for s in scores]),
        "unreliable": _mean(s.unreliable for s in scores),
        "false on lines %": _mean(s.lines_percent for s in scores),
        "s": _mean(s.seconds for s in scores),
    }


def _mean(values):
    known = [v for v in values if np.isfinite(v)]
    return float(np.mean(known)) if known else float("nan")


def targets(scores):
    """Each target: what, figure, lowest and highest wanted; left out if not run."""
    easy = [s for s in scores if s.tier == "easy"]
    hard = [s for s in scores if s.tier == "hard"]
    clean = [s for s in scores if s.tier == "clean"]
    grainy = [s for s in scores if s.grainy]
    told = [s for s in (*easy, *hard) if not s.grainy]

    def pool(name):
        return lambda faces: pooled(faces)[name]

    def largest(faces):
        return max(s.found_percent for s in faces)

    def narrow(faces):
        return _mean(s.high_over_low <= MOST_HIGH_OVER_LOW for s in faces)

    def grain_told(faces):
        return _mean(s.unreliable or s.at_2_mm.f1 >= 0.6 for s in faces)

    def as_stated(faces):
        return _mean(s.smallest_as_stated for s in faces)

    wanted = (
        ("easy: mean bias %", easy, pool("bias %"), -4, 4),
        ("easy: median error %", easy, pool("median error %"), 0, 5),
        ("easy: 90th pct %", easy, pool("90th pct %"), 0, 20),
        ("easy: mean F1", easy, pool("F1"), 0.98, 1),
        ("easy: mean IoU", easy, pool("IoU"), 0.85, 1),
        ("clean: largest share %", clean, largest, 0, 0.02),
        ("easy: interval holds the truth", easy, pool("held"), 0.92, 0.99),
        ("hard: interval holds the truth", hard, pool("held"), 0.92, 0.99),
        ("clean: interval holds the truth", clean, pool("held"), 0.92, 1),
        ("easy: median high/low", easy, pool("high/low"), 1, 1.5),
        (f"not grain: high/low of {MOST_HIGH_OVER_LOW} at most", told, narrow, 0.95, 1),
        ("easy: flagged unreliable", easy, pool("unreliable"), 0, 0.02),
        ("grain, terrazzo: each F1 of 0.6 or flagged", grainy, grain_told, 1, 1),
        ("smallest counted size as stated", scores, as_stated, 1, 1),
    )
    return [
        (what, figure(faces), low, high)
        for what, faces, figure, low, high in wanted
        if faces
    ]


def _cell(value):
    if isinstance(value, int):
        return str(value)
    return (
        "-"
        if np.isnan(value)
        else f"{value:.3g}"
        if abs(value) < 100
        else f"{value:.0f}"
    )


def table(head, rows):
    """Lines of a markdown table."""
    yield "| " + " | ".join(head) + " |"
    yield "|" + "---|" * len(head)
    for row in rows:
        yield "| " + " | ".join(row) + " |"


def report(scores):
    """Lines of the whole report."""
    rows = []
    for kind in dict.fromkeys(s.kind for s in scores):
        mine = [s for s in scores if s.kind == kind]
        rows.append([f"{kind} ({mine[0].tier})", *map(_cell, pooled(mine).values())])
    for tier in TIERS:
        mine = [s for s in scores if s.tier == tier]
        if mine:
            rows.append([f"**all {tier}**", *map(_cell, pooled(mine).values())])
    mine = [s for s in scores if s.tier != "clean"]
    if mine:
        rows.append(["**all with voids**", *map(_cell, pooled(mine).values())])
    yield from table(["kind", *COLUMNS], rows)
    combs = [s for s in scores if s.honeycomb_true_percent]
    if combs:
        yield ""
        yield "Honeycomb extent, true and found %: " + ", ".join(
            f"{s.honeycomb_true_percent:.2f} / {s.honeycomb_found_percent:.2f}"
            for s in combs
        )
    yield ""
    yield from table(
        ["target", "figure", "wanted", "met"],
        [
            [what, _cell(float(value)), f"{low} to {high}", verdict(value, low, high)]
            for what, value, low, high in targets(scores)
        ],
    )


def whole_report(scores, asked):
    """Lines for each renderer asked for, then the intervals of all of them."""
    for name in dict.fromkeys(s.renderer for s in scores):
        yield f"{name.capitalize()} renderer"
        yield ""
        yield from report([s for s in scores if s.renderer == name])
        yield ""
    rows = coverage.rows_of(scores)
    if asked.renderer in {"first", "all"} and not asked.kinds:
        rows = coverage.first_rows(asked.seeds, asked.seed_base) + rows
    yield "Intervals by renderer and light"
    yield ""
    yield from coverage.report(rows)


def verdict(value, low, high):
    return "met" if low - 1e-9 <= value <= high + 1e-9 else "NOT met"


def _badness(score):
    wrong = score.error_percent
    return abs(wrong) if np.isfinite(wrong) else 1000 * score.found_percent


def dump(results, folder, how_many=24):
    """Write the pictures of the worst faces, worst first."""
    folder.mkdir(parents=True, exist_ok=True)
    worst = sorted(results, key=lambda r: _badness(r[0]), reverse=True)
    for place, (score, picture) in enumerate(worst[:how_many]):
        name = f"{place:02d}_{score.kind}_{score.seed}_{score.true_percent:.2f}"
        (folder / f"{name}_{score.found_percent:.2f}.png").write_bytes(picture)


def main():
    parser = argparse.ArgumentParser(description="Accuracy on drawn and real faces.")
    parser.add_argument(
        "--renderer", choices=["first", *RENDERERS, "all"], default="second"
    )
    parser.add_argument("--kinds", nargs="+", default=None)
    parser.add_argument("--tiers", nargs="+", choices=TIERS, default=TIERS)
    parser.add_argument("--seeds", type=int, default=SEEDS, help="faces per kind")
    parser.add_argument(
        "--seed-base",
        type=int,
        default=REPORTING_BASE,
        help="another base draws other faces: for tuning",
    )
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--out", type=Path, help="write the tables as markdown")
    parser.add_argument("--dump", type=Path, help="folder for the worst faces")
    parser.add_argument("--cache", type=Path, help="folder to keep drawn faces in")
    parser.add_argument("--real", type=Path, help="folder of the real photos")
    parser.add_argument("--no-real", action="store_true", help="drawn faces only")
    asked = parser.parse_args()
    results = run(asked)
    lines = list(whole_report([score for score, _ in results], asked))
    if asked.seed_base != REPORTING_BASE:
        lines.insert(
            0, f"Tuning faces (seed base {asked.seed_base}), not for reports.\n"
        )
    if not asked.no_real:
        lines += ["", *real_faces.report(real_faces.folder(asked.real))]
    sys.stdout.write("\n".join(lines) + "\n")
    if asked.out:
        asked.out.write_text("\n".join(lines) + "\n", encoding="utf-8")
    if asked.dump:
        dump(results, asked.dump)


if __name__ == "__main__":
    main()
