"""A folder that is followed while files come, grow, move and go."""

from __future__ import annotations

import os
import time

import pytest

from analysis.errors import ConflictError
from analysis.model.folder import FolderReading
from analysis.model.log import Piece
from analysis.services import records
from analysis.services.folders import hands
from analysis.services.folders.run import measure_folder
from analysis.services.log import list_readings
from analysis.storage.folder_runs import list_runs
from tests.support.folder_photos import (
    folder_of,
    in_this_process,
    small_photo,
)


@pytest.fixture
def place(tmp_path):
    return folder_of(tmp_path / "photos", 1)


def aged(path, data):
    """Write a file as if a minute ago."""
    path.parent.mkdir(exist_ok=True)
    path.write_bytes(data)
    os.utime(path, (time.time() - 60,) * 2)


def followed(log, place, *acts, told=None):
    """Follow a folder; each act comes before a look. Return counts and progress."""
    steps = iter(acts)

    def again():
        act = next(steps, None)
        if act is None:
            return False
        act()
        return True

    done = measure_folder(
        log, str(place), hands=in_this_process(), again=again, tell=told
    )
    return (done.photos, done.measured, done.skipped, done.failed), done


def nothing():
    pass


def test_a_half_written_photo_is_no_failure_once_it_is_whole(log, place):
    late, data = place / "001" / "late.png", small_photo(1)
    late.parent.mkdir()
    late.write_bytes(data[: len(data) // 2])
    counts, done = followed(log, place, lambda: aged(late, data), nothing)
    assert counts == (2, 2, 0, 0)
    assert done.failures == []


def test_a_photo_that_grows_under_an_old_date_is_left_until_it_stands(log, place):
    late, data = place / "001" / "late.png", small_photo(1)
    parts = [len(data) // 3, 2 * len(data) // 3, len(data)]
    acts = [lambda to=to: aged(late, data[:to]) for to in parts]
    failed = []

    def told(progress, _outcome):
        failed.append(progress.failed)

    counts, _ = followed(log, place, *acts, nothing, told=told)
    assert (counts, max(failed)) == ((2, 2, 0, 0), 0)


def test_a_photo_renamed_into_place_is_measured_once(log, place):
    part, late = place / "001" / "late.png.part", place / "001" / "late.png"
    counts, _ = followed(
        log,
        place,
        lambda: aged(part, small_photo(1)),
        lambda: part.rename(late),
        nothing,
        lambda: late.rename(place / "001" / "again.png"),
        nothing,
    )
    assert counts == (3, 2, 1, 0)
    assert len(list_readings(log)) == 2


def test_a_photo_deleted_before_it_was_measured_is_no_failure(log, place):
    bad = place / "001" / "bad.png"
    aged(bad, b"no photo")
    assert followed(log, place, nothing)[0] == (2, 1, 0, 1)
    assert followed(log, place, nothing, bad.unlink)[0] == (1, 0, 1, 0)
    late = place / "001" / "late.png"
    acts = (lambda: aged(late, small_photo(1)), late.unlink, nothing)
    assert followed(log, place, *acts)[0] == (1, 0, 1, 0)


def test_a_folder_that_is_unplugged_is_waited_for(log, place):
    away = place.with_name("unplugged")
    said = []

    def told(progress, _outcome):
        said.append(len(progress.notes))

    def back():
        away.rename(place)
        aged(place / "001" / "late.png", small_photo(1))

    counts, done = followed(
        log, place, lambda: place.rename(away), nothing, back, nothing, told=told
    )
    assert counts == (2, 2, 0, 0)
    (note,) = done.notes
    assert note == (
        f"There is no folder {place} that can be read: check its name. It is looked "
        "for until this is stopped."
    )
    assert 1 in said  # at once, not at the end


def test_what_was_unplugged_in_the_middle_is_measured_once_it_is_back(
    log, place, monkeypatch
):
    away = place.with_name("unplugged")
    folder_of(place, 3)
    real = hands.measure_file

    def unplugged(*words):
        if place.exists():
            place.rename(away)
        return real(*words)

    monkeypatch.setattr(hands, "measure_file", unplugged)

    def back():
        monkeypatch.setattr(hands, "measure_file", real)
        away.rename(place)
        for path in place.rglob("*.png"):
            os.utime(path, (time.time() - 60,) * 2)

    counts, done = followed(log, place, nothing, back, nothing)
    assert (counts, done.failures) == ((3, 3, 0, 0), [])


def test_a_photo_is_tried_again_when_its_piece_comes(log, place):
    aged(place / "009" / "face.png", small_photo(9))

    def come():
        records.add(log, Piece(name="009", pour_id=1, form_id=1), save_token="009")

    assert followed(log, place, nothing, come)[0] == (2, 2, 0, 0)


def test_two_who_follow_one_folder_do_not_meet(log, place, tmp_path):
    link = tmp_path / "link"
    link.symlink_to(place, target_is_directory=True)

    def other():
        for name in (place, f"{place}/../{place.name}", link):
            with pytest.raises(ConflictError, match="Another process measures"):
                followed(log, name)

    assert followed(log, place, other)[0] == (1, 1, 0, 0)


def test_stopped_it_ends_like_any_other(log, place):
    def stop():
        raise KeyboardInterrupt

    counts, _ = followed(log, place, stop)
    assert counts == (1, 1, 0, 0)
    assert list_runs(log)[0].ended_at is not None


def test_a_folder_named_like_a_photo_is_a_folder(log, place):
    acts = (
        lambda: aged(place / "x.jpg" / "face.png", b"no photo"),
        (place / "x.jpg" / "y.png").mkdir,
        nothing,
    )
    counts, done = followed(log, place, *acts)
    assert counts == (2, 1, 0, 1)
    assert done.failures[0].file.path == "x.jpg/face.png"


def test_a_photo_that_becomes_a_folder_is_no_failure(log, place):
    late = place / "001" / "late.png"

    def changed():
        late.unlink()
        aged(late / "face.png", small_photo(1))

    counts, _ = followed(log, place, lambda: aged(late, b"no"), nothing, changed)
    assert counts[3] == 0


def test_a_folder_that_may_not_be_looked_into_is_told_as_it_is_now(
    log, place, monkeypatch
):
    from analysis.services.folders import walk  # noqa: PLC0415

    real = os.scandir
    shut = [True]  # and opened meanwhile
    (place / "001").mkdir()

    def scandir(path):
        if shut[0] and str(path).endswith("001"):
            raise PermissionError(13, "Permission denied")
        return real(path)

    monkeypatch.setattr(walk, "os", type("Os", (), {"scandir": staticmethod(scandir)}))
    assert len(followed(log, place, nothing)[1].unread) == 1
    opened = lambda: shut.__setitem__(0, False)  # noqa: E731
    assert followed(log, place, opened)[1].unread == []


def test_many_photos_at_once_are_each_tried_once(log, place, monkeypatch):
    tried = []

    def stub(_where, name, *_more):
        tried.append(name)
        return FolderReading(problem="Not today.")

    monkeypatch.setattr(hands, "measure_file", stub)
    data = small_photo(2, (8, 8))

    def come():
        for n in range(60):
            aged(place / "001" / f"{n}.png", data + bytes([n % 251, n // 251]))

    counts, _ = followed(log, place, come, nothing, nothing)
    assert counts == (61, 0, 0, 61)
    assert len(tried) == len(set(tried)) == 61
    assert tried[1:] == [f"{n}.png" for n in range(60)]  # as people count
