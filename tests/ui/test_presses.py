"""Presses that change the log: none lost where a drawing is cut short, none doubled."""

from __future__ import annotations

from datetime import date

import pytest
import streamlit as st
from streamlit.testing.v1 import AppTest

from analysis.model.log import Piece, Pour
from analysis.model.workshop import Form, FormCare, FormReminder, PhotoRecipe
from analysis.services import batch_marks, photo_queue, point_count, records
from analysis.services import log as log_service
from analysis.services import review as review_service
from analysis.services.workshop_settings import settings
from tests.support.cast_pieces import filled
from tests.support.queue_photos import photo
from tests.support.screens import (
    button,
    keep_face,
    labels,
    press,
    ran,
    start,
    texts,
)
from tests.support.shop_log import shop_log
from tests.support.small_workshop import workshop
from ui.widgets import presses

TODAY = date(2026, 8, 3)


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    monkeypatch.setattr(photo_queue, "start", photo_queue._work)
    return tmp_path


# the button itself


def one_button():
    import streamlit as st  # noqa: PLC0415  a script of its own

    from analysis.errors import InputError  # noqa: PLC0415
    from ui.widgets.presses import act_button  # noqa: PLC0415

    said = st.session_state.setdefault("said", [])
    if st.session_state.pop("cut", False):
        st.rerun()

    def act():
        if st.session_state.get("fails"):
            raise st.session_state.fails
        if st.session_state.get("refuses"):
            msg = "Not like this."
            raise InputError(msg)
        said.append(st.session_state.get("about"))
        if st.session_state.pop("cut late", False):
            st.rerun()  # between what was saved and its end

    if not st.session_state.get("gone"):
        act_button(
            "Save",
            act,
            key="save",
            about=st.session_state.get("about"),
            disabled=st.session_state.get("off", False),
        )


@pytest.fixture
def alone():
    return ran(AppTest.from_function(one_button).run())


def clicked(app, **state):
    for name, value in state.items():
        app.session_state[name] = value
    return ran(button(app, "Save").click().run())


def test_press_is_done_once(alone):
    app = clicked(alone)
    assert app.session_state["said"] == [None]
    assert ran(app.run()).session_state["said"] == [None]


def test_press_of_a_drawing_cut_short_is_done_by_the_next(alone):
    app = clicked(alone, cut=True)
    assert app.session_state["said"] == [None]
    assert ran(app.run()).session_state["said"] == [None]


def test_press_cut_short_after_the_save_is_done_to_its_end(alone):
    # So what it saves carries a token.
    app = clicked(alone, **{"cut late": True})
    assert app.session_state["said"] == [None, None]
    assert len(ran(app.run()).session_state["said"]) == 2


def test_press_of_something_else_is_forgotten(alone):
    button(alone, "Save").click()
    alone.session_state["about"] = "another"
    assert ran(alone.run()).session_state["said"] == []
    assert clicked(alone).session_state["said"] == ["another"]


def test_press_of_a_button_that_is_off_by_then_is_forgotten(alone):
    app = clicked(alone, off=True)
    app.session_state["off"] = False
    assert ran(app.run()).session_state["said"] == []


def test_refusal_stands_below_and_is_not_tried_again(alone):
    app = clicked(alone, refuses=True)
    assert "Not like this" in texts(app)
    app.session_state["refuses"] = False
    app = ran(app.run())
    assert app.session_state["said"] == []
    assert "Not like this" not in texts(app)


def test_fault_is_not_tried_again(alone):
    alone.session_state["fails"] = ValueError("a fault")
    button(alone, "Save").click().run()
    assert len(alone.exception) == 1
    alone.session_state["fails"] = None
    assert ran(alone.run()).session_state["said"] == []


def test_page_left_before_its_press_was_done_is_named():
    app = start("home")
    app.session_state[presses._PRESSED] = {"save": presses._Press(None, "Forms")}
    assert "You left 'Forms' before your press was done" in texts(ran(app.run()))
    assert "You left" not in texts(ran(app.run()))


def test_press_that_its_own_page_has_no_use_for_is_forgotten():
    app = start("home")
    page = app.session_state[presses._PAGE]
    app.session_state[presses._PRESSED] = {"save": presses._Press(None, page)}
    assert "You left" not in texts(ran(app.run()))
    assert not app.session_state[presses._PRESSED]


# pours, forms made with them, entries


def like_last():
    app = start("pours")
    return press(app, next(one for one in labels(app) if one.startswith("Like pour")))


def pours(log):
    return log_service.pours(log)


def test_pour(data, cut):
    log = workshop(data)
    app = cut(like_last(), "Save the pour")
    assert len(pours(log)) == 2
    assert "Save the pour" not in labels(app)
    assert "12" in texts(app)


def test_pour_saved_before_its_drawing_was_cut(data, monkeypatch):
    log = workshop(data)
    app = like_last()
    real = records.drop_draft

    def cut_once(*_args):
        monkeypatch.setattr(records, "drop_draft", real)
        st.rerun()

    monkeypatch.setattr(records, "drop_draft", cut_once)
    app = press(app, "Save the pour")
    assert len(pours(log)) == 2
    assert "Already saved" in texts(app)


def test_pour_begun_thrown_away_and_brought_back(data, cut):
    log = workshop(data)
    app = start("pours")
    app = cut(app, key="like last")
    assert "Save the pour" in labels(app)
    app = cut(app, "Delete")
    assert "Save the pour" not in labels(app)
    app = cut(app, "Undo")
    press(app, "Save the pour")
    assert len(pours(log)) == 2


def test_form_made_with_its_pour(data, cut):
    log = workshop(data)
    app = press(start("pours"), "Start an empty pour")
    field = next(one for one in app.text_input if one.label == "Form name")
    app = ran(field.set_value("Trough C").run())
    app = cut(app, "Make the form and add a piece")
    assert [one.name for one in log_service.forms(log)][-1] == "Trough C"
    press(app, "Save the pour")
    (piece,) = [one.piece for one in records.list_castings(log) if one.pour.id == 2]
    assert piece.form_id == 3


# records, words, settings, tables, backups


def page(what):
    return ran(start("records").button_group(key="show").set_value(what).run())


def written(app, label, value):
    found = next(one for one in app.text_input if one.label == label)
    return ran(found.set_value(value).run())


def test_word(data, cut):
    log = workshop(data)
    app = page("words")
    field = next(one for one in app.selectbox if one.label == "Which words")
    app = ran(field.set_value("release_agent").run())
    cut(written(app, "New word", "wax"), "Add")
    assert "wax" in records.words(log, "release_agent")


def test_settings(data, cut):
    cut(
        written(page("settings"), "Name of the workshop", "Hall 2"), key="save settings"
    )
    assert settings(log_service.open_log(data)).workshop == "Hall 2"


def test_record_added_and_corrected(data, cut):
    log = workshop(data)
    app = page("forms")
    app = press(app, "Add a form")
    app = written(app, "Name", "Trough C")
    save = next(one.key for one in app.button if one.key.startswith("save new Form"))
    app = cut(app, key=save)
    assert len(log_service.forms(log)) == 3
    app = press(ran(app.button(key="open form 3").click().run()), "Correct")
    cut(written(app, "Name", "Trough D"), key="save Form 3")
    assert records.load(log, Form, 3).name == "Trough D"


def test_table_taken_in(data, cut):
    table = b"piece;pour;cast_on;form\nA1;1;2026-03-02;Trough A\n"
    app = page("import")
    app = ran(app.file_uploader(key="table").upload("table.csv", table).run())
    app = cut(app, key="import table")
    assert len(records.list_castings(log_service.open_log(data))) == 1
    assert "import table" not in [one.key for one in app.button]


def test_backup_made_and_restored(data, cut):
    log = workshop(data)
    app = cut(page("backup"), "Back up now, with photos")
    assert "Backed up:" in texts(app)
    records.hide(log, Pour, 1)
    whole = next(one for one in records.restorable(log) if one.suffix == ".zip")
    app = page("backup")
    app = ran(app.selectbox(key="backup chosen").set_value(whole).run())
    app = ran(app.checkbox[0].check().run())
    cut(app, key="restore chosen")
    assert len(records.list_castings(log_service.open_log(data))) == 6


# forms, batches


def test_care_is_noted_once(data, cut, monkeypatch):
    monkeypatch.setattr(records, "today", lambda: TODAY)
    log = workshop(data)
    app = cut(start("forms", form="1"), key="save care 1")
    assert len(records.list_all(log, FormCare)) == 1
    app = ran(app.button(key="save care 1").click().run())
    assert len(records.list_all(log, FormCare)) == 1
    ran(app.button(key="delete FormCare 1").click().run())
    ran(app.button(key="save care 1").click().run())
    assert len(records.list_all(log, FormCare)) == 1


def test_reminder_recipe_and_photographing(data, cut):
    log = workshop(data)
    app = cut(start("forms", form="1"), key="add reminder 1")
    assert len(records.list_all(log, FormReminder)) == 1
    ran(app.button(key="add reminder 1").click().run())
    assert len(records.list_all(log, FormReminder)) == 1
    app.text_area(key="recipe of 1 1").set_value("tape, wax")
    app = cut(ran(app.run()), key="save recipe 1")
    assert records.load(log, Form, 1).set_up_recipe == "tape, wax"
    app = written(app, "Lamp or daylight", "left")
    cut(app, key="save photographed 1")
    assert [one.lamp for one in records.list_all(log, PhotoRecipe)] == ["left"]


def test_reminder_done_today_is_noted_once(data, monkeypatch):
    monkeypatch.setattr(records, "today", lambda: TODAY)
    log = workshop(data)
    asked = FormReminder(form_id=1, kind="waxed", every_uses=2)
    records.add(log, asked, save_token="asked")
    app = press(start("forms", form="1"), "Done today")
    press(app, "Done today")
    assert len(records.list_all(log, FormCare)) == 1


def test_baseline_is_frozen_once_and_again_after_another(data, cut):
    log = shop_log(data)
    app = start("batches")

    def frozen(first, last, by):
        nonlocal app
        for at, label in ((first, "First pour"), (last, "Last pour")):
            field = next(one for one in app.selectbox if one.label == label)
            app = ran(field.set_value(at).run())
        app = by(app, "Fix these pours as usual")
        return len(marks())

    def marks():
        return batch_marks.marks(log, product_line="smooth troughs")

    assert frozen(0, 9, cut) == 1
    assert frozen(0, 9, press) == 1
    assert frozen(1, 10, press) == 2
    assert frozen(0, 9, press) == 3
    assert [one.from_day for one in marks()][0::2]


# queue, review, points


def test_second_tap_on_right_says_nothing_of_the_next_photo(data, cut):
    log = log_service.open_log(data)
    filled(log, 2)
    app = start("photo_queue")
    field = next(one for one in app.file_uploader if one.label == "Photos")
    files = [(f"{n}.jpg", photo(5 + n, None, 60 * n), "image/jpeg") for n in range(2)]
    app = ran(field.set_value(files).run())
    first, second = photo_queue.list_waiting(log)
    field = app.selectbox(key=f"photo queue piece {first.id} None")
    app = ran(field.set_value(1).run())
    face = app.button_group(key=f"photo queue face {first.id}")
    app = ran(face.set_value("whole").run())
    app = cut(app, key=f"photo queue right {first.id}")
    # Where the first one stood stands another button now, which was not tapped.
    keys = [one.key for one in app.button]
    assert f"photo queue right {second.id}" in keys
    assert f"photo queue right {first.id}" not in keys
    assert len(log_service.list_readings(log)) == 1


def test_review(data, cut):
    log = log_service.open_log(data)
    keep_face(log)
    app = press(start("pieces", piece="1"), "Review void by void")
    app.session_state["review chosen"] = 0
    app = press(ran(app.run()), "Stain")
    app.text_input(key="review signature").set_value("R.").run()
    app = cut(app, key="review save")
    assert len(log_service.list_readings(log)) == 2
    assert "review save" not in [one.key for one in app.button]
    assert review_service.last_signature(log) == "R."


def test_points_drawn_and_taken_out(data, cut):
    log = log_service.open_log(data)
    reading = keep_face(log).id
    app = start("second_opinion")
    app.text_input(key="count who").set_value("bench").run()
    app = cut(app, "Draw the points")
    assert len(point_count.counts_of(log, reading)) == 1
    cut(app, "Delete this count")
    assert point_count.counts_of(log, reading) == ()


def test_piece_taken_out(data, cut):
    log = workshop(data)
    app = cut(start("pieces", piece="1"), "Delete this piece")
    assert len(records.list_castings(log)) == 5
    assert not app.query_params.get("piece")
    assert isinstance(records.load(log, Piece, 1), Piece)
