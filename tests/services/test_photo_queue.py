"""A batch of photos: forty of twelve pieces, checked, measured, and nothing lost."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.errors import NotInLogError, PhotoError
from analysis.model.card import Code
from analysis.model.face_proposal import FaceProposal
from analysis.model.waiting import READY, Asked, WaitingPhoto
from analysis.services import log as log_service
from analysis.services import photo_queue, queue_opening
from analysis.storage.log_mark import log_mark
from tests.support.cast_pieces import filled, planned
from tests.support.queue_photos import (
    by_name,
    photo,
    piece_card,
)


@pytest.fixture
def log(tmp_path):
    return log_service.open_log(tmp_path)


@pytest.fixture
def quick(monkeypatch):
    """Leave the outline out, which takes most of the time and is tried elsewhere."""
    frame = np.array([[0.0, 0.0], [0.0, 900.0], [700.0, 900.0], [700.0, 0.0]])
    found = FaceProposal(
        outline_px=frame, left_out_px=(), sure=0.9, face_share=0.8, whole=False
    )
    for room in (photo_queue, queue_opening):
        monkeypatch.setattr(room, "find_face", lambda *_: found)


@pytest.mark.slow
@pytest.mark.usefixtures("quick")
def test_forty_photos_of_twelve_pieces_are_assigned_without_an_error(log):
    _, pieces = filled(log, 12)
    rng = np.random.default_rng(8)
    truth = {}
    for n in range(40):
        piece = pieces[n % 12]
        card = piece_card(log, piece, "AB"[n % 2])
        name = f"IMG_{n:04}.jpg"
        photo_queue.give(log, photo(100 + n, card, rng.uniform(0, 600)), name)
        truth[name] = piece
    photo_queue.look(log)

    found = by_name(log)
    assert {name: one.piece_id for name, one in found.items()} == truth
    assert {one.why for one in found.values()} == {"card"}
    assert all(one.asked.has_scale for one in found.values())


@pytest.mark.usefixtures("quick")
def test_photos_without_a_card_go_with_the_one_before(log):
    _, pieces = filled(log, 3)
    card = piece_card(log, pieces[1])
    photo_queue.give(log, photo(1, card, 0), "a.jpg")
    photo_queue.give(log, photo(2, None, 2), "b.jpg")
    photo_queue.give(log, photo(3, None, 60), "c.jpg")
    photo_queue.look(log)
    found = by_name(log)

    assert (found["b.jpg"].piece_id, found["b.jpg"].why) == (pieces[1], "time")
    assert (found["c.jpg"].piece_id, found["c.jpg"].why) == (None, "unknown")
    assert not found["b.jpg"].asked.has_scale


def test_photo_is_measured_with_the_scale_of_its_card(log):
    _, pieces = filled(log, 2)
    photo_queue.give(
        log, photo(5, piece_card(log, pieces[0]), 0), "a.jpg", stage="ground"
    )
    photo_queue.look(log)
    (waiting,) = photo_queue.list_waiting(log)
    photo_queue.confirm(log, waiting, pieces[0], None)
    assert photo_queue.measure_ready(log) == 1

    (line,) = log_service.list_readings(log)
    reading = log_service.load_reading(log, line.id)
    assert line.piece_id == pieces[0]
    assert line.use.stage == "ground"
    assert reading.scale.method == "sheet"
    # Six round voids of 16 px at 3 px per mm.
    assert reading.summary.void_count == 6
    assert reading.summary.largest_void_mm == pytest.approx(16 / 3, rel=0.12)
    assert len(reading.face.left_out_px) == 1
    (done,) = photo_queue.list_waiting(log)
    assert (done.state, done.reading_id) == ("done", line.id)


def test_measuring_goes_on_where_it_was_cut_off(log):
    _, pieces = filled(log, 2)
    photo_queue.give(log, photo(5, piece_card(log, pieces[0]), 0), "a.jpg")
    photo_queue.look(log)
    (waiting,) = photo_queue.list_waiting(log)
    photo_queue.confirm(log, waiting, pieces[0], None)
    photo_queue.measure_ready(log)
    # Cut off between the save and the note of it: done again, saved once.
    photo_queue.confirm(log, photo_queue.list_waiting(log)[0], pieces[0], None)
    again = log_service.open_log(log.file.parent)
    assert photo_queue.measure_ready(again) == 1
    assert len(log_service.list_readings(log)) == 1


@pytest.mark.usefixtures("quick")
def test_what_cannot_be_measured_is_noted_and_stops_nothing(log, monkeypatch):
    _, pieces = filled(log, 2)
    for n in range(3):
        photo_queue.give(log, photo(n, piece_card(log, pieces[0]), n), f"{n}.jpg")
    photo_queue.look(log)
    first, _, third = photo_queue.list_waiting(log)
    photo_queue.confirm(log, first, pieces[0], ((0.0, 0.0), (5.0, 5.0), (10.0, 10.0)))
    photo_queue.confirm(log, third, pieces[0], None)
    measure = photo_queue.measure

    def breaks(taken, **kind):
        if taken.name == "2.jpg":
            msg = "boom"
            raise RuntimeError(msg)
        return measure(taken, **kind)

    monkeypatch.setattr(photo_queue, "measure", breaks)
    assert photo_queue.measure_ready(log) == 2
    found = by_name(log)
    assert found["0.jpg"].state == "failed"
    assert "outline" in found["0.jpg"].problem.lower()
    assert found["2.jpg"].problem == (
        "2.jpg could not be measured: measure it by hand."
    )
    assert found["1.jpg"].state == "check"


def test_same_photo_given_twice_waits_once(log):
    filled(log, 1)
    data = photo(1, None, 0)
    assert photo_queue.give(log, data, "a.jpg") == photo_queue.give(log, data, "b.jpg")
    assert len(photo_queue.list_waiting(log)) == 1


def test_what_is_no_photo_is_refused_and_not_kept(log):
    with pytest.raises(PhotoError, match=r"a\.jpg"):
        photo_queue.give(log, b"no photo", "a.jpg")
    assert photo_queue.list_waiting(log) == ()


@pytest.mark.usefixtures("quick")
def test_choice_by_hand_is_not_proposed_away(log):
    _, pieces = filled(log, 3)
    photo_queue.give(log, photo(1, piece_card(log, pieces[0]), 0), "a.jpg")
    photo_queue.look(log)
    photo_queue.confirm(log, photo_queue.list_waiting(log)[0], pieces[2], None)
    photo_queue.look(log)
    (found,) = photo_queue.list_waiting(log)
    assert (found.piece_id, found.why, found.state) == (pieces[2], "by_hand", "ready")


@pytest.mark.usefixtures("quick")
def test_card_of_another_log_is_told(log):
    _, pieces = filled(log, 1)
    other = Code(layout="A", kind="piece", number=str(pieces[0]), log_mark="ZZZZZZ")
    photo_queue.give(log, photo(1, other, 0), "a.jpg")
    photo_queue.look(log)
    (found,) = photo_queue.list_waiting(log)
    assert "another log" in found.problem
    assert found.asked.piece_ids == ()


def test_background_measures_what_is_ready(log):
    _, pieces = filled(log, 1)
    photo_queue.give(log, photo(5, piece_card(log, pieces[0]), 0), "a.jpg")
    photo_queue.look(log)
    photo_queue.confirm(log, photo_queue.list_waiting(log)[0], pieces[0], None)
    photo_queue.start(log)
    photo_queue.start(log)
    photo_queue._THREADS[log.url].join(timeout=60)
    assert not photo_queue.is_working(log)
    assert [one.state for one in photo_queue.list_waiting(log)] == ["done"]
    photo_queue.clear_done(log)
    assert photo_queue.list_waiting(log) == ()


def test_photo_put_aside_does_not_wait_any_more(log):
    _, pieces = filled(log, 1)
    photo_queue.give(log, photo(1, None, 0), "a.jpg")
    (waiting,) = photo_queue.list_waiting(log)
    photo_queue.put_aside(log, waiting.id)
    assert photo_queue.list_waiting(log) == ()
    with pytest.raises(NotInLogError, match="does not wait any more"):
        photo_queue.confirm(log, waiting, pieces[0], None)
    # It can be given again.
    photo_queue.give(log, photo(1, None, 0), "a.jpg")
    assert len(photo_queue.list_waiting(log)) == 1


def test_view_of_a_waiting_photo_is_what_is_measured(log):
    _, pieces = filled(log, 1)
    photo_queue.give(log, photo(1, piece_card(log, pieces[0]), 0), "a.jpg")
    photo_queue.look(log)
    shown, scale, areas = photo_queue.outlined(log, photo_queue.list_waiting(log)[0])
    assert shown.view.kind == "straightened"
    assert scale.mm_per_px == pytest.approx(1 / 2.9, rel=0.06)
    assert len(areas) == 1


@pytest.mark.usefixtures("quick")
def test_card_of_a_planned_pour_gives_the_scale_and_no_piece(log):
    filled(log, 2)
    short = planned(log).key.removeprefix("plan ").upper()[:12]
    code = Code(layout="A", kind="plan", number=f"{short}.2", log_mark=log_mark(log))
    photo_queue.give(log, photo(5, code, None), "a.jpg")
    photo_queue.look(log)
    (found,) = photo_queue.list_waiting(log)
    assert (found.state, found.problem, found.piece_id) == ("check", "", None)
    assert found.asked.has_scale


def test_photo_measured_by_hand_meanwhile_is_done(log):
    _, pieces = filled(log, 2)
    data = photo(5, piece_card(log, pieces[0]), 0)
    photo_queue.give(log, data, "a.jpg")
    photo_queue.look(log)
    photo_queue.confirm(log, photo_queue.list_waiting(log)[0], pieces[1], None)
    photo_queue.measure_ready(log)
    photo_queue.clear_done(log)
    photo_queue.give(log, data, "b.jpg")
    photo_queue.look(log)
    (found,) = photo_queue.list_waiting(log)
    assert (found.state, found.piece_id) == ("done", pieces[1])
    assert found.reading_id is not None


@pytest.mark.usefixtures("quick")
def test_file_that_is_gone_is_noted(log):
    filled(log, 1)
    photo_queue.give(log, photo(5, None, 0), "a.jpg")
    (waiting,) = photo_queue.list_waiting(log)
    (log.photo_folder / waiting.sha256[:2] / waiting.sha256).unlink()
    photo_queue.look(log)
    (found,) = photo_queue.list_waiting(log)
    assert found.state == "failed"
    assert "missing" in found.problem


@pytest.mark.parametrize("layout", ["A", "B", "C"])
def test_card_is_not_taken_for_the_face(log, layout):
    _, pieces = filled(log, 1)
    card = piece_card(log, pieces[0], layout)
    for seed in range(2):
        photo_queue.give(log, photo(seed, card, seed), f"{seed}.jpg")
    photo_queue.look(log)
    for one in photo_queue.list_waiting(log):
        across = np.ptp(np.array(one.asked.outline), axis=0)
        # The face of 340 x 240 mm fills nearly all of the 1000 x 750 px.
        assert (across > (850, 600)).all()


@pytest.mark.usefixtures("quick")
def test_piece_whose_photo_is_ready_is_not_proposed_for_another(log):
    _, pieces = filled(log, 2)
    photo_queue.give(log, photo(1, piece_card(log, pieces[0]), 0), "a.jpg")
    photo_queue.give(log, photo(2, None, 60), "b.jpg")
    photo_queue.look(log)
    first, second = photo_queue.list_waiting(log)
    assert (second.piece_id, second.why) == (pieces[1], "only_one")
    photo_queue.confirm(log, first, pieces[0], None)
    photo_queue.look(log)
    assert photo_queue.list_waiting(log)[1].piece_id == pieces[1]


def test_who_gave_many_photos_does_not_keep_the_others_waiting(monkeypatch):
    def ready(number, giver):
        return WaitingPhoto(
            id=number,
            sha256="",
            name=f"{giver}{number}",
            taken_at=None,
            piece_id=1,
            state=READY,
            why="card",
            asked=Asked(giver=giver),
            problem="",
            reading_id=None,
        )

    waiting = [ready(n, "a") for n in range(1, 6)]
    monkeypatch.setattr(photo_queue, "list_waiting", lambda _: tuple(waiting))
    served, order = {}, []
    for come in ([], [], [ready(10, "b"), ready(11, "b")], [ready(12, "c")], [], []):
        waiting += come
        one = photo_queue._next_ready(None, set(), served)
        order.append(one.name)
        waiting.remove(one)
    assert order == ["a1", "a2", "a3", "b10", "c12", "a4"]


def test_who_gives_a_photo_is_kept_with_it(log, monkeypatch):
    monkeypatch.setattr(photo_queue, "who_asks", lambda: "phone")
    photo_queue.give(log, photo(3, None, 0), "a.jpg")
    (waiting,) = photo_queue.list_waiting(log)
    assert waiting.asked.giver == "phone"
