"""How a form's face is photographed: kept on its page, held against the next photo."""

from __future__ import annotations

import pytest

from analysis.model.workshop import PhotoRecipe
from analysis.services import records
from tests.support.cast_pieces import filled
from tests.support.screens import (
    face_png,
    fill_piece,
    measured,
    press,
    ran,
    start,
    texts,
    typed_scale,
    upload,
)

pytestmark = pytest.mark.usefixtures("log")


def press_key(app, key):
    return ran(app.button(key=key).click().run())


def test_it_is_kept_corrected_and_deleted(log):
    filled(log, 1)
    app = start("forms", form="1")
    assert "every next photo is held against it" in texts(app)
    app = press_key(app, "take photographed 1")
    assert "No photo of the face is kept" in texts(app)

    app.text_input(key="camera 1  None 0").set_value("0,9 m")
    app.text_input(key="lamp 1  None 0").set_value("left stand")
    app = press_key(app, "save photographed 1")

    assert "Camera to face: 900 mm" in texts(app)
    assert "Lamp or daylight: left stand" in texts(app)
    assert "No photo is taken as its measure yet." in texts(app)
    app.text_input(key="floor_marks 1  1 1").set_value("tape")
    app = press_key(app, "save photographed 1")
    (kept,) = records.list_all(log, PhotoRecipe)
    assert (kept.camera_mm, kept.lamp, kept.floor_marks) == (
        900.0,
        "left stand",
        "tape",
    )
    press_key(app, "delete PhotoRecipe 1")
    assert not records.list_all(log, PhotoRecipe)
    app = start("records")
    app = ran(app.button_group(key="show").set_value("out").run())
    assert "How a face is photographed: Camera to face: 900 mm" in texts(app)


def test_the_next_photo_is_held_against_it():
    press(fill_piece(measured(start())), "Save")
    page = press(start("forms", form="1"), "Take it from the last photo")
    assert "shows 120 mm across, lit evenly" in texts(page)

    app = typed_scale(upload(start(), face_png(voids=2)))
    assert "Same set-up as kept with the form." in texts(app)
    app = typed_scale(app, 1.0)
    said = "Not the set-up kept with the form: from farther away (2 times)."
    assert said in texts(app)
