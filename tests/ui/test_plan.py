"""Plan the next pour: asked, laid out, kept, logged pour by pour."""

from __future__ import annotations

import pytest

from analysis.model.workshop import Form
from analysis.services import log as log_service
from analysis.services import plans, records
from tests.support.compare_log import fill
from tests.support.screens import HOSTILE, labels, press, ran, start, texts

KEEP = "Keep this plan"


pytestmark = pytest.mark.usefixtures("data")


@pytest.fixture
def owned(log):
    for name in ("A", "B"):
        form = Form(name=f"Trough {name}", form_type="trough")
        records.add(log, form, save_token=name)
    return log


def choose(app, label, value):
    (box,) = (one for one in app.selectbox if one.label == label)
    return ran(box.set_value(value).run())


def type_in(app, first, second):
    """Type words that are not on offer yet."""
    for label, word in (("One way", first), ("The other way", second)):
        (box,) = (one for one in app.text_input if one.label == label)
        box.set_value(word)
    return ran(app.run())


def test_empty_log_gives_todays_trial():
    app = start("plan")

    said = texts(app)
    assert "pours, each with 1 piece with" in said
    assert "1. Any form:" in said
    assert "open joints" in said
    assert KEEP in labels(app)


@pytest.mark.usefixtures("owned")
def test_forms_owned_are_dealt_to():
    said = texts(start("plan"))

    assert "Trough A:" in said
    assert "Trough B:" in said


@pytest.mark.usefixtures("owned")
def test_a_smaller_difference_takes_more_pours():
    app = start("plan")
    before = app.header[0].value
    app.button_group(key="plan size joint_sealing").set_value("third")
    after = ran(app.run()).header[0].value

    assert int(after.split()[1]) > int(before.split()[1])


def test_too_small_a_difference_is_refused_in_words():
    app = start("plan")
    app = choose(app, "What do you want to know about?", "mix")
    app.button_group(key="plan size mix").set_value("fifth")
    app = type_in(app, "grey", "white")
    said = texts(app)

    assert "pours: ask for" in said
    assert KEEP not in labels(app)


@pytest.mark.usefixtures("owned")
def test_needs_two_ways():
    app = choose(start("plan"), "What do you want to know about?", "vibration_s")
    assert "Choose or type two ways" in texts(app)

    app = type_in(app, "20", "20")
    assert "Choose two different ways." in texts(app)

    app = type_in(app, "20", "40")
    assert "20 s of vibration" in texts(app)


def test_what_cannot_be_told_apart_comes_first(log):
    fill(log, aliased=True, kinds=2)

    said = texts(start("plan"))

    assert "So far the log cannot tell" in said


@pytest.mark.usefixtures("owned")
def test_kept_plan_goes_into_the_log_pour_by_pour(owned):
    app = press(start("plan"), KEEP)
    (kept,) = plans.kept_plans(owned)
    assert f"0 of {kept.plan.pours} pours are cast" in texts(app)

    app = press(app, "Log this pour")
    assert app.title[0].value == "Log a pour"
    # A page that the script turns to is not remembered by the test's next run.
    app = press(app.switch_page("pours/page.py").run(), "Save the pour")
    assert "Saved: pour 1" in texts(app)

    (kept,) = plans.kept_plans(owned)
    assert list(kept.cast) == [1]
    forms = {form.id: form.name for form in log_service.forms(owned)}
    sealing = {
        forms[one.piece.form_id]: one.piece.joint_sealing
        for one in log_service.list_castings(owned)
    }
    assert sealing == {
        one.form: one.level for one in kept.plan.assignments if one.pour == 1
    }
    app = ran(app.switch_page("plan/page.py").run())
    assert f"1 of {kept.plan.pours} pours are cast" in texts(app)
    assert f"Pour 2 of {kept.plan.pours}" in texts(app)


@pytest.mark.usefixtures("owned")
def test_a_half_filled_pour_is_not_lost():
    app = press(start("pours"), "Start an empty pour")
    app = press(ran(app.switch_page("plan/page.py").run()), KEEP)

    app = press(app, "Log this pour")

    assert "There is an unfinished pour" in texts(app)


def test_ticked_off_by_hand(owned):
    app = press(start("plan"), KEEP)

    app = ran(app.checkbox[0].check().run())

    (kept,) = plans.kept_plans(owned)
    assert kept.cast == {1: None}
    app = ran(app.checkbox[0].uncheck().run())
    assert plans.kept_plan(owned, kept.key).cast == {}


def test_all_cast_leads_to_compare(owned):
    app = press(start("plan"), KEEP)
    (kept,) = plans.kept_plans(owned)
    for number in range(1, kept.plan.pours + 1):
        plans.tick(owned, kept.key, number, done=True)

    app = ran(app.run())

    assert "All pours are cast" in texts(app)
    assert "Log this pour" not in labels(app)


def test_thrown_away_and_made_anew(owned):
    app = press(press(start("plan"), KEEP), "Delete it")

    assert plans.kept_plans(owned) == ()
    assert KEEP in labels(app)


def test_another_plan_beside_the_kept_one(owned):
    app = press(start("plan"), KEEP)
    assert KEEP not in labels(app)

    app.toggle[0].set_value(True)
    app = press(ran(app.run()), KEEP)

    assert len(plans.kept_plans(owned)) == 2


def test_words_are_shown_as_written(owned):
    records.add(owned, Form(name=HOSTILE, form_type=HOSTILE), save_token="h1")
    records.add(owned, Form(name=f"{HOSTILE} 2", form_type=HOSTILE), save_token="h2")
    app = choose(start("plan"), "Cast in", HOSTILE)

    # A word joiner keeps the smile from turning into a picture.
    assert HOSTILE in texts(app).replace("\u2060", "")
    assert "\\*new\\*" in app.header[0].value
