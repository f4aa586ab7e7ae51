"""Settings are asked once and hold on every page."""

from __future__ import annotations

from datetime import date

import pytest

from analysis.model.log import Piece, Pour
from analysis.services.log import add_pour_with_pieces, open_log
from analysis.services.workshop_settings import settings
from tests.support.screens import press, ran, start, texts


@pytest.fixture(autouse=True)
def log(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    log = open_log(tmp_path)
    pour = Pour(name="12", cast_on=date(2026, 3, 14))
    add_pour_with_pieces(log, pour, [Piece(name="7", pour_id=0)], save_token="pour")
    return log


def opened():
    return ran(start("records").button_group(key="show").set_value("settings").run())


def test_one_date_style_on_every_page(log):
    assert "Pour 12 (14 March 2026)" in texts(start("pieces"))
    app = opened()
    app.text_input(key="workshop name").set_value(" Yard Three ")
    app.radio(key="workshop unit").set_value("inch")
    app.radio(key="workshop dates").set_value("year-month-day")

    press(ran(app.run()), "Save settings")

    found = settings(log)
    assert (found.workshop, found.unit) == ("Yard Three", "inch")
    assert "Pour 12 (2026-03-14)" in texts(start("pieces"))


def test_a_name_too_long_is_refused_and_nothing_is_kept(log):
    app = opened()
    app.text_input(key="workshop name").set_value("x" * 81)

    press(ran(app.run()), "Save settings")

    assert "shorten it to 80" in texts(app)
    assert settings(log).workshop == ""
