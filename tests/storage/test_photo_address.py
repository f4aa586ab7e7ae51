"""Originals in a folder that machines share: one place for all, never another's."""

import shutil
import sqlite3

import pytest

from analysis.errors import InputError, RecordError
from analysis.storage import photo_moving
from analysis.storage.beside import backup_folder
from analysis.storage.photo_address import HERE, is_reached
from analysis.storage.photo_moving import give_address
from analysis.storage.photo_store import OWNER, digest, path_of, photo_bytes
from analysis.storage.reading_lines import list_readings
from analysis.storage.store import open_log
from analysis.storage.thumbnails import keep_thumbnail, kept_thumbnail
from tests.support.crowd import new_log, photo_for, save_one


def sha_of(log):
    return [line.photo_sha256 for line in list_readings(log)]


@pytest.fixture
def shared(log, piece_id, tmp_path):
    """A log whose photos were moved to a shared folder, one of them before."""
    save_one(log, piece_id, "before")
    return give_address(log, tmp_path / "share" / "photos")


@pytest.fixture(autouse=True)
def share(tmp_path, monkeypatch):
    monkeypatch.delenv(HERE, raising=False)
    (tmp_path / "share").mkdir()
    return tmp_path / "share"


def test_every_machine_that_opens_the_log_uses_the_same_folder(
    shared, log, piece_id, share
):
    assert (shared.copied, shared.there, shared.missing) == (1, 0, 0)
    again = open_log(log.url)
    assert again.photo_folder == share / "photos"
    save_one(again, piece_id, "after")
    assert {photo_bytes(again, one) for one in sha_of(again)} == {
        photo_for("before"),
        photo_for("after"),
    }
    for one in sha_of(again):
        assert (share / "photos" / one[:2] / one).is_file()
    assert not list((share / "photos").rglob("*.pending"))


def test_begun_again_it_copies_nothing_twice(shared, share):
    again = give_address(shared.log, share / "photos")
    assert (again.copied, again.there, again.missing) == (0, 1, 0)


def test_another_path_on_this_machine(shared, log, share, tmp_path, monkeypatch):
    (share / "photos").rename(tmp_path / "mounted")
    assert not is_reached(open_log(log.url))
    monkeypatch.setenv(HERE, str(tmp_path / "mounted"))
    seen = open_log(log.url)
    assert is_reached(seen)
    assert photo_bytes(seen, sha_of(seen)[0]) == photo_for("before")
    assert shared.log.photo_folder == share / "photos"


def test_without_an_address_no_variable_moves_the_photos(log, tmp_path, monkeypatch):
    monkeypatch.setenv(HERE, str(tmp_path / "mounted"))
    seen = open_log(log.url)
    assert not seen.has_address
    assert seen.photo_folder != tmp_path / "mounted"


@pytest.mark.usefixtures("shared")
def test_a_folder_out_of_reach_is_told_and_nothing_is_saved(log, piece_id, share):
    shutil.rmtree(share / "photos")
    away = open_log(log.url)  # never fatal
    before = len(list_readings(away))
    with pytest.raises(RecordError, match="cannot be reached: connect it"):
        photo_bytes(away, sha_of(away)[0])
    with pytest.raises(RecordError, match=r"cannot be reached.*nothing was saved"):
        save_one(away, piece_id, "after")
    assert len(list_readings(away)) == before
    assert not (share / "photos").exists()


@pytest.mark.usefixtures("shared")
def test_a_missing_original_is_told_by_its_name(log):
    seen = open_log(log.url)
    path_of(seen, sha_of(seen)[0]).unlink()
    with pytest.raises(RecordError, match="is missing from"):
        photo_bytes(seen, sha_of(seen)[0])


def test_a_photo_missing_before_is_counted_and_stops_nothing(log, piece_id, share):
    save_one(log, piece_id, "there")
    save_one(log, piece_id, "gone")
    save_one(log, piece_id, "changed")
    path_of(log, digest(photo_for("gone"))).unlink()
    path_of(log, digest(photo_for("changed"))).write_bytes(b"other")
    moved = give_address(log, share / "photos")
    assert (moved.copied, moved.missing) == (1, 2)


def test_what_is_saved_while_photos_are_copied_is_copied_too(
    log, piece_id, share, monkeypatch
):
    save_one(log, piece_id, "before")
    copied, saved = photo_moving._copied, []

    def meanwhile(old, new, connection=None):
        found = copied(old, new, connection)
        if not saved:
            saved.append(save_one(log, piece_id, "meanwhile"))
        return found

    monkeypatch.setattr(photo_moving, "_copied", meanwhile)
    moved = give_address(log, share / "photos")
    assert moved.copied == 2
    assert len([photo_bytes(moved.log, one) for one in sha_of(log)]) == 2


@pytest.mark.of_sqlite
def test_the_folder_of_another_log_is_never_taken(shared, tmp_path, share):
    other, _ = new_log(tmp_path / "other")
    with pytest.raises(InputError, match="photos of another log"):
        give_address(other, share / "photos")
    assert not open_log(tmp_path / "other").has_address
    assert (share / "photos" / OWNER).is_file()
    assert is_reached(shared.log)


def test_a_folder_that_cannot_be_is_refused(log, tmp_path):
    with pytest.raises(InputError, match="must be given whole"):
        give_address(log, "photos")
    with pytest.raises(InputError, match="cannot be made, since"):
        give_address(log, tmp_path / "no" / "photos")
    (tmp_path / "file").touch()
    with pytest.raises(RecordError, match="cannot be used"):
        give_address(log, tmp_path / "file")
    assert not open_log(log.url).has_address


@pytest.mark.of_sqlite
def test_backups_and_small_pictures_stay_beside_the_log(shared, log):
    seen = open_log(log.url)
    assert backup_folder(seen) == log.file.parent / "backups"
    sha256 = sha_of(seen)[0]
    keep_thumbnail(seen, sha256, None, b"small")
    assert kept_thumbnail(seen, sha256, None) == b"small"
    assert list((log.file.parent / "thumbnails").rglob("*.jpg"))
    assert shared.log.home == log.file.parent


@pytest.mark.of_sqlite
def test_an_address_that_is_none_is_left_alone(log):
    with sqlite3.connect(log.file) as raw:
        raw.execute(
            "INSERT INTO draft (key, content, changed_at) VALUES "
            "('photo folder', '{\"folder\": 7}', '2026-01-01 00:00:00')"
        )
    raw.close()
    assert not open_log(log.url).has_address
