"""Two photos in two lights against one of them, on drawn faces whose voids are known.

    python tests/benchmarks/pairs.py [--kinds K...] [--seeds 5] [--jobs 2]
        [--out FILE.md] [--seed-base N] [--cache FOLDER] [--dump FOLDER]

Each pair is measured by `measure-pair`, and its first photo alone by `measure`. Scored
is what both photos show of the face, by the true shift; a pair refused counts as
nothing found, a miss in every mean. Then pairs that are none must be refused. Real
pairs with outlines do not exist openly: these figures are of drawings only.
"""

from __future__ import annotations

import argparse
import io
import json
import os
import sys
import tempfile
import time
from concurrent.futures import ProcessPoolExecutor
from contextlib import redirect_stderr
from dataclasses import dataclass
from itertools import product
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from tests.benchmarks import scoring
from tests.benchmarks.accuracy import REPORTED_FROM_MM, UNRELIABLE, table, verdict
from tests.benchmarks.faces import SEEDS
from tests.benchmarks.measuring import measure
from tests.benchmarks.pair_faces import (
    EASY,
    GRAINY,
    MARKED,
    PAIR_BASE,
    PAIR_KINDS,
    draw_pair_once,
)

DAMPED = {"stains", "damp"}
MUCH_AMBIENT = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Scored:
    """One way of measuring one face; shares in percent of what both photos show."""

    true_percent: float
    found_percent: float
    low_percent: float
    high_percent: float
    false_percent: float
    iou: float
    hits: scoring.Hits
    unreliable: bool
    seconds: float
    refusal: str = ""
    rms_px: float = float("nan")
    rms_true_px: float = float("nan")
    angle_off_degrees: float = float("nan")

    @property
    def error_percent(self):
        """Relative error; not a number on a clean face."""
        if not self.true_percent:
            return float("nan")
        return 100 * (self.found_percent / self.true_percent - 1)

    @property
    def covered(self):
        if self.refusal:
            return False
        return scoring.holds(self.low_percent, self.high_percent, self.true_percent)

    @property
    def f1(self):
        """A refused pair with voids to find scores 0, also where all are small."""
        if self.refusal:
            return 0.0 if self.true_percent else float("nan")
        return self.hits.f1


def measure_pair(first, second, mm_per_px):
    """Figures, mask and CPU seconds of a pair; a refusal is its sentence."""
    from analysis.cli import main  # noqa: PLC0415  the rest of this file works without

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        (folder / "first.jpg").write_bytes(first)
        (folder / "second.jpg").write_bytes(second)
        figures, mask = folder / "figures.json", folder / "mask.png"
        command = [
            "measure-pair",
            str(folder / "first.jpg"),
            str(folder / "second.jpg"),
        ]
        command += ["--mm-per-px", repr(mm_per_px)]
        command += ["--json", str(figures), "--mask", str(mask)]
        said, start = io.StringIO(), time.process_time()
        with redirect_stderr(said):
            code = main(command)
        seconds = time.process_time() - start
        if code:
            return said.getvalue().strip(), None, seconds
        answer = json.loads(figures.read_text(encoding="utf-8"))
        return answer, cv2.imread(str(mask), cv2.IMREAD_GRAYSCALE) > 127, seconds


def shared_part(pair):
    """Where both photos show the face, by the true shift; a rim of 4 px is left out."""
    size = pair.labels.shape[::-1]
    shown = cv2.warpPerspective(
        np.ones(pair.labels.shape, np.uint8),
        pair.to_second,
        size,
        flags=cv2.INTER_NEAREST | cv2.WARP_INVERSE_MAP,
    )
    rim = np.ones((9, 9), np.uint8)
    return cv2.erode(shown, rim, borderType=cv2.BORDER_CONSTANT, borderValue=1) > 0


def _scored(pair, figures, mask, seconds, shared, *, refusal=""):
    limit_px = scoring.smallest_mm(pair.mm_per_px) / pair.mm_per_px
    counted = scoring.diameters_mm(pair.area_px, 1.0) >= limit_px
    wanted = np.isin(pair.labels, np.flatnonzero(counted) + 1)
    small = (pair.cover > 0) & (pair.labels > 0) & ~wanted
    scored = (cv2.dilate(np.uint8(small), np.ones((3, 3))) == 0) & shared
    truth = np.where(shared, pair.labels, 0)
    areas = scoring.areas_of(truth, len(pair.area_px))
    own = wanted & shared
    if refusal:
        centres, mask = [], np.zeros(truth.shape, bool)
    else:
        centres = [(void["row_px"], void["col_px"]) for void in figures["voids"]]
    found = scoring.label(mask, centres)
    cut = np.where(shared, found, 0)
    whole = 100 / np.count_nonzero(shared)
    ratio = 1.0
    if not refusal and figures["void_area_percent"] > 0 and mask.any():
        # The figure is of all that was measured: the same ratio of share to mask.
        measured = figures.get("face_area_mm2") / pair.mm_per_px**2
        ratio = figures["void_area_percent"] / (100 * mask.sum() / measured)
    share = ratio * whole * np.count_nonzero(mask & shared & ~small)
    middle = figures["void_area_percent"] if not refusal else 0.0
    ends = [
        figures[f"void_area_percent_{end}"] * (share / middle if middle else 1.0)
        if not refusal
        else 0.0
        for end in ("low", "high")
    ]
    far = cv2.dilate(np.uint8(pair.cover > 0), np.ones((5, 5))) == 0
    return Scored(
        true_percent=whole * float((pair.cover * own).sum()),
        found_percent=share,
        low_percent=ends[0],
        high_percent=ends[1],
        false_percent=whole * np.count_nonzero(mask & shared & far),
        iou=scoring.pixel_iou(own, mask & shared, scored | own),
        hits=scoring.match_at(truth, areas, cut, REPORTED_FROM_MM / pair.mm_per_px),
        unreliable=not refusal and UNRELIABLE in figures["flags"],
        seconds=seconds,
        refusal=refusal,
    )


def score_pair(name, seed, base, cache, dump=None):
    """Draw a pair and score it, and its first photo alone."""
    cv2.setNumThreads(1)
    pair = draw_pair_once(name, seed, base, cache)
    shared = shared_part(pair)
    alone = measure(pair.first, pair.mm_per_px)
    one = _scored(pair, alone.figures, alone.mask, alone.cpu_seconds, shared)
    answer, mask, seconds = measure_pair(pair.first, pair.second, pair.mm_per_px)
    if mask is None:
        two = _scored(pair, None, None, seconds, shared, refusal=answer)
        return name, seed, pair.ambient, one, two
    two = _scored(pair, answer, mask, seconds, shared)
    if dump:
        _dump(pair, mask, dump / f"{name}_{seed}.png")
    values = {field: getattr(two, field) for field in two.__dataclass_fields__}
    values["rms_px"] = answer["registration_rms_px"]
    angle = answer["light_angle_deg"]
    if angle is not None:
        values["angle_off_degrees"] = abs(angle - pair.between_degrees)
    return name, seed, pair.ambient, one, Scored(**values)


def _dump(pair, mask, path):
    path.parent.mkdir(parents=True, exist_ok=True)
    photo = cv2.imdecode(np.frombuffer(pair.first, np.uint8), cv2.IMREAD_COLOR)
    for drawn, colour in ((pair.labels > 0, (255, 255, 0)), (mask, (255, 0, 255))):
        lines, _ = cv2.findContours(
            np.uint8(drawn), cv2.RETR_LIST, cv2.CHAIN_APPROX_NONE
        )
        cv2.drawContours(photo, lines, -1, colour, 1)
    cv2.imwrite(str(path), photo)


def _recoded(jpeg, change):
    photo = cv2.imdecode(np.frombuffer(jpeg, np.uint8), cv2.IMREAD_COLOR)
    return cv2.imencode(".jpg", change(photo), [cv2.IMWRITE_JPEG_QUALITY, 90])[
        1
    ].tobytes()


def _streak(length, degrees):
    """Kernel of a camera that moved straight on while it looked."""
    kernel = np.zeros((length, length), np.float32)
    across, down = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    middle, half = (length - 1) / 2, (length - 1) / 2
    start = (round(middle - half * across), round(middle - half * down))
    end = (round(middle + half * across), round(middle + half * down))
    cv2.line(kernel, start, end, 1.0)
    return kernel / kernel.sum()


def wrong_pairs(name, seed, base, cache):
    """Refusals of each kind of wrong pair made of this face: name to sentence."""
    cv2.setNumThreads(1)
    pair = draw_pair_once(name, seed, base, cache)
    other_kind = PAIR_KINDS[(PAIR_KINDS.index(name) + 5) % len(PAIR_KINDS)]
    other = draw_pair_once(other_kind, seed, base, cache)
    alike = draw_pair_once(name, seed + 1, base, cache)
    rng = np.random.default_rng([base, seed])
    streak = _streak(int(rng.integers(13, 25)), rng.uniform(0, 180))
    seconds = {
        "another face": other.second,
        "another face of its kind": alike.second,
        "the same file": pair.first,
        "the same photo, stored anew": _recoded(pair.first, lambda photo: photo),
        "blurred": _recoded(
            pair.second,
            lambda photo: cv2.GaussianBlur(photo, (0, 0), rng.uniform(3, 6)),
        ),
        "moved": _recoded(pair.second, lambda photo: cv2.filter2D(photo, -1, streak)),
    }
    told = {}
    for what, second in seconds.items():
        answer, mask, _ = measure_pair(pair.first, second, pair.mm_per_px)
        told[what] = answer if mask is None else ""
    return name, seed, told


def _mean(values):
    known = [float(value) for value in values if np.isfinite(value)]
    return float(np.mean(known)) if known else float("nan")


def pooled(scores):
    """Figures of some faces measured one way."""
    errors = np.array([s.error_percent for s in scores])
    sizes = np.abs(errors[np.isfinite(errors)])
    return {
        "true %": _mean(s.true_percent for s in scores),
        "found %": _mean(s.found_percent for s in scores),
        "bias %": _mean(errors),
        "median error %": float(np.median(sizes)) if len(sizes) else np.nan,
        "largest error %": float(sizes.max()) if len(sizes) else np.nan,
        "F1": _mean(s.f1 for s in scores),
        "IoU": _mean(s.iou for s in scores),
        "false area %": _mean(s.false_percent for s in scores),
        "held": _mean(s.covered for s in scores),
        "high/low": float(
            np.median(
                [
                    s.high_percent / s.low_percent if s.low_percent > 0 else np.inf
                    for s in scores
                ]
            )
        ),
        "unreliable": _mean(s.unreliable for s in scores),
        "refused": _mean(bool(s.refusal) for s in scores),
        "rms px": _mean(s.rms_px for s in scores),
        "angle off": _mean(s.angle_off_degrees for s in scores),
        "CPU s": _mean(s.seconds for s in scores),
    }


def _cell(value):
    return (
        "-"
        if np.isnan(value)
        else f"{value:.3g}"
        if abs(value) < 100
        else f"{value:.0f}"
    )


def targets(results, wrong):
    """What was asked for: what, figure, low, high."""
    rows = []

    def judge(what, chosen, figure, low, high):
        faces = [r for r in results if chosen(r)]
        if faces:
            rows.append((what, figure([r[4] for r in faces]), low, high))

    grainy = [k for k in PAIR_KINDS if k in GRAINY]
    for kind in grainy:
        judge(
            f"{kind}, ambient 0.5 or less: mean F1",
            lambda r, kind=kind: r[0] == kind and r[2] <= MUCH_AMBIENT,
            lambda f: pooled(f)["F1"],
            0.9,
            1,
        )
        judge(
            f"{kind}, ambient 0.5 or less: largest error of the share %",
            lambda r, kind=kind: r[0] == kind and r[2] <= MUCH_AMBIENT,
            lambda f: pooled(f)["largest error %"],
            0,
            15,
        )
    judge(
        "grain, fine grain, terrazzo: flagged unreliable",
        lambda r: r[0] in GRAINY,
        lambda f: pooled(f)["unreliable"],
        0,
        0,
    )
    judge(
        "stains, damp: largest false area %",
        lambda r: r[0] in DAMPED,
        lambda f: max(s.false_percent for s in f),
        0,
        0.02,
    )
    judge(
        "stains: largest error of the share %",
        lambda r: r[0] == "stains",
        lambda f: pooled(f)["largest error %"],
        0,
        10,
    )
    judge("easy: mean IoU", lambda r: r[0] in EASY, lambda f: pooled(f)["IoU"], 0.9, 1)
    judge(
        "easy: mean bias %",
        lambda r: r[0] in EASY,
        lambda f: pooled(f)["bias %"],
        -3,
        3,
    )
    judge(
        "clean: largest share %",
        lambda r: r[0].startswith("clean"),
        lambda f: max(s.found_percent for s in f),
        0,
        0,
    )
    judge("good pairs refused", lambda _: True, lambda f: pooled(f)["refused"], 0, 0.02)
    cost = _mean(r[4].seconds for r in results) / _mean(r[3].seconds for r in results)
    rows.append(("CPU time over one photo of 0.8 megapixels", cost, 0, 2.2))
    if wrong:
        told = [bool(said) for _, _, all_of in wrong for said in all_of.values()]
        rows.append(("wrong pairs refused", float(np.mean(told)), 1, 1))
    return rows


def report(results, wrong):
    """Lines of the whole report."""
    columns = list(pooled([results[0][4]]))
    rows = []

    def both(name, chosen):
        faces = [r for r in results if chosen(r)]
        for way, at in (("one photo", 3), ("pair", 4)):
            if faces:
                figures = pooled([r[at] for r in faces])
                rows.append([name, way, str(len(faces)), *map(_cell, figures.values())])

    for kind in dict.fromkeys(r[0] for r in results):
        both(kind, lambda r, kind=kind: r[0] == kind)
    for name, kinds in (("grainy", GRAINY), ("marked", MARKED), ("easy", EASY)):
        both(f"**all {name}**", lambda r, kinds=kinds: r[0] in kinds)
    both("**all clean**", lambda r: r[0].startswith("clean"))
    both("**ambient over 0.5**", lambda r: r[2] > MUCH_AMBIENT and r[4].true_percent)
    yield from table(["faces", "measured by", "pairs", *columns], rows)
    yield ""
    refused = [f"{r[0]} {r[1]}: {r[4].refusal}" for r in results if r[4].refusal]
    yield from (f"- refused, {line}" for line in refused)
    yield ""
    if wrong:
        kinds = list(wrong[0][2])
        counts = [
            [what, str(len(wrong)), str(sum(bool(told[what]) for *_, told in wrong))]
            for what in kinds
        ]
        yield from table(["second photo", "pairs", "refused"], counts)
        yield ""
        yield from (
            f"- not refused: {name} {seed}, {what}"
            for name, seed, told in wrong
            for what, said in told.items()
            if not said
        )
        yield ""
    yield from table(
        ["target", "figure", "wanted", "met"],
        [
            [what, _cell(float(value)), f"{low} to {high}", verdict(value, low, high)]
            for what, value, low, high in targets(results, wrong)
        ],
    )


def run(asked):
    """Score all pairs and wrong pairs asked for."""
    jobs = list(product(asked.kinds, range(asked.seeds)))
    fixed = [[value] * len(jobs) for value in (asked.seed_base, asked.cache)]
    columns = [*zip(*jobs, strict=True), *fixed]
    wrong_jobs = [job for job in jobs if job[1] < asked.wrong_seeds]
    wrong_fixed = [
        [value] * len(wrong_jobs) for value in (asked.seed_base, asked.cache)
    ]
    wrong_columns = [*zip(*wrong_jobs, strict=True), *wrong_fixed] if wrong_jobs else []
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    with ProcessPoolExecutor(asked.jobs) as pool:
        results = list(pool.map(score_pair, *columns, [asked.dump] * len(jobs)))
        wrong = list(pool.map(wrong_pairs, *wrong_columns)) if wrong_jobs else []
    return results, wrong


def main():
    parser = argparse.ArgumentParser(description="Pairs in two lights, drawn faces.")
    parser.add_argument("--kinds", nargs="+", choices=PAIR_KINDS, default=PAIR_KINDS)
    parser.add_argument("--seeds", type=int, default=SEEDS, help="pairs per kind")
    parser.add_argument(
        "--wrong-seeds", type=int, default=1, help="of them, wrong ones"
    )
    parser.add_argument("--seed-base", type=int, default=PAIR_BASE)
    parser.add_argument("--jobs", type=int, default=2)
    parser.add_argument("--out", type=Path, help="write the tables as markdown")
    parser.add_argument("--cache", type=Path, help="folder to keep drawn pairs in")
    parser.add_argument("--dump", type=Path, help="folder for pictures of the pairs")
    asked = parser.parse_args()
    lines = list(report(*run(asked)))
    if asked.seed_base != PAIR_BASE:
        lines.insert(
            0, f"Tuning pairs (seed base {asked.seed_base}), not for reports.\n"
        )
    sys.stdout.write("\n".join(lines) + "\n")
    if asked.out:
        asked.out.write_text("\n".join(lines) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
