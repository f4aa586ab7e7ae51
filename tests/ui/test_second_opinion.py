"""The page of the second opinion without a browser."""

from datetime import UTC, datetime

import numpy as np
import pytest

from analysis.model.gauge import Measured, UsualSpread
from analysis.model.log import PhotoUse, Piece
from analysis.model.review import Review
from analysis.services import gauge
from analysis.services import log as log_service
from analysis.services import point_count as service
from analysis.services import review as review_service
from analysis.services.measuring import measure
from analysis.services.photos import read_photo, scale_typed
from analysis.storage.gauge_studies import keep_measured
from tests.support.screens import (
    HOSTILE,
    button,
    face_png,
    keep_face,
    press,
    ran,
    start,
    texts,
)

pytestmark = pytest.mark.usefixtures("log")


@pytest.fixture
def measured(log):
    return keep_face(log).id


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
    app = press(app, "Delete this count")
    assert service.counts_of(log, measured) == ()


def test_going_on_elsewhere_is_told(measured, log):
    app = drawn(start("second_opinion"))
    (count,) = service.counts_of(log, measured)
    service.keep_answers(log, count, "v" * 25 + "." * 75)
    assert "field 2 of 4" not in texts(ran(app.run()))
    assert button(start("second_opinion"), "Delete this count")


def save_another(log):
    data = face_png(4)
    photo = read_photo(data, "other.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    log_service.save_with_new_piece(
        log,
        piece=Piece(name="8", pour_id=1),
        photo_bytes=data,
        photo=photo,
        reading=reading,
        save_token="b",
    )


def page_of(way):
    app = start("second_opinion")
    app.button_group(key="second opinion way").set_value(way).run()
    return ran(app)


def measure_cell(app, who, *, reject):
    app.button_group(key="i am 1").set_value(who).run()
    app.button_group(key="study scale way").set_value("typed").run()
    app.button_group(key="study outline way").set_value("whole").run()
    (field,) = (one for one in app.text_input if one.key.startswith("mm per px"))
    app = ran(field.set_value("0.5").run())
    app = press(app, "Measure")
    assert "% void area" not in texts(app)
    if reject:
        app.session_state["review chosen"] = 0
        app = press(ran(app.run()), "Stain")
    return press(app, "Keep and go on")


@pytest.mark.slow
@pytest.mark.usefixtures("measured")
def test_two_people_measure_the_same_photos_blind(log):
    save_another(log)
    app = page_of("again")
    app.multiselect(key="photos again").set_value([1, 2])
    app.text_area(key="people again").set_value("north\nsouth").run()
    app = press(app, "Draw the order")
    assert "2 faces, 2 people, 8 measurings, 0 done" in texts(app)
    for who in ("north", "south"):
        for _ in range(4):
            app = measure_cell(app, who, reject=who == "south")
    said = texts(app)
    assert "north reads" in said
    assert "Two people tell little about others" in said
    rows = app.dataframe[0].value
    assert rows.iloc[0, 0] == "The same person again (repeatability)"
    app = press(app, "Finish the study")
    assert "north reads" in texts(app)
    assert len(log_service.list_readings(log)) == 2


@pytest.mark.usefixtures("measured")
def test_a_study_that_cannot_answer_is_refused():
    app = page_of("again")
    app.text_area(key="people again").set_value("north").run()
    assert "needs 2 faces and two people" in texts(press(app, "Draw the order"))
    app = page_of("shop")
    app.text_area(key="people shop").set_value("north\nsouth")
    app.text_area(key="lights shop").set_value("bench").run()
    assert "needs 3 faces and two people" in texts(press(app, "Draw the order"))
    assert "Nothing is in force" in texts(app)


@pytest.mark.usefixtures("measured")
def test_a_shop_study_is_put_in_force_and_out_again(log):
    plan = gauge.draw_study(
        "shop", [1, 2, 3], ["north", "south"], lights=["bench", "yard"], seed=1
    )
    gauge.begin_study(log, plan, save_token="s")
    keep_shares(log, plan)
    app = page_of("shop")
    said = texts(app)
    assert "bench: readings of one face spread by" in said
    assert app.dataframe[0].value.iloc[0, 0] == "yard"
    app = press(app, "Use it for readings from now on")
    (spread,) = gauge.usual_in_force(log)
    assert (spread.set_up, spread.basis, spread.study_id) == ("bench", "study", 1)
    app = press(app, "Put out of force")
    assert "Nothing is in force" in texts(app)
    app = press(app, "Delete this study")
    assert "Draw the order" in [one.label for one in app.button]


def keep_shares(log, plan):
    """Fill a study in with shares whose lights differ by a tenth."""
    rng = np.random.default_rng(1)
    data = face_png(3)
    photo = read_photo(data, "face.png")
    for at, cell in enumerate(plan.order):
        by_light = {"bench": 1.0, "yard": 0.9}[cell.light]
        share = 0.01 * cell.item * by_light * float(np.exp(rng.normal(0, 0.03)))
        one = Measured(
            cell=cell, share=share, low=0.0, high=1.0, smallest_share=1e-5,
            method_version="9", detail={}, measured_at=datetime.now(UTC),
        )  # fmt: skip
        keep_measured(
            log, 1, one, photo_bytes=data, photo=photo, save_token=f"cell {at}"
        )


@pytest.mark.usefixtures("measured")
def test_a_training_set_is_made_after_consent_only(log):
    app = page_of("training")
    assert "Nothing leaves this machine by itself" in texts(app)
    assert "No photo is reviewed yet" in texts(app)
    (line,) = log_service.list_readings(log)
    photo = read_photo(log_service.photo_bytes(log, line.photo_sha256), "face.png")
    case = review_service.open_case(log, line, photo)
    marks = review_service.say_seen(Review(), seen=True).marks
    review_service.save_review(
        log,
        reviews_id=line.id,
        reading=case.reading,
        marks=marks,
        signed_by="north",
        save_token="r",
    )
    app = page_of("training")
    assert "1 reviewed photo." in texts(app)
    assert button(app, "Make the file").disabled
    app = ran(app.checkbox(key="training consent").check().run())
    app = press(app, "Make the file")
    assert "Whoever agrees needs a name" in texts(app)
    app.text_input(key="training who").set_value("north").run()
    app = press(app, "Make the file")
    assert "1 reviewed photo, 3 voids and 0 spots" in texts(app)


@pytest.mark.usefixtures("measured")
def test_the_piece_s_page_tells_of_counts_and_of_the_usual_set_up(log):
    (line,) = log_service.list_readings(log)
    version = log_service.load_reading(log, line.id).method_version
    gauge.keep_usual(
        log,
        UsualSpread(
            set_up="bench", spread=0.06, degrees=14, basis="study",
            method_version=version,
        ),
        save_token="u",
    )  # fmt: skip
    data = face_png(5)
    photo = read_photo(data, "other.png")
    reading, _ = measure(photo, scale=scale_typed(0.5))
    log_service.save_reading(
        log, photo_bytes=data, photo=photo, reading=reading, piece_id=line.piece_id,
        save_token="o", use=PhotoUse(set_up="bench"),
    )  # fmt: skip
    app = start("pieces", piece=str(line.piece_id))
    said = texts(app)
    assert "In your usual set-up another reading of this face would lie" in said
    app = press(app, "Second opinion")
    assert "points of an even grid are needed" in texts(app)
