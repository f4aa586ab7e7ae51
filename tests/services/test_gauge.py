"""Studies in the log, and readings that carry the shop's usual interval."""

from datetime import date

import pytest
import sqlalchemy as sa

from analysis.errors import InputError, NotInLogError
from analysis.model.gauge import UsualSpread, usual_range
from analysis.model.log import PhotoUse, Piece, Pour
from analysis.model.photo import Face
from analysis.model.reading import MeasureSettings
from analysis.model.review import Mark, Review
from analysis.services import gauge as service
from analysis.services import log as log_service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, reading_answer, scale_typed
from analysis.storage.engine import reading as reading_from
from tests.support.screens import face_png


@pytest.fixture
def log(tmp_path):
    return log_service.open_log(tmp_path)


def saved(log, name, voids=3, *, piece_id=None, set_up=None):
    data = face_png(voids)
    data += b" " * len(name)  # another file of the same face
    photo = read_photo(data, f"{name}.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    parts = {
        "photo_bytes": data, "photo": photo, "reading": reading, "save_token": name,
        "use": PhotoUse(set_up=set_up),
    }  # fmt: skip
    if piece_id is not None:
        return log_service.save_reading(log, piece_id=piece_id, **parts).id, photo, data
    one = log_service.save_with_new_piece(
        log,
        piece=Piece(name=name, pour_id=0),
        pour=Pour(name=name, cast_on=date(2026, 3, 31)),
        **parts,
    )
    return one.id, photo, data


def measured_by(log, study, who, marks=()):
    cell = service.next_cell(study, who)
    reading = log_service.load_reading(log, cell.item)
    data = log_service.photo_bytes(log, reading.photo_sha256)
    photo = read_photo(data, "again.png")
    case = service.measured_again(
        photo,
        scale=scale_typed(0.5),
        face=Face(),
        settings=MeasureSettings(),
        draft="study",
    )
    review = Review()
    for mark in marks:
        review = review.done(mark)
    service.keep_cell(log, study, cell, case, review, photo_bytes=data, photo=photo)
    return service.load_study(log, study.id)


@pytest.mark.slow
def test_two_people_measure_blind_and_the_second_one_rejects_a_void(log):
    ids = [saved(log, name, voids)[0] for name, voids in (("a", 3), ("bb", 4))]
    plan = service.draw_study("again", ids, ["north", "south"], repeats=2, seed=1)
    saved_study = service.begin_study(log, plan, save_token="s")
    study = service.load_study(log, saved_study.id)
    reject = Mark(action="reject", spot=0, reason="stain")
    while service.next_cell(study, "north"):
        study = measured_by(log, study, "north")
    assert service.left_for(study, "north") == (4, 4)
    assert service.left_for(study, "south") == (0, 4)
    assert service.gauge_answer(study) is None
    while service.next_cell(study, "south"):
        study = measured_by(log, study, "south", [reject])
    answer = service.gauge_answer(study)
    assert answer.repeatability.variance == pytest.approx(0, abs=1e-12)
    north, south = answer.person_means
    assert north > south
    # Nothing of it stands for a piece: the log's readings are what they were.
    assert len(log_service.list_readings(log)) == 2
    (kept,) = service.studies(log, "again")
    assert kept.measured[-1].detail["marks"][0]["action"] == "reject"
    service.finish_study(log, study.id)
    with pytest.raises(InputError, match="is finished: begin another one"):
        measured_by_again(log, study)
    service.delete_study(log, study.id)
    assert service.studies(log, "again") == ()
    with pytest.raises(NotInLogError, match="no gauge study"):
        service.load_study(log, study.id)


def measured_by_again(log, study):
    cell = study.plan.order[0]
    reading = log_service.load_reading(log, cell.item)
    data = log_service.photo_bytes(log, reading.photo_sha256)
    photo = read_photo(data, "again.png")
    case = service.measured_again(
        photo, scale=None, face=Face(), settings=MeasureSettings(), draft="x"
    )
    fresh = type(study)(
        **{name: getattr(study, name) for name in study.__slots__} | {"id": study.id}
    )
    # Another token than the first time's: the study itself has to refuse.
    from analysis.storage.gauge_studies import keep_measured  # noqa: PLC0415

    keep_measured(
        log,
        fresh.id,
        study.measured[0],
        photo_bytes=data,
        photo=case.photo,
        save_token="other",
    )


def test_a_cell_is_measured_once(log):
    ids = [saved(log, name)[0] for name in ("a", "bb")]
    plan = service.draw_study("again", ids, ["north", "south"], repeats=2, seed=1)
    study = service.load_study(log, service.begin_study(log, plan, save_token="s").id)
    study = measured_by(log, study, plan.order[0].who)
    with pytest.raises(InputError, match="measured before: go on with the next"):
        measured_by_again(log, study)


SPREAD = {"set_up": "bench", "spread": 0.06, "degrees": 14.0, "basis": "study"}


def test_new_readings_carry_the_usual_interval_and_old_ones_never_change(log):
    before, *_ = saved(log, "a", set_up="bench")
    version = log_service.load_reading(log, before).method_version
    spread = UsualSpread(**SPREAD, method_version=version)
    service.keep_usual(log, spread, save_token="u")
    after, *_ = saved(log, "bb", set_up="bench")
    elsewhere, *_ = saved(log, "ccc", set_up="yard")
    assert log_service.load_reading(log, before).usual_share is None
    assert log_service.load_reading(log, elsewhere).usual_share is None
    told = log_service.load_reading(log, after)
    smallest = 3.141592653589793 / 4 * told.summary.smallest_counted_px**2
    low, high = usual_range(
        told.summary.void_share.value, smallest / told.summary.face_area_px, 0.06, 14
    )
    assert (told.usual_share.low, told.usual_share.high) == pytest.approx((low, high))
    answer = reading_answer(told)
    assert answer["usual_percent_low"] == pytest.approx(100 * low)
    assert answer["usual_percent_high"] == pytest.approx(100 * high)
    assert (
        reading_answer(log_service.load_reading(log, before))["usual_percent_low"]
        is None
    )

    (in_force,) = service.usual_in_force(log)
    assert in_force.made_at is not None
    service.drop_usual(log, in_force.id)
    assert service.usual_in_force(log) == ()
    assert log_service.load_reading(log, after).usual_share.low == told.usual_share.low
    last, *_ = saved(log, "dddd", set_up="bench")
    assert log_service.load_reading(log, last).usual_share is None


def test_another_version_of_the_method_has_no_usual_interval(log):
    saved(log, "a", set_up="bench")
    service.keep_usual(log, UsualSpread(**SPREAD, method_version="0"), save_token="u")
    after, *_ = saved(log, "bb", set_up="bench")
    assert log_service.load_reading(log, after).usual_share is None


def test_a_newer_spread_takes_the_place_of_the_one_before(log):
    saved(log, "a", set_up="bench")
    for token, spread in (("one", 0.06), ("two", 0.09)):
        service.keep_usual(
            log,
            UsualSpread(**SPREAD | {"spread": spread}, method_version="9"),
            save_token=token,
        )
    (in_force,) = service.usual_in_force(log)
    assert in_force.spread == 0.09
    with reading_from(log) as connection:
        query = sa.text("SELECT count(*) FROM usual_spread")
        assert connection.scalar(query) == 2


def test_repeated_photos_of_the_log_give_a_spread(log):
    for piece in range(3):
        first, *_ = saved(log, f"p{piece}" + "x" * piece, set_up="bench")
        piece_id = next(
            line.piece_id for line in log_service.list_readings(log) if line.id == first
        )
        assert service.usual_from_log(log) == ()
        for again in (5, 6):
            saved(
                log, f"p{piece}" + "y" * (again + 9 * piece), piece_id=piece_id,
                set_up="bench",
            )  # fmt: skip
    (usual,) = service.usual_from_log(log)
    assert (usual.set_up, usual.basis) == ("bench", "repeats")
    # The same face to the px: what is left is the general value, drawn down.
    assert usual.degrees == 10
    assert usual.spread == pytest.approx(0.12 * (4 / 10) ** 0.5, rel=1e-6)


def test_names_one_a_line():
    with pytest.raises(InputError, match="The people need a line each"):
        service.one_a_line("one\nONE", "The people")
