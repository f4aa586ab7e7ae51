"""How often a drawn pattern is named right: prints a markdown table.

    python tests/benchmarks/placement_study.py [--faces N] [--seed-base N] [--changed]
        [--jobs N]

Right: the first name is the true one; on random faces, nothing is named. The rules
were chosen with seeds from 0; the table is made with seeds from 40000.
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
import placement_faces

from analysis.diagnosis.naming import name_patterns
from analysis.diagnosis.placement import place

REPORTED_FROM = 40_000


def named(work):
    """Return the first name given to one face."""
    kind, seed, changed = work
    random = np.random.default_rng([seed, placement_faces.KINDS.index(kind)])
    grid = placement_faces.face(kind, random, changed=changed)
    found = name_patterns(place([grid]))
    return kind, found[0].pattern if found else None


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", type=int, default=200)
    parser.add_argument("--seed-base", type=int, default=REPORTED_FROM)
    parser.add_argument("--changed", action="store_true")
    parser.add_argument("--jobs", type=int, default=1)
    given = parser.parse_args()
    work = [
        (kind, given.seed_base + n, given.changed)
        for kind in placement_faces.KINDS
        for n in range(given.faces)
    ]
    with ProcessPoolExecutor(given.jobs) as pool:
        found = list(pool.map(named, work, chunksize=10))
    lines = ["| faces | named right | named |", "|---|---|---|"]
    for kind in placement_faces.KINDS:
        names = Counter(name for one, name in found if one == kind)
        right = names[placement_faces.NAMES[kind]] / given.faces
        told = ", ".join(f"{name or 'nothing'} {n}" for name, n in names.most_common())
        lines.append(f"| {kind} | {100 * right:.1f} % | {told} |")
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
