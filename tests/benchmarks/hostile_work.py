"""Work that a process is killed in, and what must hold afterwards."""

import random
import shutil
import tempfile
import time
from pathlib import Path

from analysis.services.records import import_pieces, list_castings, preview_import
from analysis.storage.backup import back_up
from analysis.storage.beside import process_is_gone
from analysis.storage.engine import locate, writing
from analysis.storage.migrations import current_revision, revisions, upgrade
from analysis.storage.reading_lines import list_readings
from analysis.storage.restoring import restore
from analysis.storage.store import open_log
from analysis.storage.waiting import add_waiting, list_waiting
from tests.support.crowd import context, faults, new_log, photo_for, save_many
from tests.support.stored_readings import photo_of

LONGEST_S = 0.4
LET_GO_S = 10.0


def _come_back(done):
    with done.get_lock():
        done.value += 1


def save(folder, done):
    """Save readings without end."""
    log = locate(folder)
    save_many(log, 1, "k", 10_000, done)


def queue(folder, done):
    """Give photos to the queue without end."""
    log = locate(folder)
    for number in range(10_000):
        data = photo_for(f"q{number}")
        add_waiting(log, data, photo_of(data))
        _come_back(done)


def taking_in(folder, done):
    """Import tables of twenty pieces without end."""
    log = locate(folder)
    for number in range(10_000):
        rows = [f"{number}-{n};i{number};2026-03-31" for n in range(20)]
        table = "\n".join(["piece;pour;cast_on", *rows]).encode()
        import_pieces(log, preview_import(log, table), save_token=f"i{number}")
        _come_back(done)


def backing_up(folder, done):
    """Back up without end, over the last one."""
    log = locate(folder)
    while True:
        back_up(log, Path(folder) / "backups" / "whole-2026-01-01-000000.zip")
        _come_back(done)


def restoring(folder, done):
    """Restore the same backup without end, now over a log that works, now damaged."""
    file = locate(folder).file
    while True:
        if done.value % 2:
            for tail in ("-wal", "-shm"):
                file.with_name(file.name + tail).unlink(missing_ok=True)
            file.write_bytes(b"x" * 5000)
        restore(Path(folder) / "kept.zip", folder, replace=True)
        _come_back(done)


def migrating(folder, done):
    """Bring a log of the first state up without end."""
    for number in range(10_000):
        log = locate(Path(folder) / f"old{number}")
        log.file.parent.mkdir()
        log.file.touch()
        with writing(log) as connection:
            upgrade(connection, "0001")
        open_log(log.file.parent)
        _come_back(done)


WORKS = {
    "save": save,
    "queue": queue,
    "import": taking_in,
    "backup": backing_up,
    "restore": restoring,
    "migrate": migrating,
}


def killed_at(work, *, seed):
    """Kill a process in its work; return how often it came back, and what is wrong."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name) / "log"
        log, piece_id = new_log(folder)
        assert piece_id == 1
        if work in {"backup", "restore"}:
            made = context().Value("i", 0)
            save_many(log, 1, "before", 3, made)
            back_up(log, folder / "kept.zip")
        done = _killed(WORKS[work], folder, seed)
        return done, list(_wrong(work, folder, done))


def _killed(target, folder, seed):
    made = context()
    done = made.Value("i", 0)
    process = made.Process(target=target, args=(str(folder), done))
    process.start()
    while done.value == 0 and process.is_alive():
        time.sleep(0.001)
    time.sleep(random.Random(seed).uniform(0, LONGEST_S))
    process.kill()
    process.join()
    # Its parent, the fork server, may take a moment to let it go.
    end = time.monotonic() + LET_GO_S
    while not process_is_gone(process.pid) and time.monotonic() < end:
        time.sleep(0.01)
    return done.value


def _wrong(work, folder, done):
    """Yield what does not hold once the log is opened again."""
    if not done:
        yield "the work did not even begin"
        return
    if work == "migrate":
        yield from _half_migrated(folder)
        return
    if work == "restore":
        shutil.rmtree(folder / "backups", ignore_errors=True)
    log = _opened(work, folder)
    # Photos of the queue have no reading; what restores put aside is no photo.
    usual = ("files for", "tokens") if work in {"queue", "import"} else ()
    yield from (one for one in faults(log) if not any(word in one for word in usual))
    left = [one.name for one in folder.rglob(".at-work-*")]
    if left:
        yield f"left behind: {left}"
    counted = {
        "save": lambda: len(list_readings(log)) >= done,
        "queue": lambda: len(list_waiting(log)) >= done,
        "import": lambda: len(list_castings(log)) in {20 * done + 1, 20 * done + 21},
        "backup": lambda: _restored(folder) == 3,
        "restore": lambda: len(list_readings(log)) == 3,
    }
    if not counted[work]():
        yield f"{done} came back, and are not there"


def _opened(work, folder):
    """Open the log; after a kill while it was scribbled over, go back first."""
    file = locate(folder).file
    if work == "restore" and file.exists() and file.read_bytes()[:9] == b"x" * 9:
        return restore(folder / "kept.zip", folder, replace=True)
    is_gone = not file.exists() or not file.stat().st_size
    # Killed while the test itself wrote it, unless one lies ready.
    if work == "restore" and is_gone and not [*folder.glob(".restored-*")]:
        return restore(folder / "kept.zip", folder, replace=True)
    return open_log(folder)


def _half_migrated(folder):
    for path in sorted(folder.glob("old*")):
        log = open_log(path)
        with writing(log) as connection:
            if current_revision(connection) != revisions()[-1]:
                yield f"{path.name} is half migrated"


def _restored(folder):
    back = restore(
        folder / "backups" / "whole-2026-01-01-000000.zip", folder.parent / "back"
    )
    return len(list_readings(back))
