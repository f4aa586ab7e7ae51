"""Claims of work: one holder at a time, and none for ever."""

from __future__ import annotations

import os
import socket
import subprocess
import sys
import threading
from datetime import timedelta
from pathlib import Path

import pytest
import sqlalchemy as sa

from analysis.errors import RecordError
from analysis.storage import leases
from analysis.storage.beside import backup_folder, part_of, process_is_gone
from analysis.storage.engine import engine, reading, writing
from analysis.storage.leases import claimed
from analysis.storage.saving import now
from analysis.storage.store import open_log
from analysis.storage.tables import LEASE


def held(log):
    with reading(log) as connection:
        return {row.work: row.holder for row in connection.execute(sa.select(LEASE))}


def left_behind(log, holder, until):
    with writing(log) as connection:
        row = {"work": "w", "holder": holder, "until": until}
        connection.execute(sa.insert(LEASE).values(**row))


def test_work_has_one_holder_at_a_time(log):
    with claimed(log, "w", holder="a") as first, claimed(log, "w", holder="b") as other:
        assert (first, other) == (True, False)
        assert held(log) == {"w": "a"}
        with claimed(log, "v", holder="b") as another:
            assert another
    with claimed(log, "w", holder="b") as after:
        assert after
    assert held(log) == {}


def test_of_many_at_once_one_has_it(log):
    begin, end, got = threading.Barrier(6), threading.Barrier(6), []

    def tries(name):
        begin.wait()
        with claimed(log, "w", holder=name) as mine:
            got.append(mine)
            end.wait()

    crowd = [threading.Thread(target=tries, args=(f"h{n}",)) for n in range(6)]
    for one in crowd:
        one.start()
    for one in crowd:
        one.join()
    assert sorted(got) == [False] * 5 + [True]


@pytest.mark.parametrize(
    ("ahead_s", "free"),
    [(30, False), (-1, True), (3600, True)],  # the last: the clock was set back since
)
def test_claim_runs_out(log, ahead_s, free):
    left_behind(log, "elsewhere/1/x", now() + timedelta(seconds=ahead_s))
    with claimed(log, "w") as mine:
        assert mine is free


def test_claim_of_a_killed_process_of_this_machine_is_free(log):
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    if os.name != "posix":
        pytest.skip("Only POSIX systems can be asked for a process without harm.")
    left_behind(
        log, f"{socket.gethostname()}/{gone.pid}/x", now() + timedelta(seconds=9)
    )
    with claimed(log, "w") as mine:
        assert mine


def test_claim_of_a_living_process_stands(log):
    mine = f"{socket.gethostname()}/{os.getpid()}/x"
    left_behind(log, mine, now() + timedelta(seconds=9))
    with claimed(log, "w", holder="b") as other:
        assert not other


def test_claim_is_renewed_while_the_work_goes_on(log):
    renewed = threading.Event()
    sa.event.listen(
        engine(log.url),
        "after_execute",
        lambda _c, statement, *_: isinstance(statement, sa.Update) and renewed.set(),
    )
    with claimed(log, "w", holder="a", lease_s=0.06):
        assert renewed.wait(30)


def test_log_that_is_locked_refuses_the_claim_in_words(log, monkeypatch):
    monkeypatch.setattr(leases, "writing", _refusing)
    with pytest.raises(RecordError, match="in use"), claimed(log, "w"):
        pass


def _refusing(_log):
    msg = "The log is in use by someone else: try again."
    raise RecordError(msg)


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="Linux tells it")
def test_a_killed_process_that_nobody_waited_for_is_gone():
    process = subprocess.Popen(["sleep", "60"])
    try:
        assert not process_is_gone(process.pid)
        process.kill()
        # Ended, but not waited for: its number is still taken.
        os.waitid(os.P_PID, process.pid, os.WEXITED | os.WNOWAIT)
        assert process_is_gone(process.pid)
    finally:
        process.wait()
    assert process_is_gone(process.pid)


def test_a_backup_that_was_cut_off_is_removed_at_the_next_start(tmp_path):
    log = open_log(tmp_path)
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    folder = backup_folder(log)
    folder.mkdir(exist_ok=True)
    left = folder / f".at-work-{ended.pid}-whole-2026-01-01-000000.zip.part"
    mine = part_of(folder / "whole-2026-01-02-000000.zip")
    left.write_bytes(b"PK")
    mine.write_bytes(b"PK")

    open_log(tmp_path)

    assert not left.exists()
    assert mine.exists()
