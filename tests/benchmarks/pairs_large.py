"""Pairs of 12 megapixels: how far they lie off, what they cost, what is found.

    python tests/benchmarks/pairs_large.py [--kinds K...] [--cache DIR] [--out FILE]

The faces are those of `pairs.py` photographed with four times as many px a side, so
that no more of the face is seen to line up by; the hand moves as far across the face.
"""

from __future__ import annotations

import argparse
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context
from pathlib import Path

import cv2
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.errors import PairError
from analysis.imaging.homography import moved
from analysis.imaging.photo import luminance, read_photo
from analysis.imaging.registration import register
from analysis.pairs.reduction import as_taken, reduced, steps_of
from analysis.services.photos import scale_typed
from analysis.voids.measurement import smallest_counted
from tests.benchmarks.accuracy import table
from tests.benchmarks.measuring import measure
from tests.benchmarks.pair_faces import EASY, PAIR_BASE, PAIR_KINDS, draw_pair_once
from tests.benchmarks.pairs import _cell, _scored, measure_pair, shared_part

SIZE_PX = (3000, 4000)
COLUMNS = (
    "faces", "refused", "px per mm", "px made one, along a side",
    "scatter of blocks px", "said off px", "truly off px",
    "true %", "one photo found %", "its F1", "its IoU", "pair found %", "F1", "IoU",
    "lining up CPU s", "one photo CPU s",
    "pair CPU s", "CPU over one photo", "one photo peak MB", "pair peak MB",
)  # fmt: skip
LEFT_OUT = len(COLUMNS) - 2
MOST_TIMES_ONE_PHOTO = 2.2
LEAST_F1, LARGEST_OFF, LEAST_IOU = 0.9, 15, 0.9
USUAL = ("grain", "mid_light", "black", "clean_mid")


def true_off_px(pair, matrix):
    """Root mean square by which a homography misses the true one over the face."""
    rows, cols = pair.labels.shape
    y, x = np.mgrid[50 : rows - 50 : 12j, 50 : cols - 50 : 12j]
    at = np.column_stack([x.ravel(), y.ravel()])
    off = moved(matrix, at) - moved(pair.to_second, at)
    return float(np.sqrt((off**2).sum(axis=1).mean()))


def lying_of(pair):
    """How the photos lie, lined up on the reduced ones as a pair is; steps; CPU s."""
    shape = pair.labels.shape
    lights = [
        luminance(read_photo(photo).pixels) for photo in (pair.first, pair.second)
    ]
    _, smallest_px2 = smallest_counted(scale_typed(pair.mm_per_px), None)
    steps = steps_of(smallest_px2, shape, shape, lights[1].shape)
    small = [
        np.float32(reduced(light, step))
        for light, step in zip(lights, (steps.first, steps.second), strict=True)
    ]
    start = time.process_time()
    lying = register(*small, np.ones(small[0].shape, bool), step=steps.first)
    seconds = time.process_time() - start
    return as_taken(lying, steps, shape, lights[1].shape), steps, seconds


def _peak_mb():
    """Peak memory of this process: ru_maxrss would count the one that began it."""
    with Path("/proc/self/status").open() as status:
        kb = next(line.split()[1] for line in status if line.startswith("VmHWM"))
    return int(kb) / 1e3


def one_photo(pair):
    """Answer of the first photo alone, mask, CPU seconds and peak memory."""
    cv2.setNumThreads(1)
    answer = measure(pair.first, pair.mm_per_px)
    return answer.figures, answer.mask, answer.cpu_seconds, _peak_mb()


def both_photos(pair):
    """Answer of the pair, mask, CPU seconds and peak memory."""
    cv2.setNumThreads(1)
    return *measure_pair(pair.first, pair.second, pair.mm_per_px), _peak_mb()


def _apart(work, pair):
    """Do it in a process of its own, so that its peak memory is its own."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(work, pair).result()


def row_of(name, base, cache):
    """Cells of one pair."""
    pair = draw_pair_once(name, 0, base, cache, SIZE_PX)
    try:
        lying, steps, lining_s = lying_of(pair)
    except PairError as error:
        return [name, str(error)] + ["-"] * LEFT_OUT
    *found, alone_s, alone_mb = _apart(one_photo, pair)
    answer, mask, pair_s, pair_mb = _apart(both_photos, pair)
    if mask is None:
        return [name, answer] + ["-"] * LEFT_OUT
    shared = shared_part(pair)
    alone = _scored(pair, *found, alone_s, shared)
    scored = _scored(pair, answer, mask, pair_s, shared)
    figures = (
        1 / pair.mm_per_px,
        steps.first,
        lying.scatter_px,
        lying.rms_px,
        true_off_px(pair, lying.to_second),
        scored.true_percent,
        alone.found_percent,
        alone.f1,
        alone.iou,
        scored.found_percent,
        scored.f1,
        scored.iou,
        lining_s,
        alone_s,
        pair_s,
        pair_s / alone_s,
        alone_mb,
        pair_mb,
    )
    return [name, "", *map(_cell, figures)]


def _against_targets(rows):
    """Rows of what a pair should reach, as far as these faces tell."""
    measured = [dict(zip(COLUMNS, row, strict=True)) for row in rows if not row[1]]
    grain = [one for one in measured if one["faces"] == "grain"]
    easy = [one for one in measured if one["faces"] in EASY]
    off = [
        100 * (float(one["pair found %"]) / float(one["true %"]) - 1) for one in grain
    ]
    asked = (
        (
            "CPU time over one photo of 12 megapixels",
            [float(one["CPU over one photo"]) for one in measured],
            (0, MOST_TIMES_ONE_PHOTO),
        ),
        ("grain: F1", [float(one["F1"]) for one in grain], (LEAST_F1, 1)),
        ("grain: error of the share %", off, (-LARGEST_OFF, LARGEST_OFF)),
        ("easy: IoU", [float(one["IoU"]) for one in easy], (LEAST_IOU, 1)),
        ("good pairs refused", [float(len(rows) - len(measured))], (0, 0)),
    )
    columns = ("target", "figure", "wanted", "met")
    return table(
        columns,
        [
            [
                name,
                ", ".join(map(_cell, figures)),
                f"{low:g} to {high:g}",
                "met" if all(low <= one <= high for one in figures) else "NOT met",
            ]
            for name, figures, (low, high) in asked
            if figures
        ],
    )


def main():
    parser = argparse.ArgumentParser(description="Pairs of 12 megapixels.")
    parser.add_argument("--kinds", nargs="+", choices=PAIR_KINDS, default=USUAL)
    parser.add_argument("--seed-base", type=int, default=PAIR_BASE)
    parser.add_argument("--cache", type=Path)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    rows = [row_of(name, asked.seed_base, asked.cache) for name in asked.kinds]
    text = [
        "# Pairs of 12 megapixels",
        "",
        (
            f"`python tests/benchmarks/pairs_large.py` (seed base {asked.seed_base}; "
            "drawn pairs of the second renderer, px of the photo as taken; at "
            "most 1 px of the reduced photo off is allowed)."
        ),
        "",
        *table(COLUMNS, rows),
        "",
        *_against_targets(rows),
    ]
    sys.stdout.write("\n".join(text) + "\n")
    if asked.out:
        asked.out.write_text("\n".join(text) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
