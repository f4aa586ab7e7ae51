"""Fit the interval of a pair on drawn pairs that no report uses.

    python tests/benchmarks/pair_interval_fit.py [--seeds 2] [--cache FOLDER]

The log of truth over figure is taken for normal: its mean a constant, its variance the
sum of a constant, of what the rims leave open and of what each void adds, weighed by
maximum likelihood with weights of 0 or more. Printed are the constants of
`analysis/pairs/interval.py`; they are judged by `pairs.py`, on other pairs.
"""

from __future__ import annotations

import argparse
import sys
from itertools import product
from pathlib import Path

import numpy as np
from scipy import optimize, special

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.errors import PairError
from analysis.pairs.interval import terms_of
from analysis.services import pairing
from analysis.services.photos import read_photo, reading_answer, scale_typed
from tests.benchmarks.pair_faces import PAIR_KINDS, draw_pair_once
from tests.benchmarks.pairs import _scored, shared_part

FIT_BASE = 91_003


def row_of(name, seed, cache):
    """Log of truth over figure and its terms; None for a pair refused or empty."""
    pair = draw_pair_once(name, seed, FIT_BASE, cache)
    kept, shared = [], shared_part(pair)
    first, second = read_photo(pair.first), read_photo(pair.second)
    given = pairing.with_pair_interval
    # What is found is not part of the answer: it is looked at on its way.
    pairing.with_pair_interval = lambda summary, found, size: (
        kept.append(found) or given(summary, found, size)
    )
    try:
        reading, mask = pairing.measure_pair(
            first, second, scale=scale_typed(pair.mm_per_px)
        )
    except PairError as error:
        sys.stdout.write(f"{name} {seed}: {error}\n")
        return None
    finally:
        pairing.with_pair_interval = given
    figures = reading_answer(reading)
    if not figures["void_count"]:
        return None
    scored = _scored(pair, figures, mask, 0.0, shared)
    return np.log(scored.true_percent / scored.found_percent), *terms_of(kept[0])


def fitted(rows):
    """Mean, and weights of rims, of single voids and of what is common."""
    off, rims, each, doubt = np.array(rows).T

    def unlikely(values):
        mean, *weights = values
        variance = sum(
            (weight * term) ** 2
            for weight, term in zip(weights, (rims, each, 1.0), strict=True)
        )
        variance = variance + doubt**2 / 4
        return float(np.sum((off - mean) ** 2 / variance + np.log(variance)))

    start = [off.mean(), 0.3, 0.1, off.std()]
    bounds = [(None, None), (0, None), (0, None), (1e-3, None)]
    return optimize.minimize(unlikely, start, bounds=bounds).x


def main():
    parser = argparse.ArgumentParser(description="Interval of pairs.")
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--cache", type=Path)
    asked = parser.parse_args()
    kinds = [kind for kind in PAIR_KINDS if not kind.startswith("clean")]
    rows = []
    for name, seed in product(kinds, range(asked.seeds)):
        row = row_of(name, seed, asked.cache)
        if row is not None:
            rows.append(row)
            told = " ".join(f"{value:.3f}" for value in row)
            sys.stdout.write(f"{name} {seed}: {told}\n")
    mean, rims, each, common = fitted(rows)
    times = special.stdtrit(len(rows) - 4, 0.975)
    sys.stdout.write(
        f"\n{len(rows)} pairs: mean {mean:.3f}, rims {rims:.3f}, one void {each:.3f}, "
        f"common {common:.3f}, times {times:.2f}\n"
    )


if __name__ == "__main__":
    main()
