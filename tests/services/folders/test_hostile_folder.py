"""Folders that change, hide, lead round in circles or outgrow the disc."""

import errno
import os
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from analysis.cli import main
from analysis.errors import RecordError, TableError
from analysis.model.log import Piece
from analysis.services import records
from analysis.services.folders import walk
from analysis.services.folders.hands import Hands
from analysis.services.folders.run import measure_folder
from analysis.services.log import list_readings
from analysis.storage import photo_store
from analysis.storage.castings import piece_ids
from tests.support.folder_photos import (
    folder_of,
    in_this_process,
    run,
    small_photo,
    wish,
)

PHOTO = "001/face.png"


@pytest.fixture
def place(tmp_path):
    return folder_of(tmp_path / "photos", 3)


class Vanishing(ThreadPoolExecutor):
    """Takes one photo away, before or after it is measured."""

    gone: Path
    before: bool

    def submit(self, work, where, *more):
        if where != str(self.gone):
            return super().submit(work, where, *more)
        if self.before:
            self.gone.unlink()
        future = super().submit(work, where, *more)
        if not self.before:
            future.result()
            self.gone.unlink()
        return future


@pytest.mark.parametrize(
    ("before", "told"),
    [
        (True, "face.png cannot be read (No such file or directory): look at the"),
        (False, "The file is gone (No such file or directory): look at the folder."),
    ],
)
def test_a_photo_that_vanishes_costs_only_itself(log, place, before, told):
    def begin():
        executor = Vanishing(1)
        executor.gone, executor.before = place / PHOTO, before
        return executor

    counts, done = run(log, place, hands=Hands(begin=begin, count=1))
    assert counts == (3, 2, 0, 1)
    assert done.failures[0].file.path == PHOTO
    assert told in done.failures[0].problem
    (place / PHOTO).write_bytes(small_photo(1))
    assert run(log, place)[0] == (3, 1, 2, 0)


def test_a_folder_that_may_not_be_read_is_told_and_hides_no_other(
    log, place, monkeypatch, capsys
):
    shut = str((place / "001").resolve())

    def scandir(path):
        if str(path) == shut:
            raise PermissionError(errno.EACCES, "Permission denied")
        return os.scandir(path)

    monkeypatch.setattr(walk, "os", type("Os", (), {"scandir": staticmethod(scandir)}))
    monkeypatch.setattr(
        "analysis.cli.folder.processes", lambda _workers: in_this_process()
    )
    words = ["measure-folder", str(place), "--log", str(log.file)]
    assert main(words) == 2
    said = capsys.readouterr()
    assert said.out.startswith(
        "The folder 001 cannot be looked into (Permission denied), so its photos are "
        "not in the log: allow reading it and begin again.\n"
        "2 photos: 2 measured, 0 skipped, 0 failed, in "
    )
    assert said.err == (
        "Some folders could not be looked into (1): each is named; the photos of the "
        "others are in the log.\n"
    )
    monkeypatch.undo()
    assert run(log, place)[0] == (3, 1, 2, 0)


def test_links_that_lead_round_are_told_and_not_followed(log, place):
    (place / "001" / "round").symlink_to(place, target_is_directory=True)
    (place / "002" / "self").symlink_to(place / "002" / "self")
    counts, done = run(log, place)
    assert counts == (3, 3, 0, 0)
    (told,) = done.notes
    assert told.startswith("The link 001/round leads to a folder and is not followed:")


@pytest.mark.parametrize("target", ["lost.png", "nowhere.png"])
def test_a_photo_that_is_a_link_to_nothing_is_told(log, place, target):
    (place / "000" / "lost.png").symlink_to(place / "000" / target)
    counts, done = run(log, place)
    assert counts == (4, 3, 0, 1)
    assert done.failures[0].file.path == "000/lost.png"
    assert "The file cannot be read (" in done.failures[0].problem


def test_what_would_never_end_is_no_photo(log, place):
    os.mkfifo(place / "000" / "pipe.png")
    assert run(log, place)[0] == (3, 3, 0, 0)


def test_a_side_car_that_says_two_things_of_a_photo_costs_only_that_photo(log, place):
    lines = [f"{PHOTO},001,0.2", f"{PHOTO},001,0.2", "002/face.png,002,0.2"]
    assert run(log, place, wish("\n".join(["photo,piece,mm_per_px", *lines])))[0] == (
        (3, 3, 0, 0)
    )
    other = place.with_name("other")
    folder_of(other, 3, size=(91, 120))
    lines[1] = f"{PHOTO},002,0.2"
    counts, done = run(log, other, wish("\n".join(["photo,piece,mm_per_px", *lines])))
    assert counts == (3, 2, 0, 1)
    assert done.failures[0].problem == (
        f"Line 3 of the side-car gives {PHOTO} again: leave one out."
    )


def test_a_full_disc_keeps_what_was_saved_and_goes_on_once_there_is_room(
    log, place, monkeypatch, capsys
):
    synced = os.fsync
    calls = []

    def full(handle):
        calls.append(handle)
        if list_readings(log):
            raise OSError(errno.ENOSPC, "No space left on device")
        return synced(handle)

    monkeypatch.setattr(photo_store.os, "fsync", full)
    with pytest.raises(RecordError, match=r"No space left.*nothing was saved"):
        run(log, place)
    monkeypatch.setattr(
        "analysis.cli.folder.processes", lambda _workers: in_this_process()
    )
    words = ["measure-folder", str(place), "--log", str(log.file)]
    assert main(words) == 2
    assert "No space left on device" in capsys.readouterr().err
    assert calls
    monkeypatch.undo()
    kept = [line.photo_sha256 for line in list_readings(log)]
    assert len(kept) == 1
    files = [path.name for path in log.photo_folder.rglob("*") if path.is_file()]
    assert files == kept
    assert run(log, place, wish(resume=True))[0] == (3, 2, 1, 0)
    assert len({line.photo_sha256 for line in list_readings(log)}) == 3


def test_lines_of_one_piece_add_to_one_another():
    text = (
        "photo,piece,pour,cast_on,form,release_agent,note\n"
        "000/face.png,A-1,P9,2026-05-01,Trough A,,upper half\n"
        "001/face.png,A-1,,,,wax,lower half\n"
    )
    _, line = wish(text).side_car.pieces.decode().splitlines()
    assert line == "A-1,P9,2026-05-01,Trough A,wax,upper half; lower half"


def test_a_side_car_that_casts_a_piece_twice_is_refused_before_anything(log):
    text = (
        "photo,piece,pour,cast_on,form\n"
        "000/face.png,A-1,P9,2026-05-01,Trough A\n"
        "001/face.png,A-1,P8,2026-05-01,Trough A\n"
    )
    told = "Line 3 of the side-car gives piece A-1 the pour P8, a line before P9: corr"
    with pytest.raises(TableError, match=told):
        wish(text)
    assert list_readings(log) == ()


def test_lines_of_no_photo_are_told(log, place):
    text = "photo,piece,mm_per_px\n000/FACE.png,000,0.2\n001/face.png,001,0.2\n"
    done = measure_folder(log, str(place), wish(text), hands=in_this_process())
    assert done.failed == 0
    assert [one[:65] for one in done.notes] == [
        "The side-car names photos that are not in the folder: 000/FACE.pn"
    ]
    many = "photo\n" + "".join(f"{n}.jpg\n" for n in range(9))
    done = measure_folder(log, str(place), wish(many), hands=in_this_process())
    assert "3.jpg, 4.jpg and 4 more. What it says of them" in done.notes[0]


def test_a_piece_of_two_signs_is_that_of_one(log, place):
    records.add(log, Piece(name="S\u00e4ule", pour_id=1, form_id=1), save_token="piece")
    (place / "000").rename(place / "Sa\u0308ule")
    text = "photo,piece\n001/face.png,Sa\u0308ule\n"
    assert run(log, place, wish(text))[0] == (3, 3, 0, 0)
    found = [one.piece_id for one in list_readings(log)]
    assert found.count(piece_ids(log)["S\u00e4ule"]) == 2


def test_an_umlaut_of_two_signs_is_that_of_one(log, place):
    # As some systems store "Säule" (Unicode, form NFD), and as it is typed (NFC).
    (place / "000" / "face.png").rename(place / "000" / "Sa\u0308ule.png")
    for name in ("S\u00e4ule.png", "000/S\u00e4ule.png", "000/Sa\u0308ule.png"):
        side_car = wish(f"photo,piece\n{name},002\n")
        done = measure_folder(log, str(place), side_car, hands=in_this_process())
        assert done.notes == []
        piece_id = piece_ids(log)["002"]
        lines = [one for one in list_readings(log) if one.piece_id == piece_id]
        assert len(lines) == 2
