"""A folder is measured once, whatever is in it."""

from __future__ import annotations

import time

import pytest

from analysis.errors import ConflictError, InputError
from analysis.services.folders.run import measure_folder
from analysis.services.log import list_readings, load_reading
from analysis.storage.castings import list_castings
from analysis.storage.folder_runs import list_runs
from analysis.storage.leases import claimed
from analysis.storage.readings import delete_reading
from tests.support.folder_photos import (
    copy_of,
    folder_of,
    in_this_process,
    readings_by_photo,
    run,
    small_photo,
    wish,
)
from tests.support.queue_photos import photo, piece_card


@pytest.fixture
def place(tmp_path):
    return folder_of(tmp_path / "photos", 3)


def pieces_of(log):
    names = {one.piece.id: one.piece.name for one in list_castings(log)}
    return sorted(names[line.piece_id] for line in list_readings(log))


def test_folders_named_after_pieces_are_measured_whole_and_told_so(log, place):
    assert run(log, place)[0] == (3, 3, 0, 0)
    assert pieces_of(log) == ["000", "001", "002"]
    reading = load_reading(log, list_readings(log)[0].id)
    assert {"whole_photo", "no_scale"} <= reading.flags
    assert reading.summary.void_count == 3
    (told,) = list_runs(log)
    assert (told.photos, told.measured, told.ended_at is None) == (3, 3, False)
    assert len(told.latest) == 3


def test_begun_again_it_measures_only_what_is_new(log, place):
    run(log, place)
    folder_of(place, 4)
    assert run(log, place)[0] == (4, 1, 3, 0)
    assert len(list_readings(log)) == 4


def test_a_copy_of_a_photo_is_no_second_one(log, place):
    (place / "000" / "again.png").write_bytes(small_photo(0))
    assert run(log, place)[0] == (4, 3, 1, 0)


def test_a_reading_that_was_deleted_does_not_come_back(log, place):
    run(log, place)
    delete_reading(log, list_readings(log)[0].id)
    assert run(log, place)[0] == (3, 0, 3, 0)
    assert len(list_readings(log)) == 2


def test_what_cannot_be_measured_is_named_with_its_cause(log, place):
    (place / "000" / "text.jpg").write_bytes(b"no photo")
    (place / "nobody").mkdir()
    (place / "nobody" / "a.png").write_bytes(small_photo(9))
    counts, done = run(log, place)
    assert counts == (5, 3, 0, 2)
    causes = {one.file.path: one.problem for one in done.failures}
    assert "not a photo that can be read" in causes["000/text.jpg"]
    assert "Nothing tells which piece a.png is of" in causes["nobody/a.png"]


def test_resumed_it_reads_nothing_again_and_tells_again_what_failed(log, place):
    (place / "000" / "text.jpg").write_bytes(b"no photo")
    run(log, place)
    for path in place.rglob("*.png"):
        path.chmod(0)  # still listed; nothing is to be read
    counts, done = run(log, place, wish(resume=True))
    assert counts == (4, 0, 3, 1)
    assert "not a photo" in done.failures[0].problem
    path = place / "001" / "face.png"
    path.chmod(0o644)
    path.write_bytes(small_photo(77))
    assert run(log, place, wish(resume=True))[0] == (4, 1, 2, 1)


def test_side_car_tells_piece_scale_face_and_set_up(log, place):
    text = (
        "photo;piece;mm_per_px;face;set_up;stage;up;form_face;left_out\n"
        "000/face.png;003;0,5;10,10 110,10 110,80 10,80;rack;ground;top;front;"
        "20,20 30,20 30,30\n"
        "001\\face.png;002;0,25;found;;;;;\n"
    )
    run(log, place, wish(text))
    assert pieces_of(log) == ["002", "002", "003"]
    line = next(one for one in list_readings(log) if one.use.set_up == "rack")
    reading = load_reading(log, line.id)
    assert line.use.stage == "ground"
    assert (reading.scale.mm_per_px, reading.scale.method) == (0.5, "typed")
    assert reading.face.outline_px[1].tolist() == [10.0, 110.0]
    assert (reading.face.up, reading.face.name) == ("top", "front")
    assert len(reading.face.left_out_px) == 1
    assert "whole_photo" not in reading.flags


def test_side_car_brings_pieces_that_the_log_does_not_know(log, place):
    text = (
        "photo,piece,pour,cast_on,form,stage\n"
        "000/face.png,A-1,P9,2026-05-01,Trough A,as_struck\n"
        "001/face.png,A-1,P9,2026-05-01,Trough A,as_struck\n"
        "002/face.png,000,12,2026-05-04,Trough A,as_struck\n"
    )
    counts, done = run(log, place, wish(text))
    assert counts == (3, 3, 0, 0)
    assert done.notes == ["Taken into the log from the side-car: 1 pieces."]
    assert pieces_of(log) == ["000", "A-1", "A-1"]
    assert run(log, place, wish(text))[0] == (3, 0, 3, 0)


def test_the_side_that_was_up_is_asked_for_in_words(log, place):
    text = "photo,piece,up\n000/face.png,000,north\n"
    problem = run(log, place, wish(text))[1].failures[0].problem
    assert "must be one of top, right, bottom, left or blank; 'north' was" in problem


@pytest.mark.parametrize(
    ("line", "cause"),
    [
        ("000/face.png,777,,", "Piece 777 is not in the log"),
        ("000/face.png,000,x,", "Line 2 of the side-car, mm_per_px: 'x' is not a num"),
        ("000/face.png,000,-1,", "Scale must be more than 0"),
        ("000/face.png,000,,5 5", "Face must be whole, found or at least three x,y"),
        ("face.png,000,,", "names face.png, but 3 photos are named so"),
    ],
)
def test_a_line_that_cannot_be_obeyed_costs_only_its_photo(log, place, line, cause):
    counts, done = run(log, place, wish(f"photo,piece,mm_per_px,face\n{line}\n"))
    assert counts[1] >= (2 if line.startswith("000") else 0)
    assert cause in done.failures[0].problem


def test_a_new_piece_that_cannot_be_kept_stops_it_before_anything(log, place):
    text = "photo,piece,pour,cast_on\n000/face.png,A-1,P9,yesterday\n"
    with pytest.raises(InputError, match="cast_on is not a date"):
        run(log, place, wish(text))
    assert list_readings(log) == ()


@pytest.fixture
def cards(log, tmp_path):
    """Two photos with cards of pieces 000 and 001, in a folder named after 000."""
    ids = {one.piece.name: one.piece.id for one in list_castings(log)}
    place = tmp_path / "cards" / "000"
    place.mkdir(parents=True)
    for n, name in enumerate(("000", "001")):
        data = photo(n, piece_card(log, ids[name]))
        (place / f"{name}.jpg").write_bytes(data)
    return place.parent


@pytest.mark.slow
def test_cards_tell_piece_and_scale_and_contradict_folders(log, cards):
    counts, done = run(log, cards)
    assert counts == (2, 1, 0, 1)
    assert "and the folder says 000: say which" in done.failures[0].problem
    (line,) = list_readings(log)
    reading = load_reading(log, line.id)
    assert (pieces_of(log), reading.scale.method) == (["000"], "sheet")
    assert len(reading.face.left_out_px) == 1
    (cards / "000").rename(cards / "evening")
    assert run(log, cards)[0] == (2, 1, 1, 0)
    assert pieces_of(log) == ["000", "001"]


def test_names_are_read_by_a_stated_pattern(log, tmp_path):
    place = tmp_path / "photos"
    place.mkdir()
    (place / "003_rack_2.png").write_bytes(small_photo(1))
    (place / "999_rack_2.png").write_bytes(small_photo(2))
    counts, done = run(log, place, wish(names="{piece}_{set_up}_*"))
    assert counts == (2, 1, 0, 1)
    assert list_readings(log)[0].use.set_up == "rack"
    assert done.failures[0].problem.startswith("Piece 999 is not in the log")


def test_the_log_inside_the_folder_is_passed_over(made, tmp_path):
    place = folder_of(tmp_path / "photos", 1)
    log = copy_of(made, place / "log")
    assert run(log, place)[0] == (1, 1, 0, 0)
    for path in log.photo_folder.rglob("*"):
        if path.is_file():
            path.rename(path.with_suffix(".png"))
    assert run(log, place)[0][0] == 1


def test_a_folder_is_measured_by_one_process_at_a_time(log, place):
    with (
        claimed(log, f"folder {place.resolve()}", holder="other/1/x"),
        pytest.raises(ConflictError, match="Another process measures"),
    ):
        run(log, place)


def test_a_followed_folder_is_looked_at_again(log, place, monkeypatch):
    monkeypatch.setattr("analysis.services.folders.run.STILL_S", 0.0)
    looks = iter((1, 2, 3))

    def again():
        look = next(looks, 0)
        if look == 2:
            folder_of(place, 4)
        return bool(look)

    counts, done = run(log, place, again=again)
    assert counts == (4, 4, 0, 0)
    assert done.left_s == 0


def test_a_file_that_may_still_grow_is_left_for_the_next_look(log, place):
    def grown():
        folder_of(place, 4)
        return next(looks, False)

    looks = iter((True,))
    assert run(log, place, again=grown)[0] == (3, 3, 0, 0)


def test_each_reading_is_that_of_the_photo_alone(log, place, made, tmp_path):
    run(log, place)
    other = copy_of(made, tmp_path / "other")
    measure_folder(other, str(place), hands=in_this_process(3))
    assert readings_by_photo(other) == readings_by_photo(log)


def test_a_photo_that_changes_meanwhile_is_told(log, place):
    def tell(_progress, outcome):
        if outcome is None:
            time.sleep(0)
        elif outcome.file.path == "000/face.png":
            (place / "002" / "face.png").unlink()

    counts, done = run(log, place, tell=tell)
    assert counts in {(3, 2, 0, 1), (3, 3, 0, 0)}
    assert all(
        "cannot be read" in one.problem or "gone" in one.problem
        for one in done.failures
    )
