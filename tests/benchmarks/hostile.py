"""Throw damaged, crafted and oversized input at the program; count what it gets wrong.

Run: python tests/benchmarks/hostile.py [--photos 10000] [--sound 1000]
     [--unchecked 1000] [--tables 5000] [--backups 1000] [--logs 1000] [--kills 200]
     [--out FILE]
     [--state FILE --minutes 8]
With a state the run stops when its minutes are up, and goes on there the next time;
the table tells what was tried so far.
Seeds are fixed, one a case. A fault is an internal error, a photo that is shown
otherwise than it was without a word, a refused restore that leaves another log than
before, a save that came back and is not there, or a sound photo that is doubted.
Target: 0 faults, and of `sound` under 2 in 1,000; of `unchecked` (lossy WebP, TIFF
packed by LZW) it cannot be met.
"""

import argparse
import io
import json
import random
import shutil
import sqlite3
import sys
import tempfile
import time
import warnings
import zipfile
from collections import Counter
from contextlib import closing
from pathlib import Path

import numpy as np
from PIL import Image

sys.path.insert(0, str(Path(__file__).parents[2]))

from analysis.errors import StruckfaceError
from analysis.imaging.photo import read_photo
from analysis.services.records import preview_import
from analysis.storage.backup import back_up
from analysis.storage.engine import locate
from analysis.storage.reading_lines import list_readings
from analysis.storage.restoring import begin_anew, last_good, restore
from analysis.storage.store import open_log
from tests.benchmarks.hostile_work import WORKS, killed_at
from tests.storage.test_unreadable import read_all
from tests.support.crowd import new_log, save_one

SECTOR = 512
# A pixel is another than it was from this many grey levels on; of so few, none is told.
OTHER_LEVELS, OTHER_SHARE = 8, 0.01
CHECKED = (
    ("JPEG", {"quality": 90}),
    ("JPEG", {"quality": 60, "progressive": True}),
    ("JPEG", {"quality": 95, "restart_marker_rows": 4}),
    ("PNG", {}),
)
# One wrong bit of these is another picture, and nothing in the file says so.
UNCHECKED = (
    ("WEBP", {"quality": 80}),
    ("TIFF", {"compression": "tiff_lzw"}),
)


def struck(data, rng):
    """Damage bytes as disks, cables and cut copies do."""
    data = bytearray(data)
    kind = rng.choice(("bit", "zeros", "ones", "noise", "moved", "cut", "byte"))
    at = rng.randrange(len(data))
    first = min(at // SECTOR * SECTOR, max(len(data) - SECTOR, 0))
    if kind == "bit":
        data[at] ^= 1 << rng.randrange(8)
    elif kind == "byte":
        data[at] = rng.randrange(256)
    elif kind == "cut":
        del data[at:]
    else:
        other = rng.randrange(max(len(data) - SECTOR, 1))
        filled = {
            "zeros": bytes(SECTOR),
            "ones": b"\xff" * SECTOR,
            "noise": rng.randbytes(SECTOR),
            "moved": bytes(data[other : other + SECTOR]),
        }[kind]
        data[first : first + SECTOR] = filled[: len(data) - first]
    return kind, bytes(data)


def drawn_photo(seed):
    """Draw grey concrete with grain, light from one side and some pits."""
    rng = np.random.default_rng(seed)
    rows, cols = 360, 480
    row, col = np.mgrid[:rows, :cols]
    grey = 150 + (col - cols / 2) / 25 + rng.normal(0, 5, (rows, cols))
    for r, c in rng.uniform(20, 340, (12, 2)):
        grey[np.hypot(row - r, col - c) < rng.uniform(2, 7)] -= 70
    pixels = np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)
    return Image.fromarray(pixels)


def photos(seeds):
    """Damage photos whose files carry something to tell it by."""
    return _photos(seeds, CHECKED)


def unchecked(seeds):
    """Damage photos whose files do not: only what cannot be decoded is refused."""
    return _photos(seeds, UNCHECKED)


def _photos(seeds, formats):
    """Damage photos; those shown otherwise without a word are faults."""
    found, wrong = Counter(), []
    sources = []
    for number, (file_format, options) in enumerate(formats):
        file = io.BytesIO()
        drawn_photo(number).save(file, file_format, **options)
        whole = read_photo(file.getvalue())
        sources.append((file_format, file.getvalue(), whole.pixels.astype(np.int16)))
    for number in seeds:
        rng = random.Random(number)
        file_format, data, whole = sources[number % len(sources)]
        kind, broken = struck(data, rng)
        try:
            photo = read_photo(broken)
        except StruckfaceError:
            found["refused"] += 1
            continue
        except Exception as error:  # noqa: BLE001  counted
            wrong.append(f"photo {number}, {file_format}, {kind}: {error!r}")
            continue
        other = (
            photo.pixels.shape != whole.shape
            or (np.abs(photo.pixels - whole).max(axis=2) > OTHER_LEVELS).mean()
            > OTHER_SHARE
        )
        if other and not photo.flags:
            wrong.append(f"photo {number}, {file_format}, {kind}: shown otherwise")
        found["doubted" if photo.flags else "taken"] += 1
    return found, wrong


ROOT = Path(__file__).parents[2]
QUALITIES = (30, 40, 50, 60, 70, 75, 80, 85, 90, 92, 95, 98)


def sound(seeds):
    """Cut, turn, shade and store sound photos anew; one that is doubted is a fault."""
    found, wrong = Counter(), []
    paths = sorted(ROOT.glob("sample_images/*.jpg"))
    paths += sorted(ROOT.glob("../shared/real_faces/*.[jp][pn]g"))  # where it is there
    paths = [path for path in paths if not path.stem.endswith(("_mask", "_ignore"))]
    for number in seeds:
        rng = np.random.default_rng(number)
        path = paths[number % len(paths)]
        with Image.open(path) as image:
            pixels = np.asarray(image.convert("RGB"))
        pixels = np.rot90(pixels, rng.integers(4))
        side = 900
        top, left = (rng.integers(max(size - side, 1)) for size in pixels.shape[:2])
        top, left = top + rng.integers(16), left + rng.integers(16)
        cut = pixels[top : top + side, left : left + side]
        light = rng.choice(("as it is", "corners", "flash", "shadow"))
        file = io.BytesIO()
        shaded = (cut * _lit(cut.shape[:2], light, rng)).clip(0, 255).astype(np.uint8)
        options = {
            "quality": int(rng.choice(QUALITIES)),
            "subsampling": int(rng.choice((0, 1, 2, 2))),
            "progressive": bool(rng.integers(2)),
        }
        Image.fromarray(shaded).save(file, "JPEG", **options)
        photo = read_photo(file.getvalue())
        if photo.flags:
            wrong.append(f"sound {number}, {path.name}, {light}, {options}: doubted")
        found["doubted" if photo.flags else "taken"] += 1
    return found, wrong


def _lit(shape, light, rng):
    """Return how much light leaves of a photo: dark corners, a flash, a shadow."""
    row, col = np.mgrid[-1 : 1 : shape[0] * 1j, -1 : 1 : shape[1] * 1j]
    at, slant = rng.uniform(-0.6, 0.6), rng.choice((0, 0.002, 0.01, 0.05))
    part = {
        "as it is": np.ones(shape),
        "corners": 1 - (row**2 + col**2) / 8,
        "flash": 0.7 + 0.6 * np.exp(-((row - at) ** 2 + col**2) / 0.36),
        # Its edge is 2 px wide and more: nothing a lens draws is sharper.
        "shadow": 0.9
        + 0.1 * np.tanh((at - row - slant * col) * shape[0] / rng.uniform(4, 16)),
    }[light]
    return part[..., None]


CELLS = (
    "7", "007", "", "-1", "1,5", "1.200", "1e309", "nan", "=1+1", "none", "12:30",
    "31.02.2026", "20260102", "2026-W05-1", "9" * 400, "\x00", "\ufeff", "<b>", "'",
    '"', "\u202e", "2026-03-31", "0x10", "١٢", "½", "1 000", "TRUE", "#REF!", "../x",
)  # fmt: skip


def tables(seeds):
    """Mutate tables of pieces; only an internal error can be told to be wrong."""
    found, wrong = Counter(), []
    head = ["piece", "pour", "cast_on", "form", "void_area_percent", "vibration_s"]
    with tempfile.TemporaryDirectory() as folder:
        log = open_log(folder)
        for number in seeds:
            rng = random.Random(number)
            rows = [list(head)]
            rows += [
                [str(n), "12", "2026-03-31", "A", "0,8", "20"] for n in range(1, 6)
            ]
            for _ in range(rng.randint(1, 4)):
                rng.choice(rows)[rng.randrange(6)] = rng.choice(CELLS)
            mark = rng.choice(";,\t|")
            text = rng.choice(("\n", "\r\n", "\r")).join(map(mark.join, rows))
            data = text.encode(rng.choice(("utf-8", "utf-16", "latin-1")), "replace")
            if rng.random() < 0.3:
                data = struck(data, rng)[1]
            try:
                preview = preview_import(log, data)
            except StruckfaceError:
                found["refused"] += 1
            except Exception as error:  # noqa: BLE001  counted
                wrong.append(f"table {number}: {error!r}")
            else:
                found["doubted" if preview.problems else "taken"] += 1
    return found, wrong


def backups(seeds):
    """Restore damaged and crafted backups over a log that works."""
    found, wrong = Counter(), []
    with tempfile.TemporaryDirectory() as folder:
        log, piece_id = new_log(Path(folder) / "log")
        save_one(log, piece_id, "a")
        whole = back_up(log, Path(folder) / "whole.zip").read_bytes()
        save_one(log, piece_id, "b")
        before, restored = list_readings(log), list_readings(log)[1:]
        kept = {path.name: path.read_bytes() for path in log.photo_folder.glob("*/*")}
        path = Path(folder) / "struck.zip"
        for number in seeds:
            path.write_bytes(crafted(whole, random.Random(number)))
            try:
                restore(path, log.file.parent, replace=True)
            except StruckfaceError:
                found["refused"] += 1
                wanted = before
            except Exception as error:  # noqa: BLE001  counted
                wrong.append(f"backup {number}: {error!r}")
                wanted = None
            else:
                found["taken"] += 1
                wanted = restored
            now = list_readings(open_log(log.file.parent))
            files = {one.name: one.read_bytes() for one in log.photo_folder.glob("*/*")}
            if files != kept or (wanted is not None and now != wanted):
                wrong.append(f"backup {number}: another log than it should be")
            before = now
            for aside in log.file.parent.glob("replaced-*"):
                aside.unlink()
    return found, wrong


def crafted(data, rng):
    """Change a zip's bytes, or what is in it."""
    if rng.random() < 0.5:
        return struck(data, rng)[1]
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        entries = {name: archive.read(name) for name in archive.namelist()}
    name = rng.choice(sorted(entries))
    kind = rng.choice(("struck", "gone", "empty", "renamed", "added", "swapped"))
    if kind == "struck":
        entries[name] = struck(entries[name], rng)[1]
    elif kind == "gone":
        del entries[name]
    elif kind == "empty":
        entries[name] = b""
    elif kind == "renamed":
        entries[rng.choice(("../x", "/x", "photos/x", "LOST"))] = entries.pop(name)
    elif kind == "added":
        entries[rng.choice(("evil.txt", "LOST", f"photos/00/{'0' * 64}"))] = b"x"
    else:
        entries[name] = entries[rng.choice(sorted(entries))]
    file = io.BytesIO()
    with zipfile.ZipFile(file, "w") as archive, warnings.catch_warnings():
        warnings.simplefilter("ignore")
        for one, content in entries.items():
            archive.writestr(one, content)
    return file.getvalue()


def logs(seeds):
    """Damage the database; each is read, or leads to the rescue, which works."""
    found, wrong = Counter(), []
    with tempfile.TemporaryDirectory() as folder:
        log, piece_id = new_log(Path(folder) / "log")
        for token in "ab":
            save_one(log, piece_id, token)
        back_up(log, log.file.parent / "backups" / "log-2026-01-01.zip", photos=False)
        with closing(sqlite3.connect(log.file)) as raw:
            raw.execute("PRAGMA journal_mode=DELETE")
        whole = log.file.read_bytes()
        for number in seeds:
            place = Path(folder) / f"log {number}"
            shutil.copytree(log.file.parent, place)
            (place / "log.sqlite").write_bytes(struck(whole, random.Random(number))[1])
            try:
                read_all(place)
                found["taken"] += 1
            except StruckfaceError:
                found["refused"] += 1
                _rescued(place, number, wrong)
            except Exception as error:  # noqa: BLE001  counted
                wrong.append(f"log {number}: {error!r}")
            shutil.rmtree(place)
    return found, wrong


def _rescued(place, number, wrong):
    """Go the way back that the rescue page offers."""
    try:
        begun = locate(place)
        good = last_good(begun)
        restored = (
            begin_anew(place) if good is None else restore(good, place, replace=True)
        )
        if len(list_readings(restored)) != (0 if good is None else 2):
            wrong.append(f"log {number}: the rescue lost readings")
    except Exception as error:  # noqa: BLE001  counted
        wrong.append(f"log {number}: no rescue, {error!r}")


def kills(seeds):
    """Kill a process at random moments of its work; what came back must be there."""
    found, wrong = Counter(), []
    works = sorted(WORKS)
    for number in seeds:
        work = works[number % len(works)]
        done, faults = killed_at(work, seed=number)
        found["taken"] += done
        wrong += [f"kill {number}, {work}: {fault}" for fault in faults]
    return found, wrong


KINDS = (
    ("photos", photos, 10_000),
    ("sound", sound, 1_000),
    ("unchecked", unchecked, 1_000),
    ("tables", tables, 5_000),
    ("backups", backups, 1_000),
    ("logs", logs, 1_000),
    ("kills", kills, 200),
)


# Cases between two looks at the clock; a kind is set up anew for each lot.
LOT = {
    "photos": 200,
    "sound": 50,
    "unchecked": 100,
    "tables": 100,
    "backups": 20,
    "logs": 20,
}


def tried_on(state, asked, until):
    """Try what is left of what was asked, lot by lot, until the clock says so.

    Yields the kind after each lot; `state` holds tried, s, found and wrong a kind.
    """
    for name, work, _ in KINDS:
        kept = state.setdefault(name, {"tried": 0, "s": 0.0, "found": {}, "wrong": []})
        while kept["tried"] < asked[name] and time.monotonic() < until:
            start = time.monotonic()
            end = min(kept["tried"] + LOT.get(name, 1), asked[name])
            found, wrong = work(range(kept["tried"], end))
            kept["tried"], kept["wrong"] = end, kept["wrong"] + wrong
            kept["found"] = dict(Counter(kept["found"]) + found)
            kept["s"] += time.monotonic() - start
            yield name


def table(state):
    """Write what was tried as a table, with every fault below it."""
    given = " ".join(f"--{name} {kept['tried']}" for name, kept in state.items())
    lines = ["# Hostile input", "", f"`python tests/benchmarks/hostile.py {given}`", ""]
    lines.append("| Input | tried | refused | doubted | taken | faults | s |")
    lines.append("|---|---|---|---|---|---|---|")
    for name, kept in state.items():
        counts = [kept["found"].get(one, 0) for one in ("refused", "doubted", "taken")]
        cells = [name, kept["tried"], *counts, len(kept["wrong"]), round(kept["s"])]
        lines.append(f"| {' | '.join(map(str, cells))} |")
    listed = [f"- {one}" for one in told(state)]
    return "\n".join([*lines, "", *listed]).rstrip() + "\n"


def told(state):
    """List the faults; those of `unchecked` would only repeat one another."""
    return [
        one
        for name, kept in state.items()
        if name != "unchecked"
        for one in kept["wrong"]
    ]


def main():
    """Print a table, or write it too."""
    parser = argparse.ArgumentParser()
    for name, _, count in KINDS:
        parser.add_argument(f"--{name}", type=int, default=count)
    parser.add_argument("--out", type=Path)
    parser.add_argument("--state", type=Path)
    parser.add_argument("--minutes", type=float, default=float("inf"))
    given = parser.parse_args()
    state = {}
    if given.state and given.state.exists():
        state = json.loads(given.state.read_text(encoding="utf-8"))
    until = time.monotonic() + given.minutes * 60
    for _ in tried_on(state, vars(given), until):
        if given.state:
            given.state.write_text(json.dumps(state), encoding="utf-8")
    text = table(state)
    sys.stdout.write(text)
    if given.out:
        given.out.write_text(text, encoding="utf-8")
    return 1 if told(state) else 0


if __name__ == "__main__":
    sys.exit(main())
