"""Kill the measuring of a folder at random moments, begin again, and look for losses.

Run: python tests/benchmarks/kill_folder.py [--kills 100] [--whole 4] [--out FILE]
     [--kept FILE] [--minutes 8]
`--whole` of the kills are of the whole command with two processes, the others of the
same run in one process, which starts faster. Every line must end in 0 faults. With
`--kept` each kill is written down as it ends, and the same command goes on after the
last one: so a hundred kills can be spread over several short runs.
"""

import argparse
import json
import random
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from analysis.storage.store import open_log
from tests.support.crowd import faults
from tests.support.folder_photos import (
    folder_of,
    kill_during_run,
    log_for,
    measured_into,
    readings_by_photo,
)

ROOT = Path(__file__).parents[2]
PHOTOS = 6


def killed_command(place, log_folder, *, seed, longest_s):
    """Kill the whole command; its processes must end with it."""
    words = ["measure-folder", str(place), "--log", str(log_folder), "--workers", "2"]
    process = subprocess.Popen(
        [sys.executable, "-m", "analysis", *words],
        cwd=ROOT,
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    time.sleep(random.Random(seed).uniform(0, longest_s))
    process.kill()
    return process.wait() != 0


def kept_rows(kept):
    """Return what earlier runs wrote down."""
    if kept is None or not kept.exists():
        return []
    lines = kept.read_text(encoding="utf-8").splitlines()
    return [tuple(json.loads(line)) for line in lines]


def main():
    """Print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--kills", type=int, default=100)
    parser.add_argument("--whole", type=int, default=4)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--kept", type=Path, help="JSON lines, one a kill")
    parser.add_argument("--minutes", type=float, default=float("inf"))
    asked = parser.parse_args()
    rows = kept_rows(asked.kept)
    for row in kills(asked, len(rows)):
        rows.append(row)
        if asked.kept is not None:
            with asked.kept.open("a", encoding="utf-8") as kept:
                kept.write(json.dumps(row) + "\n")
    text = table(rows)
    if asked.out is not None:
        asked.out.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


def kills(asked, first):
    """Yield what each kill left, from the `first` one on."""
    until = time.monotonic() + 60 * asked.minutes
    with tempfile.TemporaryDirectory() as folder:
        base = Path(folder)
        place = folder_of(base / "photos", PHOTOS)
        made = log_for(base / "made", PHOTOS).file.parent
        shutil.copytree(made, base / "whole")
        begun = time.perf_counter()
        measured_into(place, base / "whole")
        took = time.perf_counter() - begun
        wanted = readings_by_photo(open_log(base / "whole"))
        for number in range(first, asked.kills):
            if time.monotonic() > until:
                break
            by_command = number < asked.whole
            log_folder = base / f"log{number}"
            shutil.copytree(made, log_folder)
            kill = killed_command if by_command else kill_during_run
            longest = 12 * took if by_command else 1.2 * took
            cut_off = kill(place, log_folder, seed=number, longest_s=longest)
            log = open_log(log_folder)
            before = len(readings_by_photo(log))
            measured_into(place, log_folder)
            whole = readings_by_photo(log) == wanted
            wrong = [one for one in faults(log) if "lacks voids" not in one]
            yield by_command, cut_off, before, whole and not wrong
            shutil.rmtree(log_folder)


def table(rows):
    """Say what the kills left."""
    said = (
        "`python tests/benchmarks/kill_folder.py`: a folder of "
        f"{PHOTOS} photos, killed (SIGKILL), begun again; then every photo must have "
        "one reading, equal to that of a run in one go, and the log must be whole."
    )
    head = (
        "| killed | kills | of them before the end | readings kept at the kill, "
        "least to most | faults |"
    )
    lines = ["# Folder runs killed at random moments", "", said, "", head]
    lines.append("|---|---|---|---|---|")
    for by_command, name in ((True, "the command, 2 workers"), (False, "one process")):
        its = [row for row in rows if row[0] == by_command]
        if its:
            kept = sorted(row[2] for row in its)
            lines.append(
                f"| {name} | {len(its)} | {sum(row[1] for row in its)} "
                f"| {kept[0]} to {kept[-1]} | {sum(not row[3] for row in its)} |"
            )
    return "\n".join(lines) + "\n"


if __name__ == "__main__":
    main()
