"""Other processes that save: to be killed, or to save all at once."""

import multiprocessing
import random
import sqlite3
import time
from datetime import date

import numpy as np
import sqlalchemy as sa

from analysis.model.log import Piece, Pour
from analysis.storage.engine import reading as reading_from
from analysis.storage.photo_store import digest
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading, save_reading
from analysis.storage.records import add
from analysis.storage.store import open_log
from analysis.storage.tables import PHOTO, READING, SAVE, VOID_PACK
from tests.support.stored_readings import photo_of, reading_of

VOIDS = 40


def context():
    """Start processes clean of this one's threads."""
    methods = multiprocessing.get_all_start_methods()
    made = multiprocessing.get_context(
        "forkserver" if "forkserver" in methods else "spawn"
    )
    if "forkserver" in methods:
        made.set_forkserver_preload(
            ["tests.support.crowd", "tests.support.folder_photos"]
        )
    return made


def new_log(folder):
    """Make a log with one piece to hang readings on."""
    log = open_log(folder)
    pour = add(log, Pour(name="1", cast_on=date(2026, 1, 1)), save_token="pour")
    return log, add(log, Piece(name="1", pour_id=pour.id), save_token="piece").id


def photo_for(token):
    """Return 200 kB that nobody else saves."""
    seed = int.from_bytes(digest(token.encode())[:8].encode(), "little")
    return np.random.default_rng(seed).bytes(200_000)


def save_one(log, piece_id, token):
    """Save one reading of one photo."""
    data = photo_for(token)
    return save_reading(
        log,
        photo_bytes=data,
        photo=photo_of(data),
        reading=reading_of(data, n=VOIDS),
        piece_id=piece_id,
        save_token=token,
    )


def save_many(log, piece_id, name, count, done):
    """Save `count` readings; `done` counts the saves that came back."""
    for number in range(count):
        save_one(log, piece_id, f"{name}-{number}")
        with done.get_lock():
            done.value += 1


def all_at_once(log, piece_id, *, processes, saves):
    """Let several processes save; return exit codes and the saves that came back."""
    made = context()
    done = made.Value("i", 0)
    crowd = [
        made.Process(target=save_many, args=(log, piece_id, f"p{n}", saves, done))
        for n in range(processes)
    ]
    for process in crowd:
        process.start()
    for process in crowd:
        process.join()
    return [process.exitcode for process in crowd], done.value


def kill_during_saves(log, piece_id, *, name, seed):
    """Kill a saving process at a random moment; return the saves that came back."""
    made = context()
    done = made.Value("i", 0)
    process = made.Process(target=save_many, args=(log, piece_id, name, 10_000, done))
    process.start()
    while done.value == 0 and process.is_alive():
        time.sleep(0.001)
    time.sleep(random.Random(seed).uniform(0, 0.15))
    process.kill()
    process.join()
    assert process.exitcode != 0
    return done.value


def faults(log):
    """Return what is wrong with a log that must be whole; empty when nothing is."""
    found = []
    with sqlite3.connect(log.file) as raw:
        found += [row[0] for row in raw.execute("PRAGMA integrity_check")]
        found += [str(row) for row in raw.execute("PRAGMA foreign_key_check")]
    raw.close()
    found.remove("ok")
    with reading_from(log) as connection:
        photos = set(connection.scalars(sa.select(PHOTO.c.sha256)))
        voids = connection.execute(
            sa.select(
                READING.c.id, VOID_PACK.c.counted + VOID_PACK.c.rejected
            ).outerjoin(VOID_PACK, VOID_PACK.c.reading_id == READING.c.id)
        ).all()
        tokens = connection.scalar(
            sa.select(sa.func.count())
            .select_from(SAVE)
            .where(SAVE.c.record_kind == "reading")
        )
    files = [path for path in log.photo_folder.rglob("*") if path.is_file()]
    if {path.name for path in files} != photos:
        found.append(f"{len(files)} files for {len(photos)} photos")
    found += [
        f"{path.name} changed"
        for path in files
        if digest(path.read_bytes()) != path.name
    ]
    found += [f"reading {key} lacks voids" for key, n in voids if n != VOIDS + 3]
    if not len(voids) == tokens == len(photos):
        found.append(f"{len(voids)} readings, {tokens} tokens, {len(photos)} photos")
    for line in list_readings(log)[:3]:
        load_reading(log, line.id)
    return found
