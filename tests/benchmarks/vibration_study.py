"""Simulation study of the answer about vibration: prints a markdown table.

    python tests/benchmarks/vibration_study.py [--shops N] [--seed-base N] [--changed]
        [--kinds WORD ...] [--jobs N] [--out FILE]

Every kind is asked of N simulated workshops (`vibration_shops.py`). Wrong is a firm
decision (anything but 'not enough evidence') that is not the true one; right is the
true one. Where the data cannot settle it no share of right decisions is asked for.
The last columns: how often the true geometric mean at the suggested time lies in the
interval given, and how often the suggested time was better than, or as good as, the
present one in truth.

The rules were chosen with seed base 0. The table is made with seed base 70000, once
with the same settings and once with `changed` ones.
"""

from __future__ import annotations

import argparse
import os
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
sys.path.insert(0, str(Path(__file__).resolve().parents[2]))
sys.path.insert(0, str(Path(__file__).resolve().parent))

import numpy as np
import vibration_shops

from analysis.pieces.table import piece_table
from analysis.vibration.dose_answer import vibration

REPORTED_FROM = 70_000
FIRM = ("more", "same", "less", "other_cause_first")


def asked(kind, seed, *, changed):
    """Return the decision, whether it is right, and how the interval did."""
    shop = vibration_shops.shop(
        kind, np.random.default_rng([seed, sum(map(ord, kind))]), changed=changed
    )
    answer = vibration(piece_table(shop.rows), shop.question)
    covered = closer = None
    if answer.expected is not None:
        truth = float(shop.truth(answer.suggested_s)) / 100
        covered = answer.expected.low <= truth <= answer.expected.high
    if answer.decision in {"more", "less"}:
        low, high = shop.question.target_low, shop.question.target_high

        def miss(seconds):
            share = float(shop.truth(seconds)) / 100
            return max(low - share, share - high, 0.0)

        closer = miss(answer.suggested_s) <= miss(answer.current_s) + 1e-12
    return answer.decision, answer.decision in shop.right, covered, closer


def studied(work):
    """Return one line of figures."""
    kind, base, shops, changed = work
    found = [asked(kind, base + n, changed=changed) for n in range(shops)]
    decisions = Counter(one[0] for one in found)
    right = sum(one[1] for one in found) / shops
    wrong = sum(one[0] in FIRM and not one[1] for one in found) / shops
    covered = [one[2] for one in found if one[2] is not None]
    closer = [one[3] for one in found if one[3] is not None]
    return kind, wrong, right, decisions, covered, closer


def share_of(flags):
    return f"{100 * np.mean(flags):.0f} % of {len(flags)}" if flags else "-"


def line(figures):
    kind, wrong, right, decisions, covered, closer = figures
    said = ", ".join(f"{name} {count}" for name, count in decisions.most_common())
    need = vibration_shops.OPEN.get(kind, "at least 75 %")
    return (
        f"| {kind} | {100 * wrong:.0f} % | {100 * right:.0f} % | {need} | "
        f"{share_of(covered)} | {share_of(closer)} | {said} |"
    )


HEADING = (
    "| kind | wrong | right | right wanted | interval holds truth | "
    "suggested time is closer | decisions |\n|---|---|---|---|---|---|---|"
)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=100)
    parser.add_argument("--seed-base", type=int, default=REPORTED_FROM)
    parser.add_argument("--changed", action="store_true")
    parser.add_argument("--kinds", nargs="*", default=list(vibration_shops.KINDS))
    parser.add_argument("--jobs", type=int, default=1)
    parser.add_argument("--out", type=Path)
    given = parser.parse_args()
    work = [(kind, given.seed_base, given.shops, given.changed) for kind in given.kinds]
    with ProcessPoolExecutor(given.jobs) as pool:
        lines = [HEADING, *map(line, pool.map(studied, work))]
    text = "\n".join(lines) + "\n"
    if given.out:
        given.out.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
