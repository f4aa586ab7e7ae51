"""Measure a face: from a photo to a saved reading, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest
import streamlit as st

from analysis.services import log as log_service
from analysis.services import records
from tests.support.screens import (
    HOSTILE,
    as_typed,
    at_step,
    can_measure,
    face_png,
    fill_piece,
    given,
    labels,
    measured,
    press,
    ran,
    start,
    texts,
    typed_scale,
    upload,
    upload_whole,
)
from ui import cache

pytestmark = pytest.mark.usefixtures("data")


def kept(data):
    log = log_service.open_log(data)
    return log_service.list_castings(log), log_service.list_readings(log)


def test_empty_log_offers_upload_and_eight_samples():
    app = start()

    assert "Measure a face" in texts(app)
    assert [one.label for one in app.file_uploader] == ["Choose photo", "Take photo"]
    assert len([key for key in app.button if "sample" in (key.key or "")]) == 8


def test_sample_comes_with_its_marks():
    app = start()

    ran(app.button(key="sample trough_joints_sealed.jpg").click().run())

    assert "0.2 mm per px" in texts(app)
    assert app.text_input(key="face corners").value.startswith("80,60 1519,60")
    assert can_measure(app)


def test_result_says_share_interval_and_smallest_size():
    app = measured(start())

    said = texts(app)
    assert "% void area" in said
    assert "95 % sure between" in said
    assert "counted from 2 mm" in said
    assert app.metric[0].value == "3"


def test_face_without_voids_is_told_in_words():
    app = press(typed_scale(upload(start(), face_png(voids=0))), "Measure")

    assert "No voids of 2 mm or more" in texts(app)


def test_without_scale_is_warned_and_has_no_mm():
    app = upload(start())
    ran(app.button_group(key="scale way").set_value("none").run())
    assert "cannot be compared" in texts(app)

    press(app, "Measure")

    assert [metric.label for metric in app.metric] == ["Voids counted"]
    assert "px." in texts(app)


def largest_mm(app):
    return float(app.metric[1].value)


def test_reading_follows_the_scale_and_is_never_stale():
    app = measured(start(), 0.5)
    before = largest_mm(app)

    ran(app.text_input(key="mm per px").set_value("1").run())
    assert "measure again" in texts(app)
    assert not app.metric

    press(app, "Measure")
    assert largest_mm(app) == pytest.approx(2 * before, abs=0.11)


def test_reading_follows_the_outline():
    app = measured(start())
    ran(app.button_group(key="face way").set_value("corners").run())
    assert not can_measure(app)

    ran(app.text_input(key="face corners").set_value("0,0 90,0 90,159 0,159").run())
    press(app, "Measure")

    assert app.metric[0].value == "1"


def test_reading_follows_the_smallest_size():
    app = measured(start())

    ran(app.text_input(key="smallest").set_value("8").run())
    press(app, "Measure")

    assert "No voids of 8 mm or more" in texts(app)


def test_reading_made_before_is_shown_again_for_the_same_answers():
    app = measured(start(), 0.5)
    ran(app.text_input(key="mm per px").set_value("1").run())

    ran(app.text_input(key="mm per px").set_value("0.5").run())

    assert app.metric


def test_two_typed_points_and_inches_make_a_scale():
    app = upload(start())
    ran(app.text_input(key="ruler points").set_value("10,20 137,20").run())
    app.button_group(key="ruler unit").set_value("inch")

    ran(app.text_input(key="ruler distance").set_value("2.5").run())

    assert "0.5 mm per px" in texts(app)


@pytest.mark.parametrize(
    ("points", "distance", "words"),
    [
        ("10,20 137", 50.0, "must be x,y pairs"),
        ("10,20 12,20", 50.0, "farther apart"),
        ("10,20 9999,20", 50.0, "lies outside the photo"),
        ("10,20 137,20", 0.0, "Distance"),
        ("10,20 137,20", -5.0, "Distance"),
        ("10,20", 50.0, "Mark two points"),
        ("10,20 137,20", None, "Type the distance"),
    ],
)
def test_scale_that_cannot_be_is_refused_in_one_sentence(points, distance, words):
    app = at_step(upload(start()), "scale")
    app.text_input(key="ruler points").set_value(points)

    ran(app.text_input(key="ruler distance").set_value(as_typed(distance)).run())

    assert words in texts(app)
    assert not can_measure(app)


@pytest.mark.parametrize("value", [0.0, -0.5, 1e9])
def test_typed_scale_that_cannot_be_is_refused(value):
    app = typed_scale(upload(start()), value)

    assert len(app.error) == 1
    assert not can_measure(app)


@pytest.mark.parametrize("corners", ["900,900 990,900 990,990", "10,10 11,10 10,11"])
def test_outline_that_cannot_be_measured_is_refused(corners, data):
    app = typed_scale(upload(start()))
    app.button_group(key="face way").set_value("corners").run()
    ran(app.text_input(key="face corners").set_value(corners).run())

    press(app, "Measure")

    assert len(app.error) == 1
    assert "Save" not in labels(app)
    assert kept(data) == ((), ())


@pytest.mark.parametrize(
    "content", [b"", b"not a photo", face_png()[:200], face_png(0, size=(1, 1))]
)
def test_file_that_is_no_photo_is_refused_and_nothing_kept(content, data):
    app = upload(start(), content, "face.jpg")
    if not app.error:  # one px is a photo, but no face
        app = press(typed_scale(app), "Measure")

    assert len(app.error) == 1
    assert "Save" not in labels(app)
    assert kept(data) == ((), ())


def test_new_piece_is_saved_with_all_that_was_said(data):
    app = fill_piece(measured(start()))
    app.selectbox(key="form type").set_value("trough")
    app.selectbox(key="joint sealing").set_value("tape")
    app.selectbox(key="vibration method").set_value("table")
    cast_on = app.date_input(key="cast on")
    assert cast_on.proto.format == "DD.MM.YYYY"
    cast_on.set_value(date(2026, 3, 31))
    ran(app.text_input(key="vibration seconds").set_value("40").run())

    press(app, "Save")

    (casting,), (line,) = kept(data)
    assert "Saved." in texts(app)
    assert (casting.piece.name, casting.pour.name) == ("007", "12")
    assert casting.pour.cast_on == date(2026, 3, 31)
    assert casting.piece.joint_sealing == "tape"
    assert casting.piece.vibration_method == "table"
    assert casting.piece.vibration_s == 40.0
    assert (line.photo_name, line.use.stage) == ("face.png", "as_struck")
    assert line.void_count == 3


def test_the_worst_spot_is_set_against_nothing_and_says_nothing_of_the_rest():
    app = fill_piece(measured(start()))
    assert "The rest of what you cast this way" in texts(app)
    app = ran(app.selectbox(key="purpose").set_value("worst_spot").run())
    assert "The rest of what you cast this way" not in texts(app)
    assert "% void area" in texts(app)


@pytest.mark.parametrize(
    ("chosen", "stored"),
    [("", None), ("none", "none")],
)
def test_not_known_and_none_are_two_answers(chosen, stored, data):
    app = fill_piece(measured(start()))
    app.selectbox(key="vibration method").set_value(chosen)
    ran(app.selectbox(key="joint sealing").set_value(chosen).run())

    press(app, "Save")

    ((casting,), _) = kept(data)
    assert casting.piece.joint_sealing == stored
    assert casting.piece.vibration_method == stored


def test_second_press_saves_nothing_more(data):
    app = fill_piece(measured(start()))

    other = start(draft=app.query_params["draft"])
    press(app, "Save")
    assert "Save" not in labels(app)
    press(other, "Save")

    castings, lines = kept(data)
    assert "Already saved." in texts(other)
    assert (len(castings), len(lines)) == (1, 1)


def test_press_whose_drawing_was_cut_short_still_saves(data, monkeypatch):
    app = fill_piece(measured(start()))
    real = cache.apply_settings

    def cut():
        monkeypatch.setattr(cache, "apply_settings", real)
        st.rerun()

    monkeypatch.setattr(cache, "apply_settings", cut)
    app = press(app, "Save")
    assert len(kept(data)[1]) == 1
    ran(app.run())
    assert len(kept(data)[1]) == 1


def test_fields_of_what_was_saved_are_folded_away(data):
    app = fill_piece(measured(start()))
    folded = "What it was saved with"
    assert folded not in [one.label for one in app.expander]
    app = press(app, "Save")

    (box,) = (one for one in app.expander if one.label == folded)
    assert not box.proto.expanded
    assert "piece name" in [one.key for one in box.text_input]
    # Another name is another reading to save, and the next photo begins anew.
    app = ran(app.text_input(key="piece name").set_value("008").run())
    assert "Save" in labels(app)
    app = press(app, "Take another photo")
    app = given(app, face_png(5), "next.png")
    assert folded not in [one.label for one in app.expander]
    assert kept(data)[1]


def test_unrelated_presses_save_nothing(data):
    app = fill_piece(measured(start()))

    ran(app.run())
    ran(app.run())

    assert kept(data) == ((), ())


def test_name_in_use_is_refused_and_nothing_half_saved(data):
    press(fill_piece(measured(start())), "Save")
    app = press(typed_scale(upload(start(), face_png(2))), "Measure")
    app.selectbox(key="form").set_value(0)
    ran(app.selectbox(key="pour").set_value(0).run())
    fill_piece(app, form="Trough B", pour="13")

    press(app, "Save")

    castings, lines = kept(data)
    assert "already a piece named '007'" in texts(app)
    assert (len(castings), len(lines)) == (1, 1)
    assert len(log_service.forms(log_service.open_log(data))) == 1


def test_an_empty_log_asks_for_no_name(data):
    press(measured(start()), "Save")

    (casting,), (line,) = kept(data)
    assert (casting.piece.name, casting.pour.name) == ("1", "1")
    assert casting.piece.form_id is None
    assert casting.piece.joint_sealing is None
    assert line.piece_id == casting.piece.id


def test_names_go_on_from_the_last_piece(data):
    press(fill_piece(measured(start())), "Save")
    app = press(typed_scale(upload(start(), face_png(2))), "Measure")
    assert "New piece 008, Trough A, pour 12" in texts(app)

    press(app, "Save")

    castings, _ = kept(data)
    assert [one.piece.name for one in castings] == ["008", "007"]
    assert len({one.pour.id for one in castings}) == 1
    assert len({one.piece.form_id for one in castings}) == 1


def test_nameless_piece_is_refused(data):
    press(fill_piece(measured(start()), piece=" "), "Save")

    assert kept(data) == ((), ())


def test_known_photo_is_told_before_marking_and_goes_to_its_piece(data):
    press(fill_piece(measured(start())), "Save")
    app = given(start(), face_png())
    assert "already in the log, with piece 007" in texts(app)

    press(press(typed_scale(upload_whole(app)), "Measure"), "Save")

    castings, lines = kept(data)
    assert (len(castings), len(lines)) == (1, 2)


def test_another_photo_of_the_same_piece(data):
    app = press(fill_piece(measured(start())), "Save")
    ran(app.toggle(key="same piece again").set_value(True).run())
    app = upload(app, face_png(2))

    press(press(typed_scale(app), "Measure"), "Save")

    castings, lines = kept(data)
    assert (len(castings), len(lines)) == (1, 2)


def test_no_piece_chosen_is_said_and_waits(data):
    press(fill_piece(measured(start())), "Save")
    app = press(typed_scale(upload(start(), face_png(2))), "Measure")
    app = ran(app.button_group(key="piece way").set_value("known").run())

    press(app, "Save")

    assert "Choose a piece, or" in texts(app)
    assert len(kept(data)[1]) == 1


def test_another_photo_lets_marks_and_result_go():
    app = measured(start())

    press(app, "Take another photo")

    assert not app.metric
    upload(app, face_png(2))
    assert app.text_input(key="mm per px").value == "0.5"
    assert not app.metric


def test_same_name_other_photo_is_another_photo():
    app = measured(start())
    press(app, "Take another photo")

    press(upload(app, face_png(2)), "Measure")

    assert app.metric[0].value == "2"


def test_answers_outlast_a_look_at_another_page():
    app = measured(start())

    ran(app.switch_page("guide/page.py").run())
    ran(app.switch_page("measure/page.py").run())

    assert app.metric[0].value == "3"


def test_what_the_user_wrote_is_shown_as_written():
    app = upload(start(), name=f"{HOSTILE.replace('/', '')}.png")
    said = texts(app).replace("\u2060", "")
    assert HOSTILE.replace("/", "") in said

    press(typed_scale(app), "Measure")
    fill_piece(app, piece=HOSTILE, pour=HOSTILE, form=HOSTILE)
    press(app, "Save")
    ran(app.run())

    said = texts(app).replace("\u2060", "")
    assert f"Saved. New piece {HOSTILE}, {HOSTILE}, new pour {HOSTILE}" in said


def test_new_session_goes_on_where_the_last_was_cut_off(data):
    cut_off = fill_piece(measured(start()))
    key = cut_off.query_params["draft"]

    app = start(draft=key)

    assert app.metric[0].value == "3"
    assert app.text_input(key="piece name").value == "007"
    press(cut_off, "Save")
    press(app, "Save")
    assert "Already saved." in texts(app)
    assert len(kept(data)[1]) == 1


def test_another_photo_ends_the_draft():
    app = measured(start())
    key = app.query_params["draft"]

    press(app, "Take another photo")

    assert "draft" not in app.query_params
    assert len(start(draft=key).file_uploader) == 2


def test_address_of_no_draft_begins_anew():
    assert len(start(draft="nothing").file_uploader) == 2


def test_a_reload_or_a_locked_phone_goes_on_at_the_same_step():
    app = press(fill_piece(measured(start())), "Change")
    key = app.query_params["draft"]
    assert app.button_group(key="measure step").value == "save"

    again = start(draft=key)

    assert again.button_group(key="measure step").value == "save"
    assert again.text_input(key="piece name").value == "007"


def test_back_to_the_face_and_on_again_keeps_the_figure():
    app = at_step(measured(start()), "face")
    app = press(app, "Show the result")

    assert app.metric[0].value == "3"


def test_draft_outlives_the_server():
    cut_off = measured(start())
    key = cut_off.query_params["draft"]
    cut_off.text_input(key="piece name").set_value("007")
    ran(cut_off.run())
    st.cache_resource.clear()

    app = start(draft=key)

    assert len(app.file_uploader) == 0
    press(app, "Measure")
    assert app.text_input(key="piece name").value == "007"


def test_lengths_are_shown_in_inch_once_chosen():
    app = measured(start())
    (largest,) = (one.value for one in app.metric if one.label == "Largest, mm")
    app = ran(app.button_group(key="shown unit").set_value("inch").run())
    shown = {one.label: one.value for one in app.metric}

    # 1 in = 25.4 mm and 1 ft = 0.3048 m, exactly (international yard and pound, 1959).
    assert float(shown["Largest, in"]) == pytest.approx(float(largest) / 25.4, abs=0.01)
    per_m2 = 3 / (240 * 160 * 0.25e-6)
    assert int(shown["Voids per sq ft"].replace(",", "")) == pytest.approx(
        per_m2 * 0.09290304, abs=1
    )
    assert "counted from" in texts(app)
    assert " in." in texts(app)
    columns = [name for table in app.dataframe for name in table.value.columns]
    assert "Diameter, in" in columns


def test_the_kind_of_face_is_that_of_the_form(data):
    press(fill_piece(measured(start())), "Save")
    log = log_service.open_log(data)
    (form,) = log_service.forms(log)
    ribbed = replace(form, face_kind="ribbed", pitch_mm=30.0)
    records.change(log, ribbed)
    app = given(start(), face_png())
    assert app.selectbox(key="face kind").value == "ribbed"
    assert "Form Trough A says: ribbed or fluted" in texts(app)
    app = typed_scale(upload_whole(app))
    assert app.text_input(key="flute pitch").value == "30"
    press(app, "Measure")
    press(app, "Save")
    log = log_service.open_log(data)
    last = log_service.load_reading(log, log_service.list_readings(log)[0].id)
    assert last.settings.pitch_mm == 30.0

    ran(app.selectbox(key="face kind").set_value("flat").run())
    assert "Changed for this photo alone" in texts(app)
    assert can_measure(app)
    press(app, "Measure")
    assert "Form Trough A says: ribbed or fluted" in texts(app)
