"""A restore is done or not done: whatever is refused, cut off or crafted."""

from __future__ import annotations

import hashlib
import os
import sqlite3
import subprocess
import sys
import time
import zipfile
from contextlib import closing, suppress
from pathlib import Path

import pytest

from analysis.errors import DamagedLogError, InputError, RecordError
from analysis.model.log import Piece
from analysis.storage import beside, restoring
from analysis.storage.backup import back_up, back_up_daily, backup_folder
from analysis.storage.engine import locate, reading, writing
from analysis.storage.photo_store import path_of
from analysis.storage.reading_lines import list_readings
from analysis.storage.records import list_all
from analysis.storage.restoring import begin_anew, last_good, restorable, restore
from analysis.storage.store import open_log
from tests.support.changed_zip import remade
from tests.support.crowd import faults, save_one

pytestmark = pytest.mark.of_sqlite


@pytest.fixture
def kept(log, piece_id):
    """A log with two readings."""
    for token in ("a", "b"):
        save_one(log, piece_id, token)
    return log


def state(log):
    return list_readings(log), list_all(log, Piece)


def in_database(change):
    """Return a change of a backup that runs SQL on its database and sets the sum."""

    def changed(entries):
        path = Path("/dev/shm" if Path("/dev/shm").is_dir() else ".") / f"{os.getpid()}"
        path.write_bytes(entries["log.sqlite"])
        with closing(sqlite3.connect(path)) as raw:
            raw.executescript(change)
        entries["log.sqlite"] = path.read_bytes()
        path.unlink()
        summed(entries)

    return changed


def summed(entries):
    entries["CHECKSUMS"] = "\n".join(
        f"{hashlib.sha256(data).hexdigest()}  {name}"
        for name, data in entries.items()
        if name != "CHECKSUMS"
    ).encode()


def other_photo(entries):
    name = next(name for name in entries if name.startswith("photos/"))
    entries[name] = b"other bytes"
    summed(entries)


NEWER = "UPDATE alembic_version SET version_num = '9999'"
TRIGGER = """
CREATE TRIGGER gone AFTER INSERT ON reading BEGIN DELETE FROM piece; END
"""


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (in_database(NEWER), "newer version of the program"),
        (in_database(TRIGGER), "has trigger gone, unlike any log"),
        (in_database("CREATE VIEW v AS SELECT 1"), "has view v"),
        (in_database("CREATE TABLE t (x)"), "another table t"),
        (in_database("ALTER TABLE piece ADD COLUMN x"), "another table piece"),
        (in_database("DROP TABLE draft"), "another table draft"),
        (
            in_database("UPDATE piece SET pour_id = 99"),
            "refers to one that is not there|refers to",
        ),
        (other_photo, "damaged at photos/"),
    ],
)
def test_refused_backup_leaves_a_working_log_as_it_was(kept, tmp_path, change, message):
    back_up_daily(kept)
    before = state(kept)
    photos = {one: path_of(kept, one).read_bytes() for one in _shas(kept)}
    zipped = remade(back_up(kept, tmp_path / "b.zip"), tmp_path / "c.zip", change)
    names = {path.name for path in kept.file.parent.iterdir()}
    with pytest.raises((InputError, RecordError), match=message):
        restore(zipped, kept.file.parent, replace=True)
    assert {path.name for path in kept.file.parent.iterdir()} == names
    assert state(open_log(kept.file.parent)) == before
    assert {one: path_of(kept, one).read_bytes() for one in _shas(kept)} == photos
    assert faults(kept) == []


def _shas(log):
    return [line.photo_sha256 for line in list_readings(log)]


def test_original_that_is_whole_is_never_written_anew(kept, tmp_path):
    zipped = back_up(kept, tmp_path / "b.zip")
    whole, broken = (path_of(kept, one) for one in _shas(kept))
    data, before = broken.read_bytes(), whole.stat()
    broken.write_bytes(b"x")
    restore(zipped, kept.file.parent, replace=True)
    after = whole.stat()
    assert (after.st_ino, after.st_mtime_ns) == (before.st_ino, before.st_mtime_ns)
    assert broken.read_bytes() == data


def test_what_a_restore_replaced_can_be_put_back(kept, tmp_path, piece_id):
    zipped = back_up(kept, tmp_path / "b.zip")
    save_one(kept, piece_id, "later")
    later = state(kept)
    restored = restore(zipped, kept.file.parent, replace=True)
    assert len(list_readings(restored)) == 2
    (aside,) = beside.replaced(kept)
    assert aside in restorable(kept)
    assert state(restore(aside, kept.file.parent, replace=True)) == later
    assert len(beside.replaced(kept)) == 2


def test_reader_sees_one_state_while_a_restore_goes_on(kept, tmp_path, piece_id):
    zipped = back_up(kept, tmp_path / "b.zip")
    save_one(kept, piece_id, "later")
    with reading(kept) as connection:
        count = "SELECT count(*) FROM reading"
        assert connection.exec_driver_sql(count).scalar() == 3
        restore(zipped, kept.file.parent, replace=True)
        assert connection.exec_driver_sql(count).scalar() == 3
    assert len(list_readings(kept)) == 2


def test_restore_during_a_save_is_refused_in_words(kept, tmp_path, monkeypatch):
    monkeypatch.setattr("analysis.storage.backup.BUSY_TIMEOUT_S", 0.1)
    zipped = back_up(kept, tmp_path / "b.zip")
    before = state(kept)
    with writing(kept), pytest.raises(RecordError, match="log is as it was"):
        restore(zipped, kept.file.parent, replace=True)
    assert state(kept) == before
    assert beside.replaced(kept) == ()


@pytest.mark.parametrize("cut", range(1, 7))
@pytest.mark.parametrize("harm", ["scribbled", "emptied", "removed"])
def test_restore_cut_between_any_two_renames_is_ended_at_the_next_start(
    kept, monkeypatch, cut, harm
):
    back_up_daily(kept)
    before, folder = state(kept), kept.file.parent
    with closing(sqlite3.connect(kept.file)) as raw:
        raw.execute("PRAGMA journal_mode=DELETE")
    if harm == "removed":
        kept.file.unlink()
    else:
        kept.file.write_bytes(b"x" * 5000 if harm == "scribbled" else b"")
    (folder / "log.sqlite-wal").write_bytes(b"stale")
    replace, done = Path.replace, []

    def cut_off(path, target):
        done.append(path)
        if len(done) == cut:
            raise KeyboardInterrupt
        return replace(path, target)

    monkeypatch.setattr(Path, "replace", cut_off)
    with suppress(KeyboardInterrupt):
        restore(last_good(kept), folder, replace=True)
    monkeypatch.undo()
    if len(done) == 1 == cut:  # before it was laid ready: nothing has happened
        with pytest.raises(DamagedLogError, match="restore the last backup"):
            open_log(folder)
        restore(last_good(kept), folder, replace=True)
    log = open_log(folder)
    assert state(log) == before
    assert faults_but_aside(log) == []


def faults_but_aside(log):
    return [one for one in faults(log) if "files for" not in one]


@pytest.mark.parametrize("harm", ["emptied", "removed"])
def test_log_that_is_gone_from_its_photos_is_not_begun_anew_unasked(kept, harm):
    for tail in ("-wal", "-shm"):
        kept.file.with_name(kept.file.name + tail).unlink(missing_ok=True)
    kept.file.unlink()
    if harm == "emptied":
        kept.file.touch()
    with pytest.raises(DamagedLogError, match="missing or empty"):
        open_log(kept.file.parent)
    log = begin_anew(kept.file.parent)
    assert list_readings(log) == ()
    assert open_log(kept.file.parent) == log


def test_log_whose_database_vanishes_while_open_is_not_replaced_by_an_empty_one(log):
    for path in log.file.parent.glob("log.sqlite*"):
        path.unlink()
    with pytest.raises(RecordError, match="cannot be opened"):
        list_readings(log)
    assert not log.file.exists()


def test_folder_that_cannot_be_written_begins_no_log(tmp_path):
    (tmp_path / "file").touch()
    with pytest.raises(RecordError, match="No log can be begun"):
        begin_anew(tmp_path / "file" / "log")


def test_last_good_state_passes_over_damaged_backups(kept):
    back_up_daily(kept)
    good = backup_folder(kept) / "whole-2026-01-01-000000.zip"
    back_up(kept, good)
    (daily,) = backup_folder(kept).glob("log-*.zip")
    daily.write_bytes(daily.read_bytes()[:5000])
    newer = remade(
        good, backup_folder(kept) / "whole-2026-01-02.zip", in_database(NEWER)
    )
    aside = kept.file.with_name("replaced-1-log.sqlite")
    aside.write_bytes(b"x" * 5000)
    no_log = backup_folder(kept) / "whole-3.zip"
    with zipfile.ZipFile(no_log, "w") as archive:
        archive.writestr("CHECKSUMS", "")
    for age, path in enumerate((no_log, aside, daily, newer, good)):
        os.utime(path, (time.time() - age, time.time() - age))
    assert restorable(kept)[0] == no_log
    assert last_good(kept) == good


def test_what_killed_work_has_left_goes_at_the_next_start(kept):
    folder, backups = kept.file.parent, backup_folder(kept)
    backups.mkdir()
    gone = subprocess.Popen([sys.executable, "-c", ""])
    gone.wait()
    left = [folder / f".at-work-{gone.pid}-x", backups / f".at-work-{gone.pid}-y"]
    former = [folder / "tmpab12cd34", backups / "log-2026-01-01.zip.part"]
    mine = [folder / f".at-work-{os.getpid()}-z", folder / "tmp of mine"]
    for path in (*left, former[0], *mine):
        path.mkdir()
        (path / "log.sqlite").write_bytes(b"x")
    former[1].touch()
    for path in former:
        os.utime(path, (1, 1))
    assert not any(path.exists() for path in left) or os.name == "posix"
    open_log(folder)
    assert not any(path.exists() for path in (*former, *left))
    assert all(path.exists() for path in mine)


def test_database_of_another_page_size_is_restored(kept, tmp_path):
    zipped = back_up(kept, tmp_path / "b.zip")
    pages = in_database("PRAGMA page_size=8192; VACUUM")
    other = remade(zipped, tmp_path / "c.zip", pages)
    before = state(kept)
    assert state(restore(other, kept.file.parent, replace=True)) == before


def test_states_to_go_back_to_are_none_on_a_server():
    assert beside.replaced(locate("postgresql+psycopg://host/name")) == ()
    assert not beside.finish_restore(locate("postgresql+psycopg://host/name"))


def test_restoring_keeps_only_photos_that_the_database_names(kept, tmp_path):
    def stray(entries):
        data = b"stray"
        name = hashlib.sha256(data).hexdigest()
        entries[f"photos/{name[:2]}/{name}"] = data
        summed(entries)

    zipped = remade(back_up(kept, tmp_path / "b.zip"), tmp_path / "c.zip", stray)
    back = restore(zipped, tmp_path / "new")
    assert faults(back) == []
    assert restoring.is_good(zipped, back)
