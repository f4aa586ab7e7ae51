"""Reviewing a reading on the piece's page: figures follow, and the review is kept."""

from __future__ import annotations

import pytest

from analysis.model.log import PhotoUse
from analysis.services import log as log_service
from analysis.services import review as service
from tests.support.screens import (
    HOSTILE,
    button,
    keep_face,
    press,
    ran,
    start,
    texts,
)


@pytest.fixture(autouse=True)
def log(tmp_path, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path))
    log = log_service.open_log(tmp_path)
    keep_face(log)
    return log


def opened():
    return press(start("pieces", piece="1"), "Review void by void")


def choose(app, number):
    app.session_state["review chosen"] = number
    return ran(app.run())


def reject(app, number, reason="Stain"):
    return press(choose(app, number), reason)


def save(app, name="R."):
    app.text_input(key="review signature").set_value(name).run()
    return ran(app.button(key="review save").click().run())


def test_figures_follow_each_decision_and_undo_brings_them_back():
    app = opened()
    assert "% void area" in texts(app)
    assert "was" not in app.subheader[0].value
    before = app.subheader[0].value
    app = reject(app, 0)
    assert f"was {before.removesuffix(' void area')}" in app.subheader[0].value
    assert "2 voids." in texts(app)
    assert "not counted (by hand: stain or damp)" in texts(app)
    app = press(app, "Undo")
    assert app.subheader[0].value == before
    app = press(app, "Redo")
    assert "2 voids." in texts(app)
    app = press(app, "Count it")
    assert app.subheader[0].value == before


def test_a_worst_spot_says_nothing_of_the_rest(tmp_path, monkeypatch):
    app = opened()
    assert "The rest of what you cast this way" in texts(app)

    monkeypatch.setenv("STRUCKFACE_DATA", str(tmp_path / "worst"))
    worst = log_service.open_log(tmp_path / "worst")
    keep_face(worst, use=PhotoUse(purpose="worst_spot"))
    app = reject(opened(), 0)
    assert "2 voids." in texts(app)
    assert "The rest of what you cast this way" not in texts(app)


def test_a_saved_review_is_shown_first_and_the_automatic_one_stays(log):
    app = save(reject(opened(), 0))
    said = texts(app)
    assert "Review saved. The automatic reading stays beside it." in said
    assert "Reviewed by R. on" in said
    assert "The automatic reading of" in said
    new, old = log_service.list_readings(log)
    assert new.reviews_id == old.id
    assert new.void_share < old.void_share
    assert ", reviewed" in app.selectbox[0].options[0]
    assert ", reviewed" not in app.selectbox[0].options[1]


def test_a_review_goes_on_where_it_was_left():
    reject(opened(), 1)
    app = opened()  # another session: the browser was closed
    assert "2 voids." in texts(app)
    app = press(app, "Leave for later")
    assert "Review void by void" in [one.label for one in app.button]
    app = press(press(app, "Review void by void"), "Cancel")
    assert "3 voids." in texts(opened())


def test_a_review_needs_a_signature_and_shows_it_as_typed(log):
    app = save(reject(opened(), 0), " ")
    assert "signature of a review needs a name" in texts(app)
    assert len(log_service.list_readings(log)) == 1
    said = texts(save(app, HOSTILE)).replace("\u2060", "")
    assert f"Reviewed by {HOSTILE} on" in said


def test_without_a_decision_there_is_nothing_to_save():
    assert button(opened(), "Save review (0 changes)").disabled


def test_a_drawn_outline_without_points_is_refused():
    app = opened()
    app.button_group(key="review way").set_value("draw").run()
    app = press(app, "Use this outline")
    assert "outside the measured face" in texts(app)


def test_another_version_of_the_steps_is_said(monkeypatch):
    monkeypatch.setattr(service, "METHOD_VERSION", "next")
    assert "measure the photo again, then review" in texts(opened())


def test_pages_that_use_reviews_say_so():
    assert "reviewed reading" not in texts(start("batches"))
    save(reject(opened(), 0))
    assert "1 of 1 piece stands on a reviewed reading." in texts(start("batches"))


def test_a_void_is_pulled_by_its_points_and_the_change_is_undone():
    app = choose(opened(), 0)
    before = app.subheader[0].value
    app = press(app, "Pull its points")
    assert "Drag a point to where the void ends" in texts(app)
    app = press(app, "Use it")
    assert app.subheader[0].value != ""
    assert "3 voids." in texts(app)
    assert button(app, "Save review (1 change)")
    app = press(app, "Undo")
    assert app.subheader[0].value == before


def test_a_change_can_be_left():
    app = choose(opened(), 0)
    for name in ("Cut in two", "Join with another", "Brush"):
        app = press(app, name)
        assert "If its outline is wrong" not in texts(app)
        app = press(app, "Leave it as it was")
        assert "If its outline is wrong" in texts(app)
    assert button(app, "Save review (0 changes)").disabled


def test_what_was_looked_at_as_a_whole_is_told_by_its_edges(log):
    app = opened()
    app = ran(app.checkbox[0].check().run())
    app = save(app)
    new, old = log_service.list_readings(log)
    assert new.void_share == old.void_share
    assert (new.void_share_low, new.void_share_high) != (
        old.void_share_low,
        old.void_share_high,
    )
