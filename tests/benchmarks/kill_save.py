"""Kill a saving process many times at random moments; crowd the log with writers.

Run: python tests/benchmarks/kill_save.py [--kills 200] [--processes 8] [--saves 50]
Every line must end in 0 faults.
"""

import argparse
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from analysis.storage.reading_lines import list_readings
from analysis.storage.store import open_log
from tests.support.crowd import all_at_once, faults, kill_during_saves, new_log


def killed(folder, kills):
    """Return saves that came back, readings found, orphans' runs and faults."""
    log, piece_id = new_log(folder)
    came_back = n_faults = cut_off = 0
    for number in range(kills):
        came_back += kill_during_saves(log, piece_id, name=f"k{number}", seed=number)
        cut_off += bool(faults_before_start(log))
        open_log(folder)
        n_faults += bool(faults(log))
    return came_back, len(list_readings(log)), cut_off, n_faults


def faults_before_start(log):
    """Tell whether the kill left something to tidy, so that the test bites."""
    return [fault for fault in faults(log) if "files for" in fault]


def main():
    """Print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=200)
    parser.add_argument("--processes", type=int, default=8)
    parser.add_argument("--saves", type=int, default=50)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        start = time.perf_counter()
        came_back, found, cut_off, n_faults = killed(folder, asked.kills)
        seconds = time.perf_counter() - start
    lines = [
        f"kill -9: {asked.kills} kills in {seconds:.0f} s",
        f"  saves that came back {came_back}, readings found {found}",
        f"  kills that left a file to tidy at the next start {cut_off}",
        f"  kills after which the log was not whole: {n_faults} faults",
    ]
    with tempfile.TemporaryDirectory() as folder:
        log, piece_id = new_log(folder)
        start = time.perf_counter()
        codes, arrived = all_at_once(
            log, piece_id, processes=asked.processes, saves=asked.saves
        )
        seconds = time.perf_counter() - start
        kept = len(list_readings(log))
        n_faults = len(faults(log)) + sum(code != 0 for code in codes)
    wanted = asked.processes * asked.saves
    lines += [
        f"crowd: {asked.processes} processes x {asked.saves} in {seconds:.0f} s",
        f"  wanted {wanted}, came back {arrived}, kept {kept}: {n_faults} faults",
    ]
    sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
