"""A batch of photos while others work on it: nothing said is lost or saved twice."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.errors import ConflictError
from analysis.model.face_proposal import FaceProposal
from analysis.model.log import Piece
from analysis.services import log as log_service
from analysis.services import photo_queue, queue_proposals, records
from analysis.services.queue_opening import opened
from analysis.storage import leases
from analysis.storage.readings import delete_reading
from tests.support.cast_pieces import filled
from tests.support.queue_photos import by_name, photo, piece_card

_FRAME = np.array([[0.0, 0.0], [0.0, 700.0], [900.0, 700.0], [900.0, 0.0]])


@pytest.fixture
def log(tmp_path):
    return log_service.open_log(tmp_path)


@pytest.fixture(autouse=True)
def _quick(monkeypatch):
    face = FaceProposal(
        outline_px=_FRAME, left_out_px=(), sure=0.9, face_share=0.8, whole=False
    )
    monkeypatch.setattr(photo_queue, "find_face", lambda *_: face)


@pytest.fixture
def pieces(log):
    return filled(log, 3)[1]


def given(log, piece_id, seed=1, name="a.jpg", **options):
    photo_queue.give(log, photo(seed, piece_card(log, piece_id), 0), name, **options)
    photo_queue.look(log)
    return by_name(log)[name]


def test_photos_after_a_confirmed_card_still_go_with_it(log, pieces):
    first = given(log, pieces[0])
    photo_queue.give(log, photo(2, None, 1), "b.jpg")
    photo_queue.confirm(log, first, pieces[0], None)
    photo_queue.look(log)
    assert by_name(log)["b.jpg"].piece_id == pieces[0]
    photo_queue.measure_ready(log)
    photo_queue.look(log)
    after = by_name(log)["b.jpg"]
    assert (after.piece_id, after.why) == (pieces[0], "time")


def test_second_device_with_an_old_page_is_told(log, pieces):
    as_read = given(log, pieces[0])
    photo_queue.confirm(log, as_read, pieces[0], None)
    with pytest.raises(ConflictError, match=r"checked photo a\.jpg meanwhile"):
        photo_queue.confirm(log, as_read, pieces[1], None)
    photo_queue.measure_ready(log)
    with pytest.raises(ConflictError, match=r"checked photo a\.jpg meanwhile"):
        photo_queue.confirm(log, as_read, pieces[1], None)
    assert [one.piece_id for one in log_service.list_readings(log)] == [pieces[0]]


def test_choice_made_while_proposals_are_worked_out_stands(log, pieces, monkeypatch):
    as_read = given(log, pieces[0])
    candidates = queue_proposals._candidates

    def choosing(*of):
        photo_queue.confirm(log, as_read, pieces[2], None)
        return candidates(*of)

    records.hide(log, Piece, pieces[0])  # so that the proposal changes
    monkeypatch.setattr(queue_proposals, "_candidates", choosing)
    photo_queue.look(log)
    (now,) = photo_queue.list_waiting(log)
    assert (now.state, now.piece_id) == ("ready", pieces[2])


def test_photo_put_aside_while_proposing_stops_no_other(log, pieces, monkeypatch):
    aside = given(log, pieces[0])
    other = given(log, pieces[1], seed=2, name="b.jpg")
    photo_queue.confirm(log, other, pieces[1], None)
    candidates = queue_proposals._candidates

    def putting_aside(*of):
        photo_queue.put_aside(log, aside.id)
        return candidates(*of)

    records.hide(log, Piece, pieces[0])
    monkeypatch.setattr(queue_proposals, "_candidates", putting_aside)
    photo_queue.look(log)
    photo_queue.measure_ready(log)
    assert {name: one.state for name, one in by_name(log).items()} == {"b.jpg": "done"}


def test_photo_put_aside_while_measured_leaves_no_reading(log, pieces, monkeypatch):
    waiting = given(log, pieces[0])
    photo_queue.confirm(log, waiting, pieces[0], None)
    measure = photo_queue.measure

    def slow(*given, **options):
        photo_queue.put_aside(log, waiting.id)
        return measure(*given, **options)

    monkeypatch.setattr(photo_queue, "measure", slow)
    photo_queue.measure_ready(log)
    assert log_service.list_readings(log) == ()


@pytest.mark.parametrize("cleared", [False, True])
def test_photo_whose_reading_was_deleted_is_measured_anew(log, pieces, cleared):
    file = photo(5, piece_card(log, pieces[0]), 0)
    for stage in ("as_struck", "ground"):
        photo_queue.give(log, file, "a.jpg", stage=stage)
        photo_queue.look(log)
        (waiting,) = photo_queue.list_waiting(log)
        photo_queue.confirm(log, waiting, pieces[0], None)
        photo_queue.measure_ready(log)
        (line,) = log_service.list_readings(log)
        assert line.use.stage == stage
        if stage == "as_struck":
            delete_reading(log, line.id)
            if cleared:
                photo_queue.clear_done(log)


def test_photo_given_again_takes_the_new_stage_until_it_is_checked(log, pieces):
    file = photo(5, piece_card(log, pieces[0]), 0)
    photo_queue.give(log, file, "a.jpg")
    photo_queue.give(log, file, "a.jpg", stage="ground")
    photo_queue.look(log)
    photo_queue.give(log, file, "a.jpg", stage="filled")
    (waiting,) = photo_queue.list_waiting(log)
    assert waiting.asked.stage == "filled"
    assert waiting.asked.piece_ids == (pieces[0],)
    photo_queue.confirm(log, waiting, pieces[0], None)
    photo_queue.give(log, file, "a.jpg", stage="polished")
    assert by_name(log)["a.jpg"].asked.stage == "filled"


def as_another_process(monkeypatch, work):
    """Do work as a process of its own would, whose claims are not this one's."""
    with monkeypatch.context() as other:
        other.setattr(leases, "this_process", lambda _: "elsewhere/1/other")
        return work()


def test_second_process_leaves_alone_what_the_first_measures(log, pieces, monkeypatch):
    waiting = given(log, pieces[0])
    photo_queue.confirm(log, waiting, pieces[0], None)
    measure, counts = photo_queue.measure, []

    def slow(*given, **options):
        if not counts:
            counts.append(None)
            counts[0] = as_another_process(
                monkeypatch, lambda: photo_queue.measure_ready(log)
            )
        return measure(*given, **options)

    monkeypatch.setattr(photo_queue, "measure", slow)
    assert photo_queue.measure_ready(log) == 1
    assert counts == [0]
    assert len(log_service.list_readings(log)) == 1
    assert by_name(log)["a.jpg"].state == "done"


@pytest.mark.parametrize("saved_first", ["slow", "quick"])
def test_reading_saved_by_two_is_deleted_by_none(log, pieces, monkeypatch, saved_first):
    # The first is so slow that its claim has run out.
    monkeypatch.setattr(leases, "_stands", lambda *_: False)
    waiting = given(log, pieces[0])
    photo_queue.confirm(log, waiting, pieces[0], None)
    name = "measure" if saved_first == "quick" else "say_of_waiting"
    work, begun = getattr(photo_queue, name), []

    def slow(*given, **options):
        if not begun:
            begun.append(1)
            assert as_another_process(
                monkeypatch, lambda: photo_queue.measure_ready(log)
            )
        return work(*given, **options)

    monkeypatch.setattr(photo_queue, name, slow)
    photo_queue.measure_ready(log)
    (line,) = log_service.list_readings(log)
    done = by_name(log)["a.jpg"]
    assert (done.state, done.reading_id) == ("done", line.id)


def test_looking_is_claimed_too(log, pieces, monkeypatch):
    photo_queue.give(log, photo(1, piece_card(log, pieces[0]), 0), "a.jpg")
    looks: list[int] = []

    def slow(*given):
        looks.append(1)
        if len(looks) == 1:
            as_another_process(monkeypatch, lambda: photo_queue.look(log))
        return opened(*given)

    monkeypatch.setattr(photo_queue, "opened", slow)
    photo_queue.look(log)
    assert len(looks) == 1
    assert by_name(log)["a.jpg"].state == "check"
