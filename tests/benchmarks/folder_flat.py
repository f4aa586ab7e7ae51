"""What a photo costs over thousands in one folder run, and whether memory grows.

    python tests/benchmarks/folder_flat.py PLACE --photos 5000 [--slice-s 540]

One process measures drawn photos of 120 x 90 px, ten of each piece, no two alike: so
small that what the log does for each of them weighs as much as it can. A run that long
is made in slices: after `--slice-s` seconds it stops, as at Ctrl-C, and the same
command goes on with it, as `--resume` does. What each photo cost, in time of the
processor, and the memory after it are kept in PLACE/costs.csv; the table is printed
once all are there. Each slice is a process of its own, so memory is judged inside the
longest one.
"""

from __future__ import annotations

import argparse
import contextlib
import csv
import os
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from analysis.model.folder import MEASURED
from analysis.services.folders.run import measure_folder
from analysis.storage.engine import locate
from tests.benchmarks.real_summary import met, table
from tests.support.folder_photos import folder_of, in_this_process, log_for, wish

FLAT, MOST_GROWTH_MB, STATED = 1.10, 60.0, 5000
WARM, BLOCK = 10, 100  # photos that warm a process up; photos of a mean
A_PIECE = 10


class SliceEndError(Exception):
    """The time of a slice is over."""


def memory_mb():
    """Return the memory this process holds."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def measured_slice(place, count, until, tell_line):
    """Measure so many photos in PLACE, those before passed over; return how far it is.

    `tell_line` is told a line for each photo that is measured: its number in this
    process, its milliseconds of the processor and the memory after it in MB.
    """
    place = Path(place)
    folder = folder_of(place / "photos", count)
    pieces = -(-count // A_PIECE)
    if (place / "log").exists():
        log = locate(str(place / "log"))
    else:
        log = log_for(place / "log", pieces)
    lines = [f"{n:03}/face.png,{n % pieces:03}" for n in range(count)]
    asked = wish("\n".join(["photo,piece", *lines]), resume=True)
    spent, done = [time.process_time()], [0]

    def tell(progress, outcome):
        now = time.process_time()
        if outcome is not None and outcome.state == MEASURED:
            tell_line((progress.measured - 1, 1000 * (now - spent[0]), memory_mb()))
        spent[0] = time.process_time()
        done[0] = progress.measured + progress.skipped
        if time.monotonic() > until:
            raise SliceEndError

    with contextlib.suppress(SliceEndError):
        measure_folder(log, str(folder), asked, hands=in_this_process(), tell=tell)
    return done[0]


def flat_rows(done, lines):
    """Return the rows of the table: photos in the log, lines of slices in their order.

    A slice that was killed may have measured a photo whose line is not there.
    """
    number, cost, memory = np.array(lines, dtype=float).T
    warm = np.flatnonzero(number >= WARM)
    blocks = [warm[at : at + BLOCK] for at in range(0, len(warm) - BLOCK + 1, BLOCK)]
    first, last = cost[warm[:BLOCK]].mean(), cost[warm[-BLOCK:]].mean()
    means = [cost[block].mean() for block in blocks]
    starts = np.flatnonzero(number == 0)
    ends = np.append(starts[1:], len(number))
    at = int(np.argmax(ends - starts))
    begun, end = starts[at] + min(WARM + BLOCK, ends[at] - starts[at]) - 1, ends[at] - 1
    return [
        ("photos in one run", f"{done:,}, in {len(starts)} slices",
         f"{STATED:,}", met(done >= STATED)),
        ("of them with their cost kept", f"{len(cost):,}", "", ""),
        ("processor time a photo, the last hundred over the first",
         f"{last:.0f} / {first:.0f} ms = {last / first:.2f}",
         f"at most {FLAT:g}", met(last / first <= FLAT)),
        ("the same, of all hundreds, lowest and highest",
         f"{min(means):.0f} to {max(means):.0f} ms", "", ""),
        (f"memory after {number[begun] + 1:,.0f} and {number[end] + 1:,.0f} photos, MB",
         f"{memory[begun]:.0f}, {memory[end]:.0f}",
         f"at most {MOST_GROWTH_MB:g} more",
         met(memory[end] - memory[begun] <= MOST_GROWTH_MB)),
    ]  # fmt: skip


def main():
    """Go on with a run, and print its table at the end."""
    parser = argparse.ArgumentParser()
    parser.add_argument("place", type=Path, help="an empty folder, or one begun before")
    parser.add_argument("--photos", type=int, default=STATED)
    parser.add_argument("--slice-s", type=float, default=540.0)
    asked = parser.parse_args()
    asked.place.mkdir(parents=True, exist_ok=True)
    kept = asked.place / "costs.csv"
    until = time.monotonic() + asked.slice_s
    with kept.open("a", newline="", encoding="ascii", buffering=1) as file:
        tell_line = csv.writer(file).writerow
        done = measured_slice(asked.place, asked.photos, until, tell_line)
    with kept.open(newline="", encoding="ascii") as file:
        lines = [tuple(map(float, line)) for line in csv.reader(file)]
    if done < asked.photos:
        sys.stdout.write(f"{done} of {asked.photos}: run it again to go on.\n")
        return
    rows = table(("what", "figure", "wanted", "met"), flat_rows(done, lines))
    sys.stdout.write("\n".join(rows) + "\n")


if __name__ == "__main__":
    main()
