"""The example workshop opens with one click and never mixes with the own log."""

from __future__ import annotations

from datetime import date

import pytest

from analysis.errors import RecordError
from analysis.model.log import Pour
from analysis.services import example
from analysis.services import log as log_service
from analysis.storage.records import add
from tests.support.screens import labels, press, start, texts

OPEN = "Open the example workshop"
BACK = "Back to my log"


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    monkeypatch.setattr(example, "_add_photo", lambda *_: None)
    return tmp_path


@pytest.mark.parametrize(
    "view", ["home", "measure", "pieces", "forms", "compare", "batches"]
)
def test_offered_on_every_page_of_an_empty_log(view):
    assert labels(start(view)).count(OPEN) == 1


def test_offered_on_the_guide_only_once_pours_are_logged(data):
    pour = Pour(name="1", cast_on=date(2026, 3, 31))
    add(log_service.open_log(data), pour, save_token="own")

    assert OPEN not in labels(start("pieces"))
    assert OPEN in labels(start("guide"))


def test_opens_with_a_strip_on_every_page_and_goes_back(data):
    app = press(start("pieces"), OPEN)

    assert "Example workshop" in texts(app)
    assert "Pour P26" in texts(app)
    assert " % void area, without a photo" in texts(app)
    assert "No reading yet" not in texts(app)
    assert OPEN not in labels(app)
    for view in ("measure", "forms", "guide"):
        assert "Example workshop" in texts(app.switch_page(f"{view}/page.py").run())

    app = press(app, BACK)

    assert "Example workshop" not in texts(app)
    assert BACK not in labels(app)
    assert not log_service.pours(log_service.open_log(data))


@pytest.mark.usefixtures("data")
def test_pages_show_the_truths():
    app = press(start("forms"), OPEN)

    said = texts(app)
    assert said.index("Pot 2") < said.index("Pot 1")
    assert "Refinish its face" in said


def test_address_names_it_and_a_new_session_opens_it_again(data):
    own = Pour(name="own", cast_on=date(2026, 3, 31))
    add(log_service.open_log(data), own, save_token="own")
    app = press(start("guide"), OPEN)
    assert app.query_params["log"] == "example"
    assert "log" not in start("pieces").query_params

    again = start("pieces", log="example")

    assert "Pour P26" in texts(again)
    assert "Pour own" not in texts(again)
    assert again.query_params["log"] == "example"
    press(again, BACK)
    assert "log" not in again.query_params
    assert "Pour P26" not in texts(again)


def test_another_name_in_the_address_opens_the_own_log():
    assert "Nothing is logged yet." in texts(start("pieces", log="other"))


def test_tour_stands_at_home():
    app = press(start("home"), OPEN)

    assert "What to find in it" in texts(app)
    links = [one.label for one in app.get("page_link")]
    assert "Is a form wearing out?" in links


def test_says_why_it_cannot_be_opened(monkeypatch):
    def fail(_progress):
        msg = "The disk is full: make room."
        raise RecordError(msg)

    monkeypatch.setattr("ui.cache.open_example", fail)

    app = press(start("pieces"), OPEN)

    assert "The disk is full: make room." in texts(app)
    assert OPEN in labels(app)
