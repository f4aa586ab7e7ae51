"""Measure a face: corners, marks kept on the photo, several files, marks as before."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.workshop import Form, FormJoint
from analysis.services import log as log_service
from analysis.services import records
from tests.support.screens import (
    can_measure,
    face_png,
    fill_piece,
    labels,
    press,
    ran,
    sheet_png,
    start,
    texts,
    typed_scale,
    upload,
)

CORNERS = "20,20 219,20 219,139 20,139"


pytestmark = pytest.mark.usefixtures("data")


def latest(data):
    log = log_service.open_log(data)
    line = log_service.list_readings(log)[0]
    return log_service.load_reading(log, line.id)


def set_way(app, key, value):
    return ran(app.button_group(key=key).set_value(value).run())


def test_width_and_height_straighten_the_view(data):
    app = set_way(upload(start()), "scale way", "corners")
    app.text_input(key="scale corners").set_value(CORNERS)
    app.text_input(key="face width").set_value("100")
    app = ran(app.text_input(key="face height").set_value("60").run())
    app = press(fill_piece(press(app, "Measure")), "Save")
    reading = latest(data)

    assert reading.face.view.kind == "straightened"
    assert reading.scale.method == "corners"
    assert reading.summary.face_area_mm2 == pytest.approx(6000, rel=0.03)
    assert reading.summary.void_count == 3


def test_corners_that_are_no_face_are_refused():
    app = set_way(upload(start()), "scale way", "corners")
    app.text_input(key="scale corners").set_value("20,20 219,20 100,60 20,139")
    app.text_input(key="face width").set_value("100")
    app = ran(app.text_input(key="face height").set_value("60").run())

    assert "lies inside or on the line" in app.error[0].value.replace("\\", "")
    assert not can_measure(app)


def test_photo_without_a_sheet_is_told():
    app = set_way(upload(start()), "scale way", "sheet")

    assert app.error
    assert not can_measure(app)


def test_round_piece_is_unrolled(data):
    app = set_way(upload(start()), "scale way", "round")
    app.text_input(key="round edges").set_value("10,10 230,10 10,150 230,150")
    app = ran(app.text_input(key="top diameter").set_value("110").run())
    app = press(fill_piece(press(app, "Measure")), "Save")

    assert latest(data).face.view.kind == "unrolled"
    assert "within 45 degrees" in texts(app)


def test_up_joints_and_left_out_areas_are_kept(data):
    app = typed_scale(upload(start()))
    app = set_way(app, "up in the form", "right")
    ran(app.toggle(key="type marks").set_value(True).run())
    app.text_area(key="joint lines").set_value("left: 120,0 120,159")
    app.text_area(key="left-out areas").set_value("5,5 20,5 20,20")
    app = ran(app.text_input(key="joint band").set_value("10").run())
    press(fill_piece(press(app, "Measure")), "Save")
    face = latest(data).face

    assert face.up == "right"
    assert [joint.name for joint in face.joints] == ["left"]
    assert face.joint_band_mm == 10.0
    assert len(face.left_out_px) == 1


def test_a_mark_made_on_the_photo_joins_the_others():
    app = set_way(typed_scale(upload(start())), "mark what", "left_out")
    ran(app.toggle(key="type marks").set_value(True).run())
    app.text_area(key="left-out areas").set_value("5,5 20,5 20,20")
    app = ran(app.text_input(key="mark now").set_value("50,50 60,50 60,60").run())
    app = press(app, "Keep this mark")

    assert app.text_area(key="left-out areas").value.splitlines() == [
        "5,5 20,5 20,20",
        "50,50 60,50 60,60",
    ]
    assert app.text_input(key="mark now").value == ""


def test_outline_is_proposed():
    app = set_way(typed_scale(upload(start())), "face way", "corners")
    app = press(app, "Propose an outline")

    assert len(app.text_input(key="face corners").value.split()) >= 3


def test_second_photo_of_a_form_takes_its_marks_with_one_tap(data):
    app = set_way(typed_scale(upload(start())), "face way", "corners")
    app.text_input(key="face corners").set_value(CORNERS)
    app = set_way(app, "up in the form", "top")
    press(fill_piece(press(app, "Measure")), "Save")
    log = log_service.open_log(data)
    (piece,) = log_service.list_castings(log)

    app = start("pieces", piece=str(piece.piece.id))
    app = press(app, "Measure a face of this piece")
    app = ran(app.switch_page("measure/page.py").run())
    app = typed_scale(upload(app, face_png(voids=2)))
    # Taps after the upload, the scale apart: marks, measure, save.
    app = press(app, "Mark as last time in Trough A")
    assert app.text_input(key="face corners").value == CORNERS
    app = press(press(app, "Measure"), "Save")

    assert "Saved." in texts(app)
    assert len(log_service.list_readings(log)) == 2
    assert latest(data).face.up == "top"
    assert np.allclose(latest(data).face.outline_px[0], [20, 20])


def test_joints_of_the_form_are_offered(data):
    form = Form(name="Trough A", joints=(FormJoint(name="long side"),))
    records.add(log_service.open_log(data), form, save_token="form")
    app = set_way(typed_scale(upload(start())), "mark what", "joint")
    (box,) = (one for one in app.selectbox if one.label == "Which joint")

    assert box.options == ["long side"]


def test_one_bad_file_does_not_stop_the_others():
    app = start()
    files = [
        ("a.png", face_png(voids=1), "image/png"),
        ("bad.png", b"no photo", "image/png"),
        ("b.png", face_png(voids=2), "image/png"),
    ]
    app = ran(app.file_uploader(key="upload").set_value(files).run())

    assert "a.png" in texts(app)
    assert "bad.png" in app.error[0].value.replace("\\", "")
    app = press(app, "Next photo (1 waits)")
    assert "b.png" in texts(app)
    assert not [one for one in labels(app) if one.startswith("Next photo")]


def test_only_bad_files_are_all_told():
    app = start()
    files = [(f"{n}.png", b"no photo %d" % n, "image/png") for n in range(2)]
    app = ran(app.file_uploader(key="upload").set_value(files).run())

    assert len(app.error) == 2


def test_doubtful_photo_is_told_before_measuring():
    app = typed_scale(upload(start()))
    app = ran(app.text_input(key="smallest").set_value("1").run())
    assert any("too far away" in one.value for one in app.warning)
    assert can_measure(app)

    app = ran(app.text_input(key="smallest").set_value("3").run())
    assert not any("too far away" in one.value for one in app.warning)


def test_sheet_scales_the_photo_and_is_left_out(data):
    app = set_way(upload(start(), sheet_png()), "scale way", "sheet")
    assert "Sheet or card found" in texts(app)
    assert not can_measure(app)
    app = press(app, "The photo holds nothing but face")
    app = press(fill_piece(press(app, "Measure")), "Save")
    reading = latest(data)

    assert reading.scale.method == "sheet"
    (area,) = reading.face.left_out_px
    # The photo shows a little more than the face of 400 x 300 mm; the paper is
    # 250 x 170 mm or so.
    assert 60_000 < reading.summary.face_area_mm2 < 130_000
    assert len(area) == 4


def test_what_the_photo_shows_is_kept(data):
    app = press(typed_scale(upload(start())), "Measure")
    app.selectbox(key="surface state").set_value("damp")
    app.selectbox(key="set up").set_value("lamp from the left")
    app.text_input(key="hours since striking").set_value("20")
    press(fill_piece(app), "Save")
    (line,) = log_service.list_readings(log_service.open_log(data))

    assert line.use.surface_state == "damp"
    assert line.use.set_up == "lamp from the left"
    assert line.use.age_h == 20
