"""What a log takes before and after the voids of a reading are packed into one row.

Run: python tests/benchmarks/void_packs.py [--readings 1000] [--out FILE]
The voids are those measured on the sample photos, rejected candidates too; a log in the
state before the packing is filled with them and then opened.
"""

import argparse
import json
import sqlite3
import sys
import tempfile
import time
from contextlib import closing
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from analysis.services.measuring import measure
from analysis.services.photos import read_photo
from analysis.storage.readings import load_reading
from analysis.storage.store import open_log
from tests.support.old_logs import AS_0002, at

ROOT = Path(__file__).parents[2]

NUMBERS = (
    "row_px",
    "col_px",
    "area_px",
    "area_sd_px",
    "feret_max_px",
    "contrast",
    "rim_sharpness",
    "shading",
    "colour_shift",
    "elongation",
    "solidity",
)
COLUMNS = ("reading_id", "position", "kind", "rejected", "reason", "flags", "outline")


def rows_of(voids, reading_id, rejected):
    """Yield the rows that the state before held."""
    for n in range(len(voids)):
        outline = np.asarray(voids.outline_px[n], dtype="<f8").tobytes()
        flags = json.dumps(sorted(voids.flags[n]))
        told = (str(voids.kind[n]), rejected, voids.reason[n], flags, outline)
        yield (
            reading_id,
            n,
            *told,
            *(float(getattr(voids, one)[n]) for one in NUMBERS),
        )


def size_of(log):
    """Return the file's size with nothing left beside it."""
    with closing(sqlite3.connect(log.file)) as raw:
        raw.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    return log.file.stat().st_size


def filled(log, measured, count):
    """Fill a log of the state before with so many readings."""
    columns = ", ".join((*COLUMNS, *NUMBERS))
    marks = ", ".join("?" * (len(COLUMNS) + len(NUMBERS)))
    voids = 0
    with closing(sqlite3.connect(log.file)) as raw, raw:
        kept = [row[1] for row in raw.execute("PRAGMA table_info(reading)")]
        same = ", ".join(name for name in kept if name != "id")
        for number in range(count):
            reading_id = 100 + number
            raw.execute(
                f"INSERT INTO reading (id, {same}) "
                f"SELECT {reading_id}, {same} FROM reading WHERE id = 10"
            )
            reading = measured[number % len(measured)]
            rows = [*rows_of(reading.voids, reading_id, 0)]
            rows += rows_of(reading.rejected, reading_id, 1)
            raw.executemany(f"INSERT INTO void ({columns}) VALUES ({marks})", rows)
            voids += len(rows)
    return voids


def main():
    """Print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--readings", type=int, default=1000)
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    samples = sorted((ROOT / "sample_images").glob("*.jpg"))[:3]
    measured = [
        measure(read_photo(path.read_bytes(), path.name))[0] for path in samples
    ]
    with tempfile.TemporaryDirectory() as folder:
        old = at(Path(folder) / "log", "0017", AS_0002)
        empty = size_of(old)
        voids = filled(old, measured, asked.readings)
        before = size_of(old) - empty
        begun = time.perf_counter()
        log = open_log(old.file.parent)
        seconds = time.perf_counter() - begun
        after = size_of(log) - empty
        loaded = min(100, asked.readings)
        begun = time.perf_counter()
        for number in range(loaded):
            load_reading(log, 100 + number)
        each = (time.perf_counter() - begun) / loaded
    said = (
        f"`python tests/benchmarks/void_packs.py --readings {asked.readings}`, voids "
        "measured on three sample photos; times on a busy machine."
    )
    sizes = [
        f"{size / 1e6:.1f} MB, {size / voids:.0f} bytes a void"
        for size in (before, after)
    ]
    rows = {
        "readings, voids and rejected candidates": f"{asked.readings}, {voids}",
        "log before, a row for each void": sizes[0],
        "log after, a row for each reading": sizes[1],
        "ratio": f"{before / after:.2f}",
        "bringing the log up, the file written anew included": f"{seconds:.1f} s",
        "loading one reading": f"{1000 * each:.1f} ms",
    }
    lines = ["# The voids of a reading in one row", "", said, "", "| | |", "|---|---|"]
    lines += [f"| {name} | {told} |" for name, told in rows.items()]
    text = "\n".join(lines) + "\n"
    if asked.out is not None:
        asked.out.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
