"""A count beside a reading: drawn, tapped, taken up again, finished."""

from datetime import date

import pytest

from analysis.errors import ConflictError, InputError, NotInLogError
from analysis.model.log import Piece, Pour
from analysis.services import log as log_service
from analysis.services import point_count as service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from tests.support.screens import face_png


@pytest.fixture
def case(tmp_path):
    log = log_service.open_log(tmp_path)
    data = face_png(3)
    photo = read_photo(data, "face.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    saved = log_service.save_with_new_piece(
        log,
        piece=Piece(name="7", pour_id=0),
        pour=Pour(name="1", cast_on=date(2026, 3, 31)),
        photo_bytes=data,
        photo=photo,
        reading=reading,
        save_token="a",
    )
    return log, photo, reading, saved.id


def begun(case, kind="even", who="bench"):
    log, photo, reading, reading_id = case
    plan = service.draw_plan(photo, reading, kind, 100, seed=4)
    saved = service.begin_count(
        log, reading_id=reading_id, who=who, plan=plan, save_token=f"{kind} {who}"
    )
    return service.load_count(log, saved.id)


def test_a_count_is_written_down_before_the_first_tap_and_taken_up_again(case):
    log, reading_id = case[0], case[3]
    count = begun(case)
    assert count.answers == "." * 100
    assert count.drawn_at is not None
    service.keep_answers(log, count, "vs" + "." * 98)
    (again,) = service.counts_of(log, reading_id)
    assert again.answers.startswith("vs.")
    assert again.plan.fields[0].points_px.tolist() == (
        count.plan.fields[0].points_px.tolist()
    )
    assert (again.version, again.fields_done) == (2, 0)


def test_a_finished_count_keeps_its_figure_and_takes_no_more(case):
    log = case[0]
    count = begun(case)
    service.keep_answers(log, count, "s" * 100)
    count = service.load_count(log, count.id)
    figure = service.count_figure(count.plan, count.answers)
    service.finish_count(log, count, figure)
    count = service.load_count(log, count.id)
    assert count.finished_at is not None
    with pytest.raises(InputError, match="is finished: begin another one"):
        service.keep_answers(log, count, "v" * 100)


def test_two_hands_on_one_count_are_told(case):
    count = begun(case)
    service.keep_answers(case[0], count, "v" + "." * 99)
    with pytest.raises(ConflictError, match="gone on with elsewhere"):
        service.keep_answers(case[0], count, "s" + "." * 99)


def test_a_count_is_taken_out_and_cannot_be_gone_on_with(case):
    log, reading_id = case[0], case[3]
    count = begun(case)
    service.delete_count(log, count.id)
    assert service.counts_of(log, reading_id) == ()
    with pytest.raises(NotInLogError, match="no point count"):
        service.keep_answers(log, count, "." * 100)
    with pytest.raises(NotInLogError, match="no point count 99"):
        service.load_count(log, 99)


def test_nobody_counts_without_a_word(case):
    with pytest.raises(InputError, match="Whoever counts needs a name"):
        begun(case, who=" ")


def test_pictures_show_each_point_in_the_middle(case):
    _, photo, reading, _ = case
    plan = service.draw_plan(photo, reading, "even", 400, seed=1)
    for at, field in enumerate(plan.fields):
        jpeg, tile, smallest = service.field_picture(photo, reading, plan, at)
        shown = read_photo(jpeg, "field.jpg").pixels
        assert shown.shape == (5 * tile, 5 * tile, 3)
        assert smallest > 0
        for k, (row, col) in enumerate(field.points_px):
            seen = int(
                shown[tile * (k // 5) + tile // 2, tile * (k % 5) + tile // 2, 0]
            )
            is_void = any(
                (row - y) ** 2 + (col - x) ** 2 < 4**2
                for y, x in zip(reading.voids.row_px, reading.voids.col_px, strict=True)
            )
            clearly_sound = all(
                (row - y) ** 2 + (col - x) ** 2 > 7**2
                for y, x in zip(reading.voids.row_px, reading.voids.col_px, strict=True)
            )
            assert not is_void or seen < 110
            assert not clearly_sound or seen > 140


def test_by_candidates_most_points_lie_where_spots_are(case):
    _, photo, reading, _ = case
    need = service.needed(photo, reading)
    assert need.within + need.elsewhere < need.even
    plan = service.draw_plan(photo, reading, "candidates", 200, seed=2)
    assert [part.name for part in plan.strata] == ["candidates", "others"]
    assert plan.strata[0].weight == pytest.approx(need.weight)
    assert plan.strata[0].spacing_px < plan.strata[1].spacing_px
    assert 0 <= service.new_seed() < 2**31
