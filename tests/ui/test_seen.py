"""Marks tapped on the piece page; told where vibration is asked about."""

from __future__ import annotations

import pytest

from analysis.services import example, marks_seen
from analysis.services.log import list_castings, open_log
from tests.support.screens import ran, start, texts


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    folder = tmp_path_factory.mktemp("shop")
    example.build_example(open_log(folder), photos=False)
    return folder


@pytest.fixture(autouse=True)
def data(shop, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(shop))
    return shop


def pills(app):
    (found,) = (one for one in app.get("button_group") if "Seen on" in one.label)
    return found


def test_a_tap_is_kept_and_leads_to_causes(data):
    log = open_log(data)
    app = start("pieces", piece="1")
    assert "Bleed water ran up the face" not in texts(app)

    app = ran(pills(app).set_value(["bleed streaks"]).run())
    assert marks_seen.marks_of(log, 1) == ("bleed streaks",)
    said = texts(app)
    assert "Bleed water ran up the face" in said
    assert "ACI 309.2R" in said

    app = ran(pills(app).set_value([]).run())
    assert marks_seen.marks_of(log, 1) == ()
    assert "Bleed water ran up the face" not in texts(app)


def test_what_another_noted_meanwhile_stays(data):
    log = open_log(data)
    app = start("pieces", piece="2")
    marks_seen.set_marks(log, 2, ["stones sunk"])
    app = ran(pills(app).set_value(["layer line"]).run())
    assert set(marks_seen.marks_of(log, 2)) == {"stones sunk", "layer line"}
    assert set(pills(app).value) == {"stones sunk", "layer line"}


def test_vibration_tells_of_marks_at_its_seconds(data):
    legs = sum(one.piece.vibration_s == 120 for one in list_castings(open_log(data)))
    app = start("vibration")
    (kind,) = (one for one in app.selectbox if one.label == "Form type")
    said = texts(ran(kind.set_value("bench leg").run()))
    assert f"of {legs} pieces" in said
    assert "Marks of too much vibration were seen: at 120 s on" in said
    assert "Vibrate for less time" in said
