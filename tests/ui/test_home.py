"""Home: what to do today; on an empty log what the app is for."""

from __future__ import annotations

import re
from datetime import date, timedelta

import numpy as np
import pytest

from analysis.model.log import Piece, Pour
from analysis.services import log as log_service
from analysis.services import photo_queue, records
from tests.support.screens import face_png, labels, start, texts
from tests.support.shop_log import shop_log
from tests.support.track_tables import shares_of

TODAY = date(2026, 6, 25)


@pytest.fixture(autouse=True)
def data(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    monkeypatch.setattr(records, "today", lambda: TODAY)
    return tmp_path


def links(app):
    return {one.label: one.page for one in app.get("page_link")}


def test_empty_log_says_what_the_app_is_for():
    app = start("home")

    said = texts(app)
    assert "finds its bugholes" in said
    assert "Photos waiting" not in said
    assert list(links(app)) == ["Measure a face"]
    assert [one for one in labels(app) if "example" in one] == [
        "Open the example workshop"
    ]


def test_quiet_day_says_that_nothing_presses(data):
    shop_log(data, shares_of(12), high_share=0.02)

    said = texts(start("home"))

    assert "Nothing presses" in said
    assert "finds its bugholes" not in said


def test_day_of_work(data):
    shares = shares_of(24, late_factor=3.0)
    shares[:, 0] *= 1.05 ** np.arange(24)
    log = shop_log(data, shares, high_share=0.006)
    pieces = [Piece(name=f"new {k}", pour_id=0) for k in range(3)]
    pour = Pour(name="P-9", cast_on=TODAY)
    log_service.add_pour_with_pieces(log, pour, pieces, save_token="today")
    photo_queue.give(log, face_png(), "a.png")

    app = start("home")

    said = texts(app)
    assert "Pour P-9: 3 pieces, none of them measured" in said
    assert "1 to be measured" in said
    newest = TODAY - timedelta(days=30)
    assert "more voids than the target" in said
    assert f"since {newest.day} May 2026" in said
    assert "Trough A: Refinish its face" in said
    assert "smooth troughs: Drifting to more voids" in said
    assert "What to cast next" in said


def test_counts_lead_to_the_pieces_they_count(data):
    log = shop_log(data, shares_of(24, late_factor=3.0), high_share=0.006)
    pour = Pour(name="P-9", cast_on=TODAY)
    log_service.add_pour_with_pieces(log, pour, [], save_token="today")

    app = start("home")
    (link,) = (
        one for one in app.get("page_link") if one.label == "See those with more voids"
    )

    query = dict(one.split("=") for one in link.proto.query_string.split("&"))
    said = texts(start("pieces", **query))
    count = re.search(r", (\d+) ha(s|ve) more voids than the target", texts(app))
    assert f"{count[1]} piece" in said


def test_draft_in_the_address_goes_on_with_measuring():
    app = start("home", draft="nothing")

    assert "Measure a face" in texts(app)
    assert [one.key for one in app.file_uploader] == ["upload", "take"]
