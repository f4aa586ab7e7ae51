"""What a large log costs: its import, its first read, and the verbs that read it all.

Run: python tests/benchmarks/large_log.py [--pieces 10000] [--out FILE]
     [--readings-per-piece 3] [--voids-per-reading 100] [--log FOLDER] [--screens]
The table is made from a seed: four pieces a pour, forms of three types, voids that fall
with vibration and rise where joints are open. The log is on SQLite, made anew by import
of that table. Without readings its figures are those of the table; with them each piece
gets photos of its own (no file of them), as `large_readings` draws them, and `--log`
names a folder in which the log is made, or left by a run before, and stays. `--screens`
draws each screen twice in process, without a browser. Each verb runs as a command of
its own, the start of Python included, its modules compiled as from the second start on.
The targets are for two free cores; every step is of one thread, so it is judged by the
processor's seconds, which other work on the machine stretches less than the clock's.
Both are printed.
"""

import argparse
import compileall
import csv
import io
import logging
import os
import resource
import subprocess
import sys
import tempfile
import time
from datetime import date, timedelta
from pathlib import Path

import numpy as np
import sqlalchemy as sa
from streamlit.testing.v1 import AppTest

sys.path.insert(0, str(Path(__file__).parents[2]))

from analysis.model.library import LibraryAsk
from analysis.services import records
from analysis.services.log import open_log
from analysis.services.piece_library import library_page
from analysis.services.tables import table_from_log
from analysis.storage.engine import reading
from analysis.storage.tables import VOID_PACK
from tests.benchmarks.large_readings import fill

ROOT = Path(__file__).parents[2]
SEED = 20260331
A_POUR = 4  # pieces
FORMS = 400
FIRST_DAY = date(2020, 1, 6)
TYPES = ("trough", "pot", "panel")
SEALINGS = ("tape", "silicone", "none")
AGENTS = ("oil", "wax", "water-based release")
# Told of a log of 100,000 pieces on two free cores.
TARGETS = {
    "import": 30.0,
    "first read": 3.0,
    "compare": 5.0,
    "track": 5.0,
    "vibration": 5.0,
    "search of two words": 0.5,
    "first page of the library": 1.0,
}
STATED = 100_000
SCREEN_S = 1.0  # after the first time
SCREENS = (
    ("home", {}),
    ("measure", {}),
    ("photo_queue", {}),
    ("pours", {}),
    ("pieces", {}),
    ("pieces", {"piece": "5"}),
    ("forms", {}),
    ("forms", {"form": "3"}),
    ("compare", {}),
    ("batches", {}),
    ("vibration", {}),
    ("plan", {}),
    ("second_opinion", {}),
    ("records", {}),
    ("guide", {}),
)
VERBS = {
    "track": (),
    "vibration": (
        *("--form-type", "trough", "--method", "table"),
        *("--target-low", "0", "--target-high", "0.6"),
    ),
    "compare": ("--by", "joint_sealing"),
}


def table_of(pieces):
    """Return a table of so many pieces as CSV, the same every time."""
    rng = np.random.default_rng(SEED)
    pours = -(-pieces // A_POUR)
    # The forms go round by pour, so that each is cast again every few weeks.
    form = (np.arange(pours)[:, None] * A_POUR + np.arange(A_POUR)).ravel()[:pieces]
    form %= FORMS
    pour = np.arange(pieces) // A_POUR
    seconds = rng.choice([20, 30, 45, 60], pours)[pour]
    sealing = rng.integers(len(SEALINGS), size=pieces)
    agent = rng.integers(len(AGENTS), size=pours)[pour]
    level = rng.normal(0, 0.15, pours)[pour] + rng.normal(0, 0.25, pieces)
    share = 0.9 * np.exp(level - 0.006 * seconds + 0.25 * (sealing == 2))
    count = rng.poisson(60 * share)
    text = io.StringIO()
    lines = csv.writer(text)
    lines.writerow(
        (
            *("piece", "pour", "cast_on", "form", "form_type", "joint_sealing"),
            *("release_agent", "vibration_method", "vibration_s"),
            *("void_area_percent", "face_area_mm2", "void_count", "stage", "light"),
            *("smallest_counted_mm", "consistency", "mix", "air_c", "note"),
        )
    )
    for n in range(pieces):
        day = FIRST_DAY + timedelta(days=int(pour[n]) // 12)
        lines.writerow(
            (
                *(f"P-{n:06d}", f"C-{pour[n]:05d}", day.isoformat()),
                *(f"F-{form[n]:03d}", TYPES[form[n] % len(TYPES)]),
                *(SEALINGS[sealing[n]], AGENTS[agent[n]], "table", int(seconds[n])),
                *(f"{share[n]:.4f}", 120_000, int(count[n]), "as_struck", "raking"),
                *(1.0, "plastic", f"mix {pour[n] % 5}", 18, ""),
            )
        )
    return text.getvalue().encode()


def processor_s():
    """Return the processor's seconds so far, those of commands that ended included."""
    ended = resource.getrusage(resource.RUSAGE_CHILDREN)
    return time.process_time() + ended.ru_utime + ended.ru_stime


def seconds_of(work):
    """Return the clock's and the processor's seconds of a piece of work, its result."""
    begun, spent = time.perf_counter(), processor_s()
    given = work()
    return np.array([time.perf_counter() - begun, processor_s() - spent]), given


def verb(name, folder):
    """Run a verb of the command line on a log."""
    command = [sys.executable, "-m", "analysis", name, "--log", str(folder)]
    subprocess.run(
        [*command, *VERBS[name]], cwd=ROOT, check=True, stdout=subprocess.DEVNULL
    )


def made(asked, folder):
    """Make the log; return the seconds of its steps."""
    data = table_of(asked.pieces)
    log = open_log(folder)
    preview_s, preview = seconds_of(lambda: records.preview_import(log, data))
    save_s, _ = seconds_of(
        lambda: records.import_pieces(log, preview, save_token="large log")
    )
    found = {
        "import": preview_s + save_s,
        "of it reading and checking": preview_s,
        "of it writing": save_s,
    }
    if asked.readings_per_piece:
        each = {"per_piece": asked.readings_per_piece, "voids": asked.voids_per_reading}
        found["readings written"], _ = seconds_of(lambda: fill(log, **each, seed=SEED))
    return found


def size_of(log):
    """Say what is in the log and what it takes on disk."""
    counted = (sa.func.count(), sa.func.sum(VOID_PACK.c.counted))
    query = sa.select(*counted, sa.func.sum(VOID_PACK.c.rejected))
    with reading(log) as connection:
        readings, voids, rejected = connection.execute(query).one()
    size = sum(path.stat().st_size for path in log.file.parent.glob("log.sqlite*"))
    return (
        f"{readings:,} readings, {voids or 0:,} voids and {rejected or 0:,} candidates "
        f"turned down; {size / 1e9:.2f} GB on disk."
    )


def screens(folder):
    """Return the seconds of each screen drawn a second time, the first time too."""
    os.environ["STRUCKFACE_DATA"] = str(folder)
    logging.disable(logging.WARNING)
    found = {}
    for name, query in SCREENS:
        app = AppTest.from_file(str(ROOT / "ui" / "app.py"), default_timeout=1800)
        for key, value in query.items():
            app.query_params[key] = value
        if name != "home":  # from where every session begins
            app.run()
            app.switch_page(f"{name}/page.py")
        times = []
        for _ in range(2):
            seconds, app = seconds_of(app.run)
            times.append(seconds)
            if app.exception:
                raise SystemExit(str([one.value for one in app.exception]))
        said = " of one" if query else ""
        sys.stderr.write(f"{name}{said}: {times}\n")
        found[f"screen {name}{said}, first"], found[f"screen {name}{said}"] = times
    return found


def measured(asked, folder):
    """Return the seconds of each step on a log of so many pieces."""
    pieces = asked.pieces
    is_new = not (Path(folder) / "log.sqlite").exists()
    found = made(asked, folder) if is_new else {}
    log = open_log(folder)
    read_s, table = seconds_of(lambda: table_from_log(log))
    if len(table) != pieces:
        msg = f"{pieces} pieces went in, {len(table)} came out"
        raise SystemExit(msg)
    found["first read"] = read_s
    for name, ask in (
        ("first page of the library", LibraryAsk()),
        ("search of two words", LibraryAsk(text="trough wax")),
    ):
        library_page(log, ask)  # after the first
        found[name], _ = seconds_of(lambda ask=ask: library_page(log, ask))
    for name in VERBS:
        sys.stderr.write(f"{found}\n")  # what is known should a long one be stopped
        found[name], _ = seconds_of(lambda name=name: verb(name, folder))
    if asked.screens:
        found |= screens(folder)
    return found, size_of(log)


def verdict(name, seconds, pieces):
    """Say whether a target is met, where the size is the one it is stated for."""
    _, seconds = seconds
    is_again = name.startswith("screen ") and not name.endswith(", first")
    target = SCREEN_S if is_again else TARGETS.get(name)
    if target is None:
        return ""
    if pieces < STATED:
        return f"{target:g} s at {STATED:,} pieces"
    return f"{target:g} s: {'met' if seconds <= target else 'NOT met'}"


def main():
    """Print a table."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--pieces", type=int, default=10_000)
    parser.add_argument("--readings-per-piece", type=int, default=0)
    parser.add_argument("--voids-per-reading", type=int, default=100)
    parser.add_argument("--log", type=Path, help="a folder that is kept")
    parser.add_argument("--screens", action="store_true")
    parser.add_argument("--out", type=Path)
    asked = parser.parse_args()
    compileall.compile_dir(ROOT / "analysis", quiet=1)
    with tempfile.TemporaryDirectory() as folder:
        found, size = measured(asked, asked.log or Path(folder))
    load = ", ".join(f"{one:.1f}" for one in os.getloadavg())
    said = (
        f"`python tests/benchmarks/{' '.join([Path(sys.argv[0]).name, *sys.argv[1:]])}`"
        f", on SQLite; {size} "
        f"{os.cpu_count()} cores shared with other work, mean load at the end (1, 5, "
        f"15 minutes) {load}."
    )
    lines = [
        "# A large log",
        "",
        said,
        "",
        "| step | s | s of the processor | target |",
        "|---|---|---|---|",
    ]
    lines += [
        f"| {name} | {seconds[0]:.2f} | {seconds[1]:.2f} "
        f"| {verdict(name, seconds, asked.pieces)} |"
        for name, seconds in found.items()
    ]
    text = "\n".join(lines) + "\n"
    if asked.out is not None:
        asked.out.write_text(text, encoding="utf-8")
    sys.stdout.write(text)


if __name__ == "__main__":
    main()
