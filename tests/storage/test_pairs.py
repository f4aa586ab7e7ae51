import hashlib
from dataclasses import replace
from datetime import date

import pytest

from analysis.errors import InputError
from analysis.model.log import Piece, Pour
from analysis.model.pair import SecondLight
from analysis.storage.backup import back_up, photos_in
from analysis.storage.photo_store import photo_bytes
from analysis.storage.readings import load_reading, save_reading, save_with_new_piece
from analysis.storage.records import add
from tests.support.stored_readings import photo_of, reading_of

FIRST, SECOND = b"lamp to the left", b"lamp to the right"
PAIR = SecondLight(
    photo_sha256=hashlib.sha256(SECOND).hexdigest(),
    to_second=(1.0, 0.0, 3.1, 0.0, 1.0, 0.1 + 0.2, 0.0, 1e-7, 1.0),
    shift_px=3.1,
    rotation_deg=-0.4,
    registration_rms_px=0.21,
    light_angle_deg=None,
)


@pytest.fixture
def piece_id(log):
    pour = add(log, Pour(name="P", cast_on=date(2026, 3, 2)), save_token="pour").id
    return add(log, Piece(name="1", pour_id=pour), save_token="piece").id


def saved(log, piece_id, reading, second, token="reading"):
    return save_reading(
        log,
        photo_bytes=FIRST,
        photo=photo_of(FIRST),
        reading=reading,
        piece_id=piece_id,
        save_token=token,
        second=second,
    )


def test_a_reading_knows_both_photos(log, piece_id):
    reading = reading_of(FIRST, second_light=PAIR)
    number = saved(log, piece_id, reading, (SECOND, photo_of(SECOND, "b.jpg"))).id
    assert load_reading(log, number).second_light == PAIR
    assert photo_bytes(log, PAIR.photo_sha256) == SECOND
    again = saved(log, piece_id, reading, (SECOND, photo_of(SECOND, "b.jpg")))
    assert (again.id, again.already_saved) == (number, True)


def test_a_pair_that_nothing_lines_up_is_kept_so(log, piece_id):
    unknown = {"shift_px": None, "rotation_deg": None, "registration_rms_px": None}
    bare = replace(PAIR, to_second=(), **unknown)
    reading = reading_of(FIRST, second_light=bare)
    number = saved(log, piece_id, reading, (SECOND, photo_of(SECOND, "b.jpg"))).id
    assert load_reading(log, number).second_light == bare


def test_a_reading_of_one_photo_has_no_second(log, piece_id):
    number = saved(log, piece_id, reading_of(FIRST), None).id
    assert load_reading(log, number).second_light is None


def test_a_pair_is_kept_with_a_new_piece(log):
    number = save_with_new_piece(
        log,
        pour=Pour(name="P", cast_on=date(2026, 3, 2)),
        piece=Piece(name="1", pour_id=0),
        photo_bytes=FIRST,
        photo=photo_of(FIRST),
        reading=reading_of(FIRST, second_light=PAIR),
        save_token="all",
        second=(SECOND, photo_of(SECOND)),
    ).id
    assert load_reading(log, number).second_light == PAIR


@pytest.mark.parametrize(
    ("pair", "second"),
    [
        (PAIR, None),
        (None, (SECOND, photo_of(SECOND))),
        (PAIR, (b"another", photo_of(b"another"))),
        (PAIR, (SECOND, photo_of(b"another"))),
    ],
)
def test_a_second_photo_that_is_not_the_readings_is_refused(
    log, piece_id, pair, second
):
    with pytest.raises(InputError, match="second photo of the reading"):
        saved(log, piece_id, reading_of(FIRST, second_light=pair), second)
    with pytest.raises(LookupError):
        photo_bytes(log, PAIR.photo_sha256)


@pytest.mark.of_sqlite
def test_a_backup_holds_both_photos(log, piece_id, tmp_path):
    reading = reading_of(FIRST, second_light=PAIR)
    saved(log, piece_id, reading, (SECOND, photo_of(SECOND)))
    assert set(photos_in(log.file)) == {
        hashlib.sha256(data).hexdigest() for data in (FIRST, SECOND)
    }
    assert back_up(log, tmp_path / "all.zip").exists()
