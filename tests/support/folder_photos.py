"""A folder of small photos, each of a piece of its own."""

from __future__ import annotations

import io
import random
import shutil
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
from PIL import Image

from analysis.services.folders.hands import Hands
from analysis.services.folders.run import measure_folder
from analysis.services.folders.side_car import read_side_car
from analysis.services.folders.wish import FolderWish
from analysis.services.log import list_readings, load_reading, open_log
from analysis.storage.engine import locate
from analysis.storage.packing import reading_values
from analysis.storage.void_packs import packed
from tests.support.cast_pieces import filled
from tests.support.crowd import context

SIZE = (90, 120)


def small_photo(seed, size=SIZE):
    """Draw a grey face with a few dark discs, as PNG."""
    rng = np.random.default_rng(seed)
    grey = rng.normal(150, 3, size)
    y, x = np.mgrid[: size[0], : size[1]]
    for row, col in rng.uniform(0.15, 0.85, (3, 2)) * size:
        grey[np.hypot(y - row, x - col) < 4] = 60
    pixels = np.repeat(grey.clip(0, 255).astype(np.uint8)[..., None], 3, axis=2)
    file = io.BytesIO()
    Image.fromarray(pixels).save(file, "PNG")
    return file.getvalue()


def folder_of(place, count, *, size=SIZE):
    """Write so many photos, photo n in the folder of piece n."""
    for n in range(count):
        folder = Path(place) / f"{n:03}"
        folder.mkdir(parents=True, exist_ok=True)
        if not (folder / "face.png").exists():
            (folder / "face.png").write_bytes(small_photo(n, size))
    return Path(place)


def log_for(place, count):
    """Return a log with pieces 000, 001, ..."""
    log = open_log(place)
    filled(log, count)
    return log


def copy_of(made, place):
    """Return a copy of a log in a folder of its own."""
    shutil.copytree(made, place)
    return locate(place)


def in_this_process(count=1):
    """Return hands that need no other process."""
    return Hands(begin=lambda: ThreadPoolExecutor(count), count=count)


def wish(text="", **more):
    """Return a wish with the side-car of a text."""
    if text:
        more["side_car"] = read_side_car(text.encode())
    return replace(FolderWish(), **more)


def run(log, place, wanted=None, *, hands=None, **more):
    """Measure a folder here; return its counts and how it ended."""
    hands = hands or in_this_process()
    done = measure_folder(log, str(place), wanted, hands=hands, **more)
    return (done.photos, done.measured, done.skipped, done.failed), done


def measured_into(place, log_folder, hands=None):
    """Measure a folder; for a process that is to be killed."""
    measure_folder(locate(log_folder), str(place), hands=hands or in_this_process())


def kill_during_run(place, log_folder, *, seed, longest_s):
    """Kill a measuring process at a random moment; tell whether it was still at it."""
    process = context().Process(
        target=measured_into, args=(str(place), str(log_folder))
    )
    process.start()
    time.sleep(random.Random(seed).uniform(0, longest_s))
    process.kill()
    process.join()
    return process.exitcode != 0


def readings_by_photo(log):
    """Return every reading as plain values without its times, by its photo's name."""
    found = {}
    for line in list_readings(log):
        reading = load_reading(log, line.id)
        values = reading_values(reading)
        del values["measured_at"]
        values["second_light"] = None
        rows = packed(reading.voids, reading.rejected)
        assert line.photo_sha256 not in found
        found[line.photo_sha256] = repr((line.piece_id, line.use, values, rows))
    return found
