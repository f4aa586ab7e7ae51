"""The second light on the measure page: two drawn files, in any order, to the log."""

from __future__ import annotations

import pytest

from analysis.services import log as log_service
from tests.services.pair_photos import pair_of_photos
from tests.support.screens import (
    button,
    fill_piece,
    labels,
    press,
    ran,
    start,
    texts,
    typed_scale,
    upload,
)

pytestmark = pytest.mark.usefixtures("data")


@pytest.fixture(scope="module")
def files():
    return pair_of_photos()


def second(app, file):
    upload_field = app.file_uploader[-1]
    return ran(upload_field.set_value(("other.png", file, "image/png")).run())


def captions(app):
    """What stands below the pictures."""
    return [one.caption for shown in app.get("image") for one in shown.proto.imgs]


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_two_files_in_any_order_make_one_reading(data, files, order):
    app = press(typed_scale(upload(start(), files[order[0]])), "Measure")
    assert "Second light" in [one.label for one in app.expander]

    app = second(app, files[order[1]])
    assert any("edges of the first" in told for told in captions(app))
    app = press(app, "Measure both")
    assert not any("edges of the first" in told for told in captions(app))
    said = texts(app)
    assert "lined up to 0." in said
    assert "° between the lamps" in said

    fill_piece(app)
    press(app, "Save")
    log = log_service.open_log(data)
    (line,) = log_service.list_readings(log)
    reading = log_service.load_reading(log, line.id)
    assert reading.second_light.photo_sha256 == log_service.digest(files[order[1]])
    assert (
        log_service.photo_bytes(log, reading.second_light.photo_sha256)
        == (files[order[1]])
    )


def test_the_same_file_twice_is_refused_and_one_photo_goes_on(files):
    app = press(typed_scale(upload(start(), files[0])), "Measure")

    app = press(second(app, files[0]), "Measure both")

    assert "same photo" in texts(app)
    assert "Go on with one photo" not in labels(app)
    app = press(app, "Another second photo")
    assert "Measure both" not in labels(app)
    assert not button(app, "Save").disabled


def test_the_second_of_an_upload_can_be_the_second_light(files):
    app = start()
    given = [("a.png", files[0], "image/png"), ("b.png", files[1], "image/png")]
    ran(app.file_uploader[0].set_value(given).run())
    app = press(app, "The photo holds nothing but face")
    app = press(typed_scale(app), "Measure")

    app = press(app, "Use the next photo of the upload")
    app = press(app, "Measure both")

    assert "lined up to" in texts(app)
