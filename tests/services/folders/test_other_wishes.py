"""A folder begun again after other wishes: nothing is obeyed only in part, unsaid."""

from __future__ import annotations

import os

import pytest

from analysis.model.log import Piece
from analysis.services import records
from analysis.services.log import list_readings, load_reading
from analysis.storage.castings import piece_ids
from analysis.storage.folder_runs import told_outcomes
from analysis.storage.readings import delete_reading
from tests.support.folder_photos import (
    folder_of,
    run,
    small_photo,
    wish,
)


@pytest.fixture
def place(tmp_path):
    return folder_of(tmp_path / "photos", 2)


SCALED = "photo,piece,mm_per_px\n000/face.png,000,0.5\n001/face.png,001,0.5\n"
OTHERS = {
    "scale": SCALED,
    "piece": "photo,piece\n000/face.png,002\n001/face.png,003\n",
    "face": "photo,piece,face\n000/face.png,000,found\n001/face.png,001,found\n",
    "stage": "photo,piece,stage\n000/face.png,000,ground\n001/face.png,001,ground\n",
}


@pytest.mark.parametrize("resume", [False, True])
@pytest.mark.parametrize("other", OTHERS.values(), ids=OTHERS)
def test_photos_that_were_not_asked_for_so_before_are_told(log, place, other, resume):
    run(log, place)
    for _ in range(2):  # told as often as it is asked
        counts, done = run(log, place, wish(other, resume=resume))
        assert counts == (2, 0, 2, 0)
        (note,) = done.notes
        assert note.startswith("The log has these photos already, but they were not")
        assert "000/face.png, 001/face.png. They were not measured again" in note
    # Asked as at first, there is nothing to tell.
    assert run(log, place, wish(resume=resume))[1].notes == []


def test_they_are_measured_as_asked_once_their_readings_are_deleted(log, place):
    run(log, place)
    for line in list_readings(log):
        delete_reading(log, line.id)
    for resume in (True, False):
        counts, done = run(log, place, wish(SCALED, resume=resume))
        assert (counts[1], done.notes) == ((2, []) if resume else (0, []))
    scales = [load_reading(log, line.id).scale for line in list_readings(log)]
    assert [one.mm_per_px for one in scales] == [0.5, 0.5]


def test_a_copy_that_lies_with_another_piece_is_told(log, place):
    (place / "001" / "copy.png").write_bytes(small_photo(0))
    counts, done = run(log, place)
    assert counts == (3, 2, 1, 0)
    assert "(piece, scale, face, set-up or stage): 001/copy.png." in done.notes[0]


@pytest.mark.parametrize(
    ("before", "cause"),
    [
        ("photo,piece,mm_per_px\n000/face.png,000,x\n", "'x' is not a number"),
        ("photo,piece\n000/face.png,777\n", "Piece 777 is not in the log"),
    ],
)
def test_resumed_with_a_corrected_table_what_failed_is_tried_again(
    log, place, before, cause
):
    counts, done = run(log, place, wish(before))
    assert counts == (2, 1, 0, 1)
    assert cause in done.failures[0].problem
    # Told again while the table says so, and no longer.
    assert run(log, place, wish(before, resume=True))[0] == (2, 0, 1, 1)
    counts, done = run(log, place, wish(SCALED, resume=True))
    assert (counts, done.failures) == ((2, 1, 1, 0), [])


def test_resumed_after_its_piece_came_into_the_log_a_photo_is_measured(log, place):
    text = "photo,piece\n000/face.png,777\n"
    assert run(log, place, wish(text))[0] == (2, 1, 0, 1)
    records.add(log, Piece(name="777", pour_id=1, form_id=1), save_token="777")
    assert run(log, place, wish(text, resume=True))[0] == (2, 1, 1, 0)
    assert piece_ids(log)["777"] in {one.piece_id for one in list_readings(log)}


def test_other_content_under_the_same_name_is_another_photo(log, place):
    run(log, place)
    face = place / "000" / "face.png"
    before = face.stat()
    face.write_bytes(small_photo(9))
    os.utime(face, ns=(before.st_atime_ns, before.st_mtime_ns + 1))
    for resume in (True, False):
        assert run(log, place, wish(resume=resume))[0] == (
            (2, 1, 1, 0) if resume else (2, 0, 2, 0)
        )
    assert len(list_readings(log)) == 3


def test_a_photo_of_another_name_is_known_by_its_content(log, place):
    run(log, place)
    (place / "000" / "face.png").rename(place / "000" / "IMG_2.png")
    counts, done = run(log, place, wish(resume=True))
    assert (counts, done.notes) == ((2, 0, 2, 0), [])
    (place / "000").rename(place / "evening")
    counts, done = run(log, place, wish(resume=True))
    assert (counts, len(done.notes)) == ((2, 0, 2, 0), 1)


@pytest.mark.parametrize("when", ["before it is read", "before it is saved"])
def test_a_photo_replaced_meanwhile_is_told_and_never_saved_as_another(
    log, place, monkeypatch, when
):
    from analysis.services.folders import hands  # noqa: PLC0415

    face = place / "000" / "face.png"
    real = hands.measure_file

    def replaced(*words):
        if when == "before it is read":
            face.write_bytes(small_photo(9))
            return real(*words)
        made = real(*words)
        face.write_bytes(small_photo(9))
        return made

    monkeypatch.setattr(hands, "measure_file", replaced)
    counts, done = run(log, place)
    assert counts == (2, 1, 0, 1)
    assert done.failures[0].file.path == "000/face.png"
    monkeypatch.undo()
    assert run(log, place, wish(resume=True))[0] == (2, 1, 1, 0)
    assert len(list_readings(log)) == 2


def test_what_an_older_program_told_is_looked_at_anew(log, place):
    from sqlalchemy import update  # noqa: PLC0415

    from analysis.storage.engine import writing  # noqa: PLC0415
    from analysis.storage.tables import FOLDER_PHOTO  # noqa: PLC0415

    run(log, place)
    with writing(log) as connection:
        connection.execute(update(FOLDER_PHOTO).values(asked=""))
    assert run(log, place, wish(resume=True))[0] == (2, 0, 2, 0)
    assert all(one.asked for one in told_outcomes(log, 1).values())
