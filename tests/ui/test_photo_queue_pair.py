"""Evening photos that are one face in two lights: shown beside each other, one tap."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.face_proposal import FaceProposal
from analysis.services import log as log_service
from analysis.services import photo_queue, queue_opening
from tests.services.pair_photos import pair_of_photos
from tests.support.cast_pieces import filled
from tests.support.screens import button, press, ran, start, texts
from ui.photo_queue import words as said


@pytest.fixture
def log(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    frame = np.array([[0.0, 0.0], [0.0, 479.0], [359.0, 479.0], [359.0, 0.0]])
    found = FaceProposal(
        outline_px=frame, left_out_px=(), sure=0.9, face_share=1.0, whole=True
    )
    for room in (photo_queue, queue_opening):
        monkeypatch.setattr(room, "find_face", lambda *_: found)
    monkeypatch.setattr(photo_queue, "start", lambda _log: None)
    log = log_service.open_log(tmp_path)
    filled(log, 1)
    for number, data in enumerate(pair_of_photos()):
        photo_queue.give(log, data, f"{number}.png")
    photo_queue.look(log)
    return log


def test_a_pair_is_taken_by_one_tap(log):
    app = ran(start("photo_queue"))
    assert said.SAME_FACE in texts(app)
    assert button(app, said.RIGHT_BOTH).disabled
    pick = next(one for one in app.selectbox if one.label == said.WHICH)
    app = ran(pick.set_value(pick.options[0]).run())

    press(app, said.RIGHT_BOTH)

    first, second = photo_queue.list_waiting(log)
    assert first.state == second.state == "ready"
    assert first.asked.second_sha256 == second.sha256
    assert second.asked.first_sha256 == first.sha256


def test_a_pair_is_parted_by_one_tap(log):
    app = ran(start("photo_queue"))

    app = press(app, said.NOT_A_PAIR)

    assert said.RIGHT_BOTH not in [one.label for one in app.button]
    assert {one.state for one in photo_queue.list_waiting(log)} == {"check"}
