import os

import pytest

from analysis.errors import InputError, NotInLogError, RecordError
from analysis.storage.photo_store import (
    digest,
    path_of,
    photo_bytes,
    put,
    remove_orphans,
)
from analysis.storage.reading_lines import list_readings
from analysis.storage.store import open_log
from tests.support.crowd import photo_for, save_one


def test_the_digest_is_the_published_one():
    # FIPS 180-4 example, "abc": NIST, Secure Hashing, example values for SHA-256.
    assert digest(b"abc") == (
        "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    )


@pytest.mark.parametrize("name", ["../x", "", "A" * 64, "0" * 63, "0" * 64 + "/x"])
def test_only_a_digest_reaches_the_disk(log, name):
    with pytest.raises(InputError, match="named by 64 hex digits"):
        path_of(log, name)


def files(log):
    return {path.name for path in log.photo_folder.rglob("*") if path.is_file()}


def test_orphans_go_when_the_log_opens_and_nothing_else_does(log, piece_id):
    save_one(log, piece_id, "t")
    kept = list_readings(log)[0].photo_sha256
    put(log, b"orphan", digest(b"orphan"))
    half = path_of(log, digest(b"half"))
    half.parent.mkdir(exist_ok=True)
    half.with_suffix(".pending").touch()
    half.with_suffix(".part").write_bytes(b"ha")
    path_of(log, kept).with_suffix(".pending").touch()  # killed after its row was kept
    stranger = log.photo_folder / "notes.txt"
    stranger.write_bytes(b"mine")
    odd = log.photo_folder / kept[:2] / "odd.pending"
    odd.write_bytes(b"mine")
    open_log(log.url)
    assert files(log) == {kept, "notes.txt", "odd.pending"}
    assert photo_bytes(log, kept) == photo_for("t")


@pytest.mark.of_sqlite
def test_an_older_copy_of_the_database_costs_no_photo(log, piece_id):
    older = log.file.read_bytes()
    save_one(log, piece_id, "t")
    newer = files(log)
    for tail in ("-wal", "-shm"):
        log.file.with_name(log.file.name + tail).unlink(missing_ok=True)
    log.file.write_bytes(older)
    open_log(log.file.parent)
    assert list_readings(log) == ()
    assert files(log) == newer


def test_orphans_of_one_photo_alone(log):
    for data in (b"1", b"2"):
        put(log, data, digest(data))
    assert remove_orphans(log, only=digest(b"1")) == 1
    assert remove_orphans(log, only=digest(b"1")) == 0
    assert path_of(log, digest(b"2")).exists()


def test_a_changed_file_is_told_and_a_new_save_mends_it(log, piece_id):
    save_one(log, piece_id, "t")
    sha256 = list_readings(log)[0].photo_sha256
    path_of(log, sha256).write_bytes(b"changed")
    with pytest.raises(RecordError, match="no longer the one"):
        photo_bytes(log, sha256)
    put(log, photo_for("t"), sha256)
    assert photo_bytes(log, sha256) == photo_for("t")


def test_a_missing_file_is_told(log, piece_id):
    save_one(log, piece_id, "t")
    sha256 = list_readings(log)[0].photo_sha256
    path_of(log, sha256).unlink()
    with pytest.raises(RecordError, match="is missing"):
        photo_bytes(log, sha256)


def test_a_photo_that_was_never_saved(log):
    with pytest.raises(NotInLogError, match="is not in the log"):
        photo_bytes(log, digest(b""))


def test_bytes_are_on_disk_before_the_file_has_its_name(log, monkeypatch):
    order = []
    flush, rename = os.fsync, type(log.photo_folder).replace

    def fsync(handle):
        order.append("flush")
        flush(handle)

    def replace(path, target):
        order.append("name")
        return rename(path, target)

    monkeypatch.setattr(os, "fsync", fsync)
    monkeypatch.setattr(type(log.photo_folder), "replace", replace)
    put(log, b"x", digest(b"x"))
    assert order[:2] == ["flush", "name"]
