"""How long 20,000 pieces take to be read and compared, in-process.

python tests/benchmarks/compare_speed.py [--pieces N]
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import numpy as np

from analysis.compare.compare import compare
from analysis.compare.output import comparison_keys
from analysis.model.comparison import CompareOptions
from analysis.pieces.table import read_table

HEAD = (
    "piece,pour,cast_on,form,form_type,form_use,joint_sealing,release_agent,"
    "vibration_method,vibration_s,void_area_percent,face_area_mm2,void_count"
)


def text_of(kind, pieces):
    random = np.random.default_rng(1)
    size = {"40 pours": pieces // 40}.get(kind, 8)
    lines = [HEAD]
    for n in range(pieces):
        pour = n // size
        sealed = n % 2 if kind == "within pours" else pour % 2
        share = float(np.exp(random.normal(-0.7 - 0.3 * sealed, 0.5)))
        lines.append(
            f"{n},{pour},2026-{pour % 12 + 1:02d}-01,F{n % 9},{'ab'[n % 9 > 4]},"
            f"{random.integers(60)},{'tape' if sealed else 'none'},oil,table,"
            f"{random.integers(30, 60)},{share:.4f},60000,{random.integers(40)}"
        )
    return "\n".join(lines)


def say(words):
    sys.stdout.write(words + "\n")
    sys.stdout.flush()


def main(argv):
    parser = argparse.ArgumentParser(description=__doc__.split("\n", maxsplit=1)[0])
    parser.add_argument("--pieces", type=int, default=20_000)
    given = parser.parse_args(argv)
    options = CompareOptions(by="joint_sealing")
    say("| treatment | read, s | compare, s | processor, s | verdict |")
    say("| --- | --- | --- | --- | --- |")
    compare(read_table(text_of("between pours", 400)), options)  # imports, caches
    for kind in ("between pours", "within pours", "40 pours"):
        text = text_of(kind, given.pieces)
        start, work = time.perf_counter(), time.process_time()
        table = read_table(text)
        read = time.perf_counter()
        keys = comparison_keys(compare(table, options))
        end, used = time.perf_counter(), time.process_time() - work
        say(
            f"| {kind} | {read - start:.2f} | {end - read:.2f} | {used:.2f} | "
            f"{keys['verdict']} |"
        )


if __name__ == "__main__":
    main(sys.argv[1:])
