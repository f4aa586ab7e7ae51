"""Simulation study of the comparison: prints a markdown table.

    python tests/benchmarks/compare_study.py [--quick] [--reps N] [--cells WORD ...]
        [--jobs N] [--out FILE]

Every cell simulates pours (log-normal or skewed spread between and within, zeros
below the smallest counted size) and asks `analysis.compare.compare` as a user would.

Columns: verdicts without an effect (type-I error), coverage of the 95 % interval
without and with the effect, verdicts with it (power), beside them the power of
Student's t on pour means and its share we reach, and the type-I error of a naive t
test on pieces. The effect of each cell is three standard errors of the difference.
"""

from __future__ import annotations

import argparse
import os
import sys
import warnings
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from itertools import product
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np
from scipy import stats

from analysis.compare.compare import compare
from analysis.model.comparison import CompareOptions, PieceTable

BETWEEN, WITHIN = 0.4, 0.5  # spread of log shares between pours and between pieces
CENTRE = 0.4  # percent
AREA_MM2 = 60_000.0
OPTIONS = CompareOptions(by="joint_sealing", levels=("tape", "none"))


@dataclass(frozen=True, kw_only=True)
class Cell:
    """One kind of workshop."""

    design: str  # between, within, mixed
    shape: str  # normal, skewed
    zeros: float | None  # share in percent below which nothing is counted
    pours: tuple[int, int]
    sizes: tuple[int, int]

    @property
    def name(self) -> str:
        zeros = f"zeros-{self.zeros:g}" if self.zeros else "no-zeros"
        pours = f"{self.pours[0]}v{self.pours[1]}"
        sizes = f"{self.sizes[0]}-{self.sizes[1]}"
        return f"{self.design} {self.shape} {zeros} {pours} {sizes}"


def cells():
    """Return all cells of the study."""
    between = product(
        ["between"],
        ["normal", "skewed"],
        [None, 0.2, 0.4],
        [(3, 3), (4, 4), (5, 5), (4, 8), (6, 10), (12, 12)],
        [(3, 3), (1, 8)],
    )
    inside = product(
        ["within", "mixed"],
        ["normal", "skewed"],
        [None, 0.2, 0.4],
        [(2, 2), (3, 3), (6, 6)],
        [(2, 8)],
    )
    names = ("design", "shape", "zeros", "pours", "sizes")
    return [Cell(**dict(zip(names, one, strict=True))) for one in (*between, *inside)]


def noise(random, shape, spread, size):
    if shape == "normal":
        return random.normal(0, spread, size)
    return spread * (random.exponential(1.0, size) - 1)


def drawn(random, cell, log_ratio):
    """Return shares in percent, level and pour of each piece."""
    pours = sum(cell.pours)
    count = random.integers(cell.sizes[0], cell.sizes[1] + 1, pours)
    pour = np.repeat(np.arange(pours), count)
    own = np.arange(pours) < cell.pours[0]
    x = own[pour].astype(float)
    if cell.design != "between":
        both = np.arange(pours) % (1 if cell.design == "within" else 2) == 0
        for name in np.flatnonzero(both):
            inside = pour == name
            x[inside] = random.permutation(np.arange(count[name]) % 2)
    log = noise(random, cell.shape, BETWEEN, pours)[pour]
    log = log + noise(random, cell.shape, WITHIN, len(pour)) + log_ratio * x
    share = CENTRE * np.exp(log)
    return np.where(share < cell.zeros, 0.0, share) if cell.zeros else share, x, pour


def table_of(share, x, pour, cell):
    n = len(share)
    smallest = np.sqrt((cell.zeros or 0.001) / 100 * AREA_MM2 * 4 / np.pi)
    number = {
        "void_area_percent": share,
        "smallest_counted_mm": np.full(n, smallest),
        "face_area_mm2": np.full(n, AREA_MM2),
    }
    text = {
        "piece": np.arange(n).astype(str),
        "pour": pour.astype(str),
        "joint_sealing": np.where(x > 0, "tape", "none"),
    }
    text |= {name: values.astype(str) for name, values in number.items()}
    return PieceTable(text=text, number=number, line=np.arange(n) + 2)


def true_log_ratio(cell, log_ratio):
    """Return the log ratio of mean shares, zeros as zeros."""
    if not cell.zeros:
        return log_ratio
    random = np.random.default_rng(99)
    log = noise(random, cell.shape, BETWEEN, 10**6)
    log = log + noise(random, cell.shape, WITHIN, 10**6)
    means = []
    for shift in (log_ratio, 0.0):
        share = CENTRE * np.exp(log + shift)
        means.append(np.log(np.where(share < cell.zeros, 0.0, share).mean()))
    return means[0] - means[1]


def effect_of(cell):
    """Return a log ratio three standard errors from 0."""
    size = sum(cell.sizes) / 2
    if cell.design == "between":
        error2 = (BETWEEN**2 + WITHIN**2 / size) * sum(1 / k for k in cell.pours)
    else:
        error2 = WITHIN**2 * 4 / (size * sum(cell.pours))
    return -3.0 * float(np.sqrt(error2))


def log_of(share, cell):
    return np.log(np.maximum(share, cell.zeros / 2)) if cell.zeros else np.log(share)


def p_on_pour_means(y, x, pour, cell):
    """Return p of Student's t on pour means; paired where pours hold both."""
    means = {
        side: {p: y[(pour == p) & (x == side)].mean() for p in set(pour[x == side])}
        for side in (1.0, 0.0)
    }
    if cell.design == "between":
        groups = [list(side.values()) for side in means.values()]
        return stats.ttest_ind(*groups).pvalue
    both = sorted(means[1.0].keys() & means[0.0].keys())
    if len(both) < 2:
        return 1.0
    gap = [means[1.0][p] - means[0.0][p] for p in both]
    return stats.ttest_1samp(gap, 0).pvalue


def studied(cell, reps, log_ratio, seed):
    """Return shares of verdicts, of covered truths, of t and naive rejections."""
    random = np.random.default_rng(seed)
    truth = true_log_ratio(cell, log_ratio)
    seen = np.zeros(4)
    for _ in range(reps):
        share, x, pour = drawn(random, cell, log_ratio)
        head = compare(table_of(share, x, pour, cell), OPTIONS).head
        low = -np.inf if not head.ratio_low else np.log(head.ratio_low)  # 0 is no end
        high = np.inf if head.ratio_high is None else np.log(head.ratio_high)
        y = log_of(share, cell)
        with np.errstate(all="ignore"), warnings.catch_warnings():
            warnings.simplefilter("ignore")  # the t tests meet constant groups
            seen += (
                head.verdict in {"lower", "higher"},
                low - 1e-9 <= truth <= high + 1e-9,
                p_on_pour_means(y, x, pour, cell) <= 0.05,
                stats.ttest_ind(y[x > 0], y[x == 0]).pvalue <= 0.05,
            )
    return seen / reps


def line(work):
    """Return one line of the table."""
    cell, reps, seed = work
    none = studied(cell, reps, 0.0, seed)
    effect = effect_of(cell)
    some = studied(cell, reps, effect, seed + 1)
    least = {"between": 4, "within": 2, "mixed": 3}[cell.design]
    enough = min(cell.pours) >= least  # fewer: not enough evidence, whatever is seen
    reached = f"{some[0] / some[2]:.2f}" if enough and some[2] else "no verdict by rule"
    return (
        f"| {cell.design} | {cell.shape} | {cell.zeros or '-'} | "
        f"{cell.pours[0]} v {cell.pours[1]} | {cell.sizes[0]} to {cell.sizes[1]} | "
        f"{none[0]:.3f} | {none[3]:.3f} | {none[1]:.3f} | {some[1]:.3f} | "
        f"{np.exp(effect):.2f} | {some[0]:.3f} | {some[2]:.3f} | {reached} |"
    )


HEAD = (
    "| treatment | shape | zero below % | pours | pieces a pour | type-I | "
    "naive type-I | coverage, no effect | coverage, effect | ratio | power | "
    "power of t on pour means | share reached |"
)


def say(words):
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


def main(argv):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--quick", action="store_true", help="100 repeats per cell")
    parser.add_argument("--reps", type=int, default=2000)
    parser.add_argument(
        "--cells",
        nargs="*",
        default=[],
        help="all words of a cell's name: between normal zeros-0.2 5v5 1-8",
    )
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args(argv)
    reps = 100 if given.quick else given.reps
    chosen = [c for c in cells() if all(word in c.name.split() for word in given.cells)]
    error = 2 * np.sqrt(0.05 * 0.95 / reps)
    lines = [
        f"{reps} repeats per cell; two Monte Carlo errors of 5 % are {error:.3f}.",
        "",
        HEAD,
        "|" + " --- |" * 13,
    ]
    say("\n".join(lines))
    work = [(cell, reps, 1000 + 7 * n) for n, cell in enumerate(chosen)]
    with ProcessPoolExecutor(given.jobs) as pool:
        for done in pool.map(line, work):
            say(done)
            lines.append(done)
    if given.out:
        given.out.write_text("\n".join(lines) + "\n")


if __name__ == "__main__":
    main(sys.argv[1:])
