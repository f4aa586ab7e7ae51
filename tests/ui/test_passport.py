"""A form's passport on the screen."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from analysis.model.workshop import FormCare
from analysis.services import batch_marks, records
from tests.support.screens import press, ran, start, texts
from tests.support.shop_log import shop_log
from tests.support.track_tables import shares_of

TODAY = date(2026, 8, 3)


@pytest.fixture(autouse=True)
def log(tmp_path, monkeypatch):
    """Thirty castings of two forms, the first of which wears."""
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    monkeypatch.setattr(records, "today", lambda: TODAY)
    shares = shares_of(30, per_pour=2, seed=5)
    shares[:, 0] *= 1.05 ** np.arange(30)
    return shop_log(tmp_path, shares, high_share=0.03)


def test_advice_is_answered_and_judged_anew(log):
    app = start("forms", form="1")
    assert "Refinish its face" in texts(app)
    assert "Void area up to 3.00 %" in texts(app)

    app = press_key(app, "save answer 1")

    assert "Face refinished, 3 August 2026" in texts(app)
    assert list(batch_marks.refinished_marks(log)) == ["Trough A"]
    (kept,) = records.list_all(log, FormCare)
    assert (kept.kind, kept.done_on) == ("refinished", TODAY)
    press_key(app, "delete FormCare 1")
    assert not records.list_all(log, FormCare)


def press_key(app, key):
    return ran(app.button(key=key).click().run())


@pytest.mark.usefixtures("log")
def test_reminder_is_set_told_and_done():
    app = start("forms", form="1")
    app.text_input(key="every 1").set_value("31")

    app = press(app, "Set a reminder")

    assert "Waxed: never noted, 30 uses so far, due every 31: 1 use left" in texts(app)
    assert "due every 31" in texts(start("forms"))
    assert "Trough A: Refinish its face" in texts(start("home"))
    app = press(app, "Done today")
    assert "0 uses since, due every 31: 31 uses left" in texts(app)
    assert "due every 31" not in texts(start("forms"))


@pytest.mark.usefixtures("log")
def test_recipe_is_written_and_shown():
    app = start("forms", form="1")
    app.text_area(key="recipe of 1 1").set_value("tape, wax, 40 s")

    app = press_key(app, "save recipe 1")

    assert "tape, wax, 40 s" in texts(app)
