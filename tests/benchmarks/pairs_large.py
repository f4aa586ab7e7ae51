"""Pairs of 12 megapixels: how far they lie off, what they cost, what is found.

    python tests/benchmarks/pairs_large.py [--kinds K...] [--cache DIR] [--out FILE]

The faces are those of `pairs.py` photographed with four times as many px a side, so
that no more of the face is seen to line up by; the hand moves as far across the face.
"""

from __future__ import annotations

import argparse
import resource
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
from tests.benchmarks.accuracy import table
from tests.benchmarks.measuring import measure
from tests.benchmarks.pair_faces import PAIR_BASE, PAIR_KINDS, draw_pair_once
from tests.benchmarks.pairs import _cell, _scored, measure_pair, shared_part

SIZE_PX = (3000, 4000)
USUAL = ("grain", "mid_light", "black", "clean_mid")


def true_off_px(pair, matrix):
    """Root mean square by which a homography misses the true one over the face."""
    rows, cols = pair.labels.shape
    y, x = np.mgrid[50 : rows - 50 : 12j, 50 : cols - 50 : 12j]
    at = np.column_stack([x.ravel(), y.ravel()])
    off = moved(matrix, at) - moved(pair.to_second, at)
    return float(np.sqrt((off**2).sum(axis=1).mean()))


def _memory_mb():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e3


def one_photo(pair):
    """CPU seconds and peak memory of measuring the first photo alone."""
    cv2.setNumThreads(1)
    answer = measure(pair.first, pair.mm_per_px)
    return answer.cpu_seconds, _memory_mb()


def both_photos(pair):
    """Answer of the pair, mask, CPU seconds and peak memory."""
    cv2.setNumThreads(1)
    return *measure_pair(pair.first, pair.second, pair.mm_per_px), _memory_mb()


def _apart(work, pair):
    """Do it in a process of its own, so that its peak memory is its own."""
    with ProcessPoolExecutor(1, mp_context=get_context("spawn")) as pool:
        return pool.submit(work, pair).result()


def row_of(name, base, cache):
    """Cells of one pair."""
    pair = draw_pair_once(name, 0, base, cache, SIZE_PX)
    lights = [
        luminance(read_photo(photo).pixels) for photo in (pair.first, pair.second)
    ]
    start = time.process_time()
    try:
        lying = register(*lights, np.ones(pair.labels.shape, bool))
    except PairError as error:
        return [name, str(error)] + ["-"] * 10
    lining_s = time.process_time() - start
    alone_s, alone_mb = _apart(one_photo, pair)
    answer, mask, pair_s, pair_mb = _apart(both_photos, pair)
    if mask is None:
        return [name, answer] + ["-"] * 10
    scored = _scored(pair, answer, mask, pair_s, shared_part(pair))
    figures = (
        lying.scatter_px,
        lying.rms_px,
        true_off_px(pair, lying.to_second),
        scored.true_percent,
        scored.found_percent,
        scored.f1,
        scored.iou,
        lining_s,
        pair_s / alone_s,
        pair_mb / alone_mb,
    )
    return [name, "", *map(_cell, figures)]


def main():
    parser = argparse.ArgumentParser(description="Pairs of 12 megapixels.")
    parser.add_argument("--kinds", nargs="+", choices=PAIR_KINDS, default=USUAL)
    parser.add_argument("--seed-base", type=int, default=PAIR_BASE)
    parser.add_argument("--cache", type=Path)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    cv2.setNumThreads(1)
    columns = [
        "faces", "refused", "scatter of blocks px", "said off px", "truly off px",
        "true %", "found %", "F1", "IoU", "lining up s", "CPU over one photo",
        "memory over one photo",
    ]  # fmt: skip
    rows = [row_of(name, asked.seed_base, asked.cache) for name in asked.kinds]
    text = [
        "# Pairs of 12 megapixels",
        "",
        (
            f"`python tests/benchmarks/pairs_large.py` (seed base {asked.seed_base}; "
            "drawn pairs of the second renderer, px of the full photo; at most 1 px "
            "off is allowed)."
        ),
        "",
        *table(columns, rows),
    ]
    sys.stdout.write("\n".join(text) + "\n")
    if asked.out:
        asked.out.write_text("\n".join(text) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
