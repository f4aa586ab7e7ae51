"""Photos of a batch that are one face in two lights: found, taken, measured."""

import io
from datetime import datetime, timedelta

import numpy as np
import pytest
from PIL import Image

from analysis.errors import ScaleError
from analysis.matching.two_lights import likely_pairs
from analysis.matching.whose import Shown
from analysis.model.face_proposal import FaceProposal
from analysis.model.waiting import CHECK, DONE
from analysis.services import log as log_service
from analysis.services import photo_queue, queue_pairs
from tests.services.pair_photos import pair_of_photos
from tests.support.cast_pieces import filled
from tests.support.queue_photos import by_name

NOON = datetime(2026, 5, 5, 12)  # noqa: DTZ001  camera time has no zone


@pytest.fixture
def log(tmp_path):
    return log_service.open_log(tmp_path)


@pytest.fixture(autouse=True)
def whole(monkeypatch):
    """The whole photo is face: finding it takes most of the time."""
    frame = np.array([[0.0, 0.0], [0.0, 479.0], [359.0, 479.0], [359.0, 0.0]])
    found = FaceProposal(
        outline_px=frame, left_out_px=(), sure=0.9, face_share=1.0, whole=True
    )
    monkeypatch.setattr(photo_queue, "find_face", lambda *_: found)


def taken(png, seconds):
    """The same photo with a camera time."""
    exif = Image.Exif()
    at = NOON + timedelta(seconds=seconds)
    exif.get_ifd(0x8769)[0x9003] = at.strftime("%Y:%m:%d %H:%M:%S")
    file = io.BytesIO()
    Image.open(io.BytesIO(png)).save(file, "JPEG", quality=96, exif=exif)
    return file.getvalue()


@pytest.fixture
def given(log):
    """One pair and a photo of another face, the second of the pair given first."""
    first, second = pair_of_photos()
    filled(log, 1)
    for png, seconds, name in (
        (second, 20, "b.jpg"),
        (pair_of_photos(seed=11)[0], 40, "c.jpg"),
        (first, 0, "a.jpg"),
    ):
        photo_queue.give(log, taken(png, seconds), name)
    photo_queue.look(log)
    return log


def proposed(log):
    waiting = photo_queue.list_waiting(log)
    pairs = [queue_pairs.pair_of(one, waiting) for one in waiting]
    return {tuple(one.name for one in pair) for pair in pairs if pair is not None}


def test_a_pair_is_proposed_in_any_order_of_the_files_and_measured_by_one_tap(given):
    assert proposed(given) == {("a.jpg", "b.jpg")}
    found = by_name(given)
    pair = queue_pairs.pair_of(found["b.jpg"], list(found.values()))
    (piece,) = {one.piece.id for one in log_service.list_castings(given)}

    queue_pairs.confirm_pair(given, pair, piece, None)
    assert photo_queue.measure_ready(given) == 1

    found = by_name(given)
    assert found["a.jpg"].state == found["b.jpg"].state == DONE
    assert found["a.jpg"].reading_id == found["b.jpg"].reading_id
    assert found["c.jpg"].state == CHECK
    (line,) = log_service.list_readings(given)
    reading = log_service.load_reading(given, line.id)
    assert reading.second_light.photo_sha256 == found["b.jpg"].sha256
    assert reading.summary.void_count == 8


def test_what_was_parted_or_compared_stays_so(given, monkeypatch):
    found = by_name(given)
    pair = queue_pairs.pair_of(found["a.jpg"], list(found.values()))
    queue_pairs.part_pair(given, pair)
    looked = []

    def refuse(*planes):
        looked.append(planes)
        msg = "no marks in common"
        raise ScaleError(msg)

    monkeypatch.setattr(queue_pairs, "register", refuse)

    queue_pairs.find_pairs(given)
    queue_pairs.find_pairs(given)

    assert proposed(given) == set()
    assert len(looked) == 1  # b with c, which had not been compared


def test_a_pair_that_cannot_be_measured_comes_back(given, monkeypatch):
    found = by_name(given)
    pair = queue_pairs.pair_of(found["a.jpg"], list(found.values()))
    (piece,) = {one.piece.id for one in log_service.list_castings(given)}
    queue_pairs.confirm_pair(given, pair, piece, None)

    def refuse(*_, **__):
        msg = "The two photos lie too far off."
        raise ScaleError(msg)

    monkeypatch.setattr(photo_queue, "measure_pair", refuse)
    photo_queue.measure_ready(given)

    found = by_name(given)
    assert found["a.jpg"].state == "failed"
    assert found["a.jpg"].problem == "The two photos lie too far off."
    assert found["b.jpg"].state == CHECK
    assert not log_service.list_readings(given)


def shown(number, seconds, **given):
    at = None if seconds is None else NOON + timedelta(seconds=seconds)
    return Shown(id=number, taken_at=at, **given)


@pytest.mark.parametrize(
    ("photos", "pairs"),
    [
        ([shown(1, 30), shown(2, 0), shown(3, 400)], ((2, 1),)),
        ([shown(1, 0, piece_ids=(4,)), shown(2, 9, piece_ids=(5,))], ()),
        ([shown(1, 0, piece_ids=(4,)), shown(2, 9)], ((1, 2),)),
        ([shown(1, 0, form_ids=(4,)), shown(2, 9, form_ids=(5,))], ()),
        ([shown(1, None), shown(2, None), shown(3, 0)], ((1, 2),)),
        ([shown(1, 0), shown(2, 120), shown(3, 241)], ((1, 2),)),
        ([], ()),
    ],
)
def test_neighbours_in_time_are_compared_unless_their_cards_differ(photos, pairs):
    assert likely_pairs(photos) == pairs
    assert likely_pairs(photos[::-1]) == pairs
