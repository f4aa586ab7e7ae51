"""The page of the second opinion without a browser."""

from datetime import date

import pytest

from analysis.model.log import Piece, Pour
from analysis.services import log as log_service
from analysis.services import point_count as service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from tests.support.screens import HOSTILE, button, face_png, press, ran, start, texts


@pytest.fixture(autouse=True)
def log(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    return log_service.open_log(tmp_path)


@pytest.fixture
def measured(log):
    data = face_png(3)
    photo = read_photo(data, "face.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    return log_service.save_with_new_piece(
        log,
        piece=Piece(name="7", pour_id=0),
        pour=Pour(name="1", cast_on=date(2026, 3, 31)),
        photo_bytes=data,
        photo=photo,
        reading=reading,
        save_token="a",
    ).id


def drawn(app, who="bench"):
    app.text_input(key="count who").set_value(who).run()
    return press(app, "Draw the points")


def test_an_empty_log_says_what_to_do():
    assert "Measure a face first" in texts(start("second_opinion"))


@pytest.mark.usefixtures("measured")
def test_points_needed_are_said_before_anything_is_tapped():
    said = texts(start("second_opinion"))
    assert "points of an even grid are needed" in said
    assert "with a finer grid where spots are" in said


@pytest.mark.usefixtures("measured")
def test_a_count_without_a_word_for_whoever_counts_is_refused():
    assert "Whoever counts needs a name" in texts(drawn(start("second_opinion"), " "))


def test_a_count_is_finished_and_says_whether_it_agrees(measured, log):
    drawn(start("second_opinion"), HOSTILE)
    (count,) = service.counts_of(log, measured)
    service.keep_answers(log, count, "s" * 75 + "." * 25)
    app = start("second_opinion")
    assert f"with seed {count.plan.seed}" in texts(app)
    assert "Stop because time is up" in texts(app)
    assert button(app, "Finish with the fields counted so far")
    service.keep_answers(log, service.load_count(log, count.id), "s" * 100)
    app = press(start("second_opinion"), "Finish the count")
    said = texts(app).replace("\u2060", "")
    assert "0 % of the points lie in voids" in said
    assert "so few points leave room for anything up to 3.69 %" in said
    assert "the interval above is the one for few hits" in said
    assert HOSTILE in said
    app = press(app, "Take this count out")
    assert service.counts_of(log, measured) == ()


def test_going_on_elsewhere_is_told(measured, log):
    app = drawn(start("second_opinion"))
    (count,) = service.counts_of(log, measured)
    service.keep_answers(log, count, "v" * 25 + "." * 75)
    assert "field 2 of 4" not in texts(ran(app.run()))
    assert button(start("second_opinion"), "Take this count out")
