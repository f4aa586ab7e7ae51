import hashlib
import io
import shutil
import sqlite3
import zipfile
from datetime import date, timedelta
from pathlib import Path

import pytest

from analysis.errors import InputError, RecordError
from analysis.model.log import Piece
from analysis.storage import backup_contents
from analysis.storage.backup import (
    back_up,
    back_up_daily,
    backup_folder,
    daily_backups,
    lost_photos,
)
from analysis.storage.engine import locate, writing
from analysis.storage.photo_store import path_of, photo_bytes
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading
from analysis.storage.records import list_all
from analysis.storage.restoring import restore
from analysis.storage.store import open_log
from tests.support.changed_zip import remade
from tests.support.crowd import photo_for, save_one
from tests.support.kept_readings import same
from tests.support.old_logs import AS_0001, at
from tests.support.stored_readings import photo_of

pytestmark = pytest.mark.of_sqlite


@pytest.fixture
def kept(log, piece_id):
    """A log with two readings."""
    for token in ("a", "b"):
        save_one(log, piece_id, token)
    return log


def nothing_left(folder):
    return not folder.exists() or list(folder.iterdir()) == []


def test_a_restored_log_is_the_same_bit_for_bit(kept, tmp_path):
    zipped = back_up(kept, tmp_path / "out" / "backup.zip")
    back = restore(zipped, tmp_path / "new")
    assert list_readings(back) == list_readings(kept)
    assert list_all(back, Piece) == list_all(kept, Piece)
    for line in list_readings(kept):
        assert same(load_reading(kept, line.id), load_reading(back, line.id))
        assert photo_bytes(back, line.photo_sha256) == photo_bytes(
            kept, line.photo_sha256
        )
    assert {path.name for path in (tmp_path / "new").iterdir()} <= {
        "log.sqlite",
        "log.sqlite-wal",
        "log.sqlite-shm",
        "photos",
    }
    assert [path.name for path in (tmp_path / "out").iterdir()] == ["backup.zip"]


def test_the_sums_in_the_zip_are_those_of_the_files(kept, tmp_path):
    with zipfile.ZipFile(back_up(kept, tmp_path / "b.zip")) as archive:
        for line in archive.read("CHECKSUMS").decode().splitlines():
            digest, name = line.split("  ")
            assert hashlib.sha256(archive.read(name)).hexdigest() == digest
        assert len(archive.namelist()) == 4


def test_a_backup_while_someone_saves_is_one_moment(kept, tmp_path):
    with writing(kept) as connection:
        connection.exec_driver_sql("UPDATE piece SET note = 'half way'")
        zipped = back_up(kept, tmp_path / "b.zip")
    assert list_all(restore(zipped, tmp_path / "new"), Piece)[0].note == ""


def test_a_log_that_is_there_is_not_overwritten(kept, tmp_path):
    zipped = back_up(kept, tmp_path / "b.zip")
    with pytest.raises(InputError, match="There is a log at"):
        restore(zipped, kept.file.parent)
    assert len(list_readings(kept)) == 2


def test_a_damaged_log_gives_way_to_the_last_daily_copy(kept):
    before = list_readings(kept)
    back_up_daily(kept)
    save_one(kept, before[0].piece_id, "later")
    kept.file.write_bytes(b"x" * 5000)
    with pytest.raises(RecordError, match="is damaged: restore the last backup"):
        open_log(kept.file.parent)
    back = restore(daily_backups(kept)[0], kept.file.parent, replace=True)
    assert list_readings(back) == before
    later = photo_of(photo_for("later")).sha256
    assert path_of(back, later).read_bytes() == photo_for("later")
    aside = list(kept.file.parent.glob("replaced-*-log.sqlite"))
    assert [path.read_bytes() for path in aside] == [b"x" * 5000]


def test_a_copy_without_photos_needs_them_beside_it(kept, tmp_path):
    zipped = back_up(kept, tmp_path / "b.zip", photos=False)
    with pytest.raises(RecordError, match="has no photo"):
        restore(zipped, tmp_path / "new")
    assert nothing_left(tmp_path / "new")


def test_a_backup_of_an_older_state_is_brought_up(tmp_path):
    old = at(tmp_path / "log", "0001", AS_0001)
    data = b"abc"
    with writing(old) as connection:
        connection.exec_driver_sql("UPDATE photo SET sha256 = ?", (_sha(data),))
    path = path_of(old, _sha(data))
    path.parent.mkdir(parents=True)
    path.write_bytes(data)
    back = restore(back_up(old, tmp_path / "b.zip"), tmp_path / "new")
    assert list_all(back, Piece)[0].name == "007"
    assert photo_bytes(back, _sha(data)) == data


def _sha(data):
    return hashlib.sha256(data).hexdigest()


def flip(entries):
    name = next(name for name in entries if name.startswith("photos/"))
    entries[name] = b"y" + entries[name][1:]


def drop_photo(entries):
    del entries[next(name for name in entries if name.startswith("photos/"))]


def drop_sums(entries):
    del entries["CHECKSUMS"]


def drop_database(entries):
    del entries["log.sqlite"]


def slip(entries):
    entries["../evil.txt"] = b"x"


def slip_absolute(entries):
    entries["/evil.txt"] = b"x"


def slip_in_photos(entries):
    entries["photos/../../evil"] = b"x"


def nest(entries):
    entries["inner.zip"] = b"PK"


def scribble(entries):
    bad = b"not a database" * 100
    entries["log.sqlite"] = bad
    lines = entries["CHECKSUMS"].decode().splitlines()
    lines = [f"{_sha(bad)}  log.sqlite" if "sqlite" in line else line for line in lines]
    entries["CHECKSUMS"] = "\n".join(lines).encode()


@pytest.mark.parametrize(
    ("change", "message"),
    [
        (flip, "damaged at photos/"),
        (drop_photo, "damaged at photos/"),
        (drop_sums, "not a backup of a log"),
        (drop_database, "not a backup of a log"),
        (slip, r"a file '../evil.txt', which no log has"),
        (slip_absolute, "which no log has"),
        (slip_in_photos, "which no log has"),
        (nest, "a file 'inner.zip'"),
        (scribble, "database in the backup is damaged"),
    ],
)
def test_a_backup_that_is_not_whole_changes_nothing(kept, tmp_path, change, message):
    zipped = remade(back_up(kept, tmp_path / "b.zip"), tmp_path / "c.zip", change)
    with pytest.raises((InputError, RecordError), match=message):
        restore(zipped, tmp_path / "new")
    assert nothing_left(tmp_path / "new")
    assert not (tmp_path / "evil.txt").exists()
    assert not Path("/evil.txt").exists()


def test_a_backup_that_swells_without_end_is_refused(tmp_path):
    bomb = tmp_path / "bomb.zip"
    with zipfile.ZipFile(bomb, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("log.sqlite", bytes(150_000_000))
    assert bomb.stat().st_size < 200_000
    with pytest.raises(InputError, match="unpacks to 150 MB"):
        restore(bomb, tmp_path / "new")
    assert nothing_left(tmp_path / "new")


def test_a_backup_of_very_many_files_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(backup_contents, "_MOST_FILES", 20)
    many = tmp_path / "many.zip"
    with zipfile.ZipFile(many, "w") as archive:
        for number in range(21):
            archive.writestr(f"photos/00/00{number:062x}", b"")
    with pytest.raises(InputError, match="in 21 files"):
        restore(many, tmp_path / "new")


def test_a_backup_with_a_file_twice_is_refused(tmp_path):
    twice = tmp_path / "twice.zip"
    with zipfile.ZipFile(twice, "w") as archive:
        archive.writestr("log.sqlite", b"1")
        with pytest.warns(UserWarning, match="Duplicate name"):
            archive.writestr("log.sqlite", b"2")
    with pytest.raises(InputError, match="a file twice"):
        restore(twice, tmp_path / "new")


def test_a_backup_that_says_less_than_it_holds_is_refused(kept, tmp_path):
    data = bytearray(back_up(kept, tmp_path / "b.zip").read_bytes())
    with zipfile.ZipFile(tmp_path / "b.zip") as archive:
        entry = archive.getinfo("log.sqlite")
    size = entry.file_size.to_bytes(4, "little")
    smaller = (entry.file_size // 2).to_bytes(4, "little")
    (tmp_path / "c.zip").write_bytes(bytes(data).replace(size, smaller))
    with pytest.raises((InputError, RecordError), match="choose another one"):
        restore(tmp_path / "c.zip", tmp_path / "new")
    assert nothing_left(tmp_path / "new")


def test_more_than_was_declared_is_never_written():
    out = io.BytesIO()
    with pytest.raises(InputError, match="holds more than it says"):
        backup_contents._copy(io.BytesIO(b"x" * 11), out, 10)
    assert out.getvalue() == b""


@pytest.mark.parametrize("data", [b"", b"PK", b"not a zip at all", None])
def test_what_is_no_zip_is_refused(kept, tmp_path, data):
    path = tmp_path / "b.zip"
    if data is None:
        whole = back_up(kept, path).read_bytes()
        data = whole[: len(whole) // 2]
    path.write_bytes(data)
    with pytest.raises(InputError, match="is not a whole backup"):
        restore(path, tmp_path / "new")


def test_a_backup_that_is_not_there_is_a_sentence(tmp_path):
    with pytest.raises(RecordError, match="could not be restored"):
        restore(tmp_path / "none.zip", tmp_path / "new")


def test_too_little_room_is_a_sentence(kept, tmp_path, monkeypatch):
    zipped = back_up(kept, tmp_path / "b.zip")
    usage = shutil.disk_usage(tmp_path)
    monkeypatch.setattr(
        backup_contents.shutil, "disk_usage", lambda _: usage._replace(free=10)
    )
    with pytest.raises(InputError, match="make room"):
        restore(zipped, tmp_path / "new")


def test_a_lost_photo_is_listed_and_stops_no_backup(kept, tmp_path):
    lost, other = (line.photo_sha256 for line in list_readings(kept))
    path_of(kept, lost).write_bytes(b"x")
    zipped = back_up(kept, tmp_path / "b.zip")
    assert lost_photos(zipped) == (lost,)
    with zipfile.ZipFile(zipped) as archive:
        assert f"photos/{other[:2]}/{other}" in archive.namelist()
    back = restore(zipped, tmp_path / "new")
    assert len(list_readings(back)) == 2
    assert photo_bytes(back, other)
    with pytest.raises(RecordError, match=r"file of photo .* is missing"):
        photo_bytes(back, lost)


def test_a_place_that_cannot_be_written_is_a_sentence(kept, tmp_path):
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(RecordError, match="could not be written"):
        back_up(kept, tmp_path / "file" / "b.zip")


def test_a_server_is_left_to_the_server():
    log = locate("postgresql+psycopg://host/name")
    with pytest.raises(InputError, match="server's own tools"):
        back_up(log, "b.zip")
    assert back_up_daily(log) is None


def test_one_copy_a_day_and_the_last_fortnight(log):
    first = date(2026, 3, 20)
    for number in range(20):
        day = first + timedelta(days=number)
        assert back_up_daily(log, today=day).name == f"log-{day.isoformat()}.zip"
        assert back_up_daily(log, today=day) is None
    (backup_folder(log) / "log-mine.zip").write_bytes(b"")
    names = [path.name for path in daily_backups(log)]
    assert len(names) == 14
    assert (names[0], names[-1]) == ("log-2026-04-08.zip", "log-2026-03-26.zip")
    assert (backup_folder(log) / "log-mine.zip").exists()


def test_a_backup_carries_nothing_of_the_companions(kept, tmp_path):
    zipped = back_up(kept, tmp_path / "b.zip")
    with zipfile.ZipFile(zipped) as archive:
        archive.extract("log.sqlite", tmp_path / "x")
    with sqlite3.connect(tmp_path / "x" / "log.sqlite") as raw:
        assert raw.execute("PRAGMA journal_mode").fetchone() == ("delete",)
        assert raw.execute("SELECT count(*) FROM reading").fetchone() == (2,)
    raw.close()
