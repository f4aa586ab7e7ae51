"""Many photos at once on the screen: kept, checked, measured, told."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from analysis.model.card import Code
from analysis.model.photo import Face
from analysis.model.workshop import PhotoRecipe
from analysis.services import log as log_service
from analysis.services import photo_queue, plans
from analysis.services.set_up import keep_recipe, set_up_of
from analysis.storage.log_mark import log_mark
from tests.support.cast_pieces import filled, planned
from tests.support.queue_photos import by_name, photo, piece_card
from tests.support.screens import button, labels, press, ran, start, texts


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    # In the test's own thread, so that nothing is left to chance.
    monkeypatch.setattr(photo_queue, "start", photo_queue._work)
    return tmp_path


@pytest.fixture
def log(data):
    return log_service.open_log(data)


def give(app, *files):
    field = next(one for one in app.file_uploader if one.label == "Photos")
    named = [(name, content, "image/jpeg") for name, content in files]
    return ran(field.set_value(named).run())


def test_empty_page_says_what_to_do():
    said = texts(start("photo_queue"))
    assert "All photos of the day at once" in said
    assert "No photo waits." in said


def test_photos_with_cards_are_confirmed_with_one_tap_and_measured(log):
    _, pieces = filled(log, 2)
    app = give(
        start("photo_queue"),
        ("a.jpg", photo(5, piece_card(log, pieces[0]), 0)),
        ("b.jpg", photo(6, piece_card(log, pieces[1]), 9)),
        ("bad.jpg", b"no photo"),
    )
    assert any("bad.jpg" in one.value.replace("\\", "") for one in app.error)
    assert "Its card says so." in texts(app)
    assert "Give more photos" in [one.label for one in app.expander]

    app = press(app, "All 2 with a card are right")
    said = texts(app)
    assert "Measured" in said
    assert "000, pour 12" in said
    assert said.count("% void area (0.") == 2
    assert len(log_service.list_readings(log)) == 2
    app = press(app, "Clear the list")
    assert "No photo waits." in texts(app)
    assert len(log_service.list_readings(log)) == 2


def test_photo_without_a_card_needs_its_piece_chosen(log):
    _, pieces = filled(log, 2)
    app = give(start("photo_queue"), ("a.jpg", photo(5, None, None)))
    assert "Nothing says which piece it is" in texts(app)
    assert "No scale" in texts(app)
    assert button(app, "That is right").disabled

    (waiting,) = photo_queue.list_waiting(log)
    field = app.selectbox(key=f"photo queue piece {waiting.id} None")
    app = ran(field.set_value(pieces[1]).run())
    ran(app.button_group(key=f"photo queue face {waiting.id}").set_value("whole").run())
    press(app, "That is right")
    (line,) = log_service.list_readings(log)
    assert line.piece_id == pieces[1]


def test_a_photo_says_what_differs_from_what_its_form_keeps(log):
    form, pieces = filled(log, 1)
    recipe = PhotoRecipe(form_id=form, brightness_share=0.01)
    keep_recipe(log, recipe, save_token="kept")
    app = give(start("photo_queue"), ("a.jpg", photo(5, piece_card(log, pieces[0]), 0)))
    assert "Not the set-up kept with the form: brighter." in texts(app)


def test_the_contact_sheet_says_which_photo_differs_from_what_is_kept(log):
    form, pieces = filled(log, 2)
    first, second = (photo(5 + k, piece_card(log, pieces[k])) for k in (0, 1))
    file = io.BytesIO()
    Image.open(io.BytesIO(second)).point(lambda tone: tone // 2).save(file, "JPEG")
    photo_queue.give(log, first, "a.jpg")
    photo_queue.give(log, file.getvalue(), "b.jpg")
    photo_queue.look(log)
    shown, scale, _ = photo_queue.outlined(log, by_name(log)["a.jpg"])
    kept = set_up_of(shown, scale, Face())
    recipe = PhotoRecipe(form_id=form, brightness_share=kept.brightness)
    keep_recipe(log, recipe, save_token="kept")

    said = texts(start("photo_queue"))

    assert said.count("Not the set-up kept with the form: darker.") == 1
    assert "Piece 001, b.jpg\n:small[Not the set-up kept" in said


def test_each_thumbnail_says_whose_photo_it_is(log):
    _, pieces = filled(log, 2)
    for k in (0, 1):
        photo_queue.give(log, photo(5 + k, piece_card(log, pieces[k])), f"{k}.jpg")
    photo_queue.look(log)

    said = texts(start("photo_queue"))

    assert "Piece 000, 0.jpg" in said
    assert "Piece 001, 1.jpg" in said


@pytest.mark.parametrize("way", ["outline", "whole", "marked"])
def test_the_card_is_drawn_as_left_out_in_the_large_photo_too(log, monkeypatch, way):
    drawn = []

    def looked_at(*_, lines=(), points=(), **__):
        drawn.append(list(lines))
        return points

    for module in ("ui.photo_queue.outlines", "ui.widgets.marks"):
        monkeypatch.setattr(f"{module}.picture", looked_at)
    _, pieces = filled(log, 1)
    photo_queue.give(log, photo(5, piece_card(log, pieces[0])), "a.jpg")
    photo_queue.look(log)
    (waiting,) = photo_queue.list_waiting(log)
    _, _, areas = photo_queue.outlined(log, waiting)
    app = start("photo_queue")

    ran(app.button_group(key=f"photo queue face {waiting.id}").set_value(way).run())

    assert len(areas) == 1
    assert any(np.array_equal(line, areas[0]) for line in drawn[-1])


def test_later_and_aside(log):
    filled(log, 2)
    app = give(
        start("photo_queue"),
        ("a.jpg", photo(5, None, 0)),
        ("b.jpg", photo(6, None, 60)),
    )
    assert "Photo 1 of 2: a.jpg" in texts(app)
    app = press(app, "Later")
    assert "Photo 1 of 2: b.jpg" in texts(app)
    app = press(app, "Put aside")
    assert "Photo 1 of 1: a.jpg" in texts(app)


def test_photo_is_taken_to_where_it_can_be_marked(log):
    _, pieces = filled(log, 2)
    app = give(start("photo_queue"), ("a.jpg", photo(5, piece_card(log, pieces[1]), 0)))
    app = press(app, "Mark it by hand")
    app = ran(app.switch_page("measure/page.py").run())
    assert "a.jpg, 1000 x 750 px" in texts(app)
    assert "The card in the photo is of piece 001, pour 12" in texts(app)


def test_photo_marked_by_hand_leaves_the_queue_once_saved(log):
    _, pieces = filled(log, 2)
    app = give(start("photo_queue"), ("a.jpg", photo(5, piece_card(log, pieces[1]), 0)))
    app = press(app, "Mark it by hand")
    app = ran(app.switch_page("measure/page.py").run())
    app = press(app, "The photo holds nothing but face")
    app = press(press(app, "Measure"), "Save")

    (one,) = photo_queue.list_waiting(log)
    assert (one.state, one.piece_id) == ("done", pieces[1])
    app = ran(app.switch_page("photo_queue/page.py").run())
    assert "That is right" not in labels(app)


def test_what_failed_can_be_tried_again(log):
    filled(log, 1)
    data = photo(5, None, 0)
    photo_queue.give(log, data, "a.jpg")
    (waiting,) = photo_queue.list_waiting(log)
    path = log.photo_folder / waiting.sha256[:2] / waiting.sha256
    path.rename(path.with_suffix(".away"))
    app = start("photo_queue")
    assert "Not measured" in texts(app)
    path.with_suffix(".away").rename(path)
    app = press(app, "Try again")
    assert "Photo 1 of 1: a.jpg" in texts(app)


def test_photo_with_a_card_is_of_its_piece_and_scaled(log):
    _, pieces = filled(log, 2)
    app = start()
    card = photo(5, piece_card(log, pieces[1]), 0)
    app = ran(app.file_uploader(key="upload").upload("a.jpg", card).run())
    assert "The card in the photo is of piece 001, pour 12" in texts(app)
    assert "Sheet or card found" in texts(app)
    app = press(app, "Right")
    press(press(app, "Measure"), "Save")

    (line,) = log_service.list_readings(log)
    assert line.piece_id == pieces[1]
    assert log_service.load_reading(log, line.id).scale.method == "sheet"


def test_form_card_begins_a_pour_in_it(log):
    form, _ = filled(log, 1)
    code = Code(layout="A", kind="form", number=str(form), log_mark=log_mark(log))
    app = start("pours")
    field = app.file_uploader(key="card photo")
    app = ran(field.upload("card.jpg", photo(5, code, 0)).run())
    assert "Save the pour" in labels(app)
    assert "Trough A" in str(app.selectbox) + texts(app)


def test_cards_are_offered_for_a_piece_and_a_form(log):
    form, pieces = filled(log, 2)
    app = start("pieces", piece=str(pieces[0]))
    assert app.multiselect(key=f"cards for piece {pieces[0]}").value == [pieces[0]]
    app = start("forms", form=str(form))
    assert app.multiselect(key=f"cards for form {form}").value == [form]


def test_card_of_a_planned_pour_fills_the_pour_in(log):
    kept = planned(log)
    short = kept.key.removeprefix("plan ").upper()[:12]
    code = Code(layout="A", kind="plan", number=f"{short}.2", log_mark=log_mark(log))
    app = start("pours")
    field = app.file_uploader(key="card photo")
    app = ran(field.upload("card.jpg", photo(5, code, 0)).run())
    press(app, "Save the pour")

    assert plans.kept_plan(log, kept.key).cast[2] is not None


def test_an_outline_is_changed_by_few_points(log):
    _, pieces = filled(log, 1)
    app = give(start("photo_queue"), ("a.jpg", photo(5, piece_card(log, pieces[0]), 0)))
    (waiting,) = photo_queue.list_waiting(log)
    found = waiting.asked.outline
    marks = f"photo queue outline {waiting.id}"
    assert marks not in app.session_state

    way = app.button_group(key=f"photo queue face {waiting.id}")
    app = ran(way.set_value("marked").run())
    assert len(found) > 16
    assert 4 <= len(app.session_state[marks].split()) <= 16
    press(app, "That is right")
    (line,) = log_service.list_readings(log)
    reading = log_service.load_reading(log, line.id)
    assert 4 <= len(reading.face.outline_px) <= 16
