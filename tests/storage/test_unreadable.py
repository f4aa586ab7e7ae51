"""Damaged logs lead to the rescue; logs that cannot be written are open to read."""

from __future__ import annotations

import random
import shutil
import sqlite3
from contextlib import closing, suppress
from dataclasses import replace
from datetime import timedelta

import pytest

from analysis.errors import (
    DamagedLogError,
    NoWritingError,
    RecordError,
    StruckfaceError,
)
from analysis.model.log import Piece, Pour
from analysis.storage import engine as engine_room
from analysis.storage.backup import back_up
from analysis.storage.castings import list_castings
from analysis.storage.engine import writing
from analysis.storage.piece_table import piece_table
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading, save_reading
from analysis.storage.records import history, list_all
from analysis.storage.restoring import last_good, restore
from analysis.storage.store import open_log
from analysis.storage.waiting import list_waiting
from tests.support.crowd import photo_for, save_one
from tests.support.stored_readings import photo_of, reading_of

pytestmark = pytest.mark.of_sqlite


@pytest.fixture
def kept(log, piece_id):
    for token in ("a", "b"):
        save_one(log, piece_id, token)
    with closing(sqlite3.connect(log.file)) as raw:
        raw.execute("PRAGMA journal_mode=DELETE")
    return log


def read_all(folder):
    """Open a log and read of it what pages read."""
    log = open_log(folder)
    list_castings(log)
    for line in list_readings(log):
        load_reading(log, line.id)
    piece_table(log)
    list_waiting(log)
    for kind in (Piece, Pour):
        for one in list_all(log, kind):
            history(log, kind, one.id)


@pytest.mark.parametrize(
    ("table", "column", "value"),
    [
        ("pour", "cast_on", 7),
        ("pour", "cast_on", "2026-13-45"),
        ("pour", "created_at", 1.5),
        ("reading", "measured_at", b"\xff"),
        ("reading", "face", '{"x":'),
        ("reading", "flags", "nonsense"),
        ("reading", "library_versions", "7"),
        ("void_pack", "content", b"abc"),
        ("photo", "name", None),
    ],
)
def test_value_that_no_column_holds_leads_to_the_rescue(kept, table, column, value):
    with closing(sqlite3.connect(kept.file)) as raw, raw:
        raw.execute("PRAGMA ignore_check_constraints=1")
        raw.execute("PRAGMA writable_schema=1")
        raw.execute(
            "UPDATE sqlite_master SET sql = replace(sql, ' NOT NULL', '') "
            "WHERE name = ?",
            (table,),
        )
    with closing(sqlite3.connect(kept.file)) as raw, raw:
        raw.execute("PRAGMA ignore_check_constraints=1")
        raw.execute(f"UPDATE {table} SET {column} = ?", (value,))
    try:
        read_all(kept.file.parent)
    except StruckfaceError:
        return
    assert value is None  # a blank name is read as one


def test_lost_table_leads_to_the_rescue(kept):
    with closing(sqlite3.connect(kept.file)) as raw, raw:
        raw.execute("DROP TABLE waiting_photo")
    with pytest.raises(DamagedLogError, match="restore the last backup"):
        list_waiting(open_log(kept.file.parent))


@pytest.mark.parametrize("kind", range(6))
def test_whatever_is_scribbled_is_read_or_refused(kept, tmp_path, kind):
    whole = kept.file.read_bytes()
    rng = random.Random(kind)
    for number in range(6):
        data = bytearray(whole)
        at = rng.randrange(len(data))
        if kind == 0:
            data[at] ^= 1 << rng.randrange(8)
        elif kind == 1:
            data[at // 512 * 512 : at // 512 * 512 + 512] = bytes(512)
        elif kind == 2:
            data[at : at + 40] = b"\xff\xfe" * 20
        elif kind == 3:
            del data[at:]
        elif kind == 4:
            data[rng.randrange(100)] = rng.randrange(256)
        else:
            data[100 + rng.randrange(8000)] = rng.randrange(256)
        folder = tmp_path / f"{kind} {number}"
        shutil.copytree(kept.photo_folder, folder / "photos")
        (folder / "log.sqlite").write_bytes(bytes(data))
        with suppress(StruckfaceError):
            read_all(folder)


def locked(monkeypatch, code):
    """Let every connection that could write fail as on such a disk."""
    connected = engine_room._connected

    def fails(file, *, read_only):
        if read_only:
            return connected(file, read_only=True)
        error = sqlite3.OperationalError("no")
        error.sqlite_errorcode = code
        raise error

    monkeypatch.setattr(engine_room, "_connected", fails)
    engine_room.engine.cache_clear()


@pytest.mark.parametrize(
    ("code", "why"),
    [
        (sqlite3.SQLITE_READONLY, "may not be written to"),
        (sqlite3.SQLITE_FULL, "is full: make room"),
        (sqlite3.SQLITE_IOERR, "the disk may be full or gone"),
        (sqlite3.SQLITE_CANTOPEN, "cannot be opened"),
    ],
)
def test_log_that_cannot_be_written_is_open_to_read(kept, monkeypatch, code, why):
    before = list_readings(kept)
    locked(monkeypatch, code)
    log = open_log(kept.file.parent)
    assert why in log.read_only
    assert list_readings(log) == before
    with pytest.raises(NoWritingError, match=why):
        save_one(log, before[0].piece_id, "later")
    with pytest.raises(NoWritingError, match=why), writing(log):
        pass
    monkeypatch.undo()
    engine_room.engine.cache_clear()
    assert not open_log(kept.file.parent).read_only


def test_older_log_that_cannot_be_written_is_refused(kept, monkeypatch):
    with closing(sqlite3.connect(kept.file)) as raw, raw:
        raw.execute("UPDATE alembic_version SET version_num = '0001'")
    locked(monkeypatch, sqlite3.SQLITE_READONLY)
    with pytest.raises(NoWritingError, match="may not be written to"):
        open_log(kept.file.parent)
    monkeypatch.undo()
    engine_room.engine.cache_clear()


def test_no_log_is_made_where_nothing_can_be_written(tmp_path, monkeypatch):
    locked(monkeypatch, sqlite3.SQLITE_READONLY)
    with pytest.raises(StruckfaceError, match="may not be written to"):
        open_log(tmp_path)
    monkeypatch.undo()
    engine_room.engine.cache_clear()


def test_latest_reading_is_the_one_saved_last_whatever_the_clock_says(log, piece_id):
    data = photo_for("a")
    first = reading_of(data, n=3)
    later = replace(first, measured_at=first.measured_at - timedelta(days=400))
    for token, one in (("first", first), ("later", later)):
        save_reading(
            log,
            photo_bytes=data,
            photo=photo_of(data),
            reading=one,
            piece_id=piece_id,
            save_token=token,
        )
    assert [line.measured_at for line in list_readings(log)] == [
        later.measured_at,
        first.measured_at,
    ]


def test_way_back_from_a_schema_whose_words_are_garbled(kept):
    folder = kept.file.parent
    good = back_up(kept, folder / "backups" / "log-2026-01-01.zip", photos=False)
    data = kept.file.read_bytes()
    at = data.index(b"deleted_at", data.index(b"INDEX uq_live_product_line_name"))
    # SQLite names what it cannot find: these bytes are no text.
    garbled = data[:at] + b"\xff" * 10 + data[at + 10 :]
    kept.file.write_bytes(garbled)
    with pytest.raises(DamagedLogError, match="restore the last backup"):
        read_all(folder)
    with pytest.raises(DamagedLogError, match="restore the last backup"):
        back_up(kept, folder / "now.zip")
    bad = folder / "replaced-20260102T000000-log.sqlite"
    bad.write_bytes(garbled)
    with pytest.raises(RecordError, match="names in it are garbled"):
        restore(bad, folder, replace=True)
    assert last_good(kept) == good
    restored = restore(good, folder, replace=True)
    assert len(list_readings(restored)) == 2


def test_log_that_goes_while_it_is_open_leads_to_the_rescue(kept):
    list_readings(kept)
    kept.file.unlink()
    with pytest.raises(DamagedLogError, match="is missing or empty, though photos"):
        list_readings(kept)
    with (
        pytest.raises(DamagedLogError, match="restore the last backup"),
        writing(kept) as connection,
    ):
        connection.exec_driver_sql("DELETE FROM pour")
    assert not kept.file.exists()


def test_folder_that_goes_while_its_log_is_open_is_told(kept):
    list_readings(kept)
    shutil.rmtree(kept.file.parent)
    with pytest.raises(NoWritingError, match="check that its folder exists"):
        list_readings(kept)
