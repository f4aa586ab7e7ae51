"""More vibration?: the answer first, then why, then what to cast next."""

from __future__ import annotations

import pytest

from analysis.services import example
from analysis.services import log as log_service
from tests.support.screens import labels, press, ran, start, texts

PLAN_IT = "Plan it for your forms"


pytestmark = pytest.mark.usefixtures("data")


@pytest.fixture(scope="module")
def invented(tmp_path_factory):
    folder = tmp_path_factory.mktemp("invented")
    example.build_example(log_service.open_log(folder), photos=False)
    return folder


@pytest.fixture
def shop(invented, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(invented))
    return start("vibration")


def choose(app, label, value):
    (box,) = (one for one in app.selectbox if one.label == label)
    return ran(box.set_value(value).run())


def number(app, label, value):
    (box,) = (one for one in app.text_input if one.label == label)
    return ran(box.set_value(str(value)).run())


def head(app):
    """The answer, as it would be read."""
    return app.header[0].value.replace("\\", "")


def test_empty_log_gives_todays_trial_and_checks():
    app = start("vibration")

    assert "each with 1 pot with 20 s of vibration and 1 with 40 s" in head(app)
    said = texts(app)
    assert "Fill in this order, drawn by lot" in said
    assert "Squeeze a handful" in said
    assert "standing water" in said
    assert "Local codes" in said


def test_rodding_counts_strokes():
    app = choose(start("vibration"), "Vibrated by", "rodding")

    assert "with 25 strokes and 1 with 50 strokes" in head(app)


def test_under_vibrated_panels(shop):
    app = choose(shop, "Form type", "panel")

    assert head(app).startswith("Vibrate longer: 30 s should give ")
    assert "% less void area than 20 s (" in head(app)
    assert head(app).endswith(", from 26 pours: clear.")
    said = texts(app)
    assert "wall panels" in str([one.options for one in app.selectbox])
    assert "Allowed for besides the seconds" in said


def test_a_finish_nobody_set_is_told_until_one_is_typed(shop):
    assumed = "For up to 0.6 % void area, which nobody set yet"
    app = choose(shop, "Finish wanted", "")
    assert assumed in texts(app)

    assert assumed not in texts(number(app, "Most void area, %", 1))


def test_chart_leaves_as_a_file(shop):
    offered = [one.label for one in shop.get("download_button")]

    assert offered == ["Chart (SVG)", "Chart (PNG)"]


def test_over_vibrated_bench_legs_lead_to_a_plan(shop):
    app = choose(shop, "Form type", "bench leg")

    assert head(app).startswith("Vibrate for less time: 60 s")
    assert PLAN_IT in labels(app)
    press(app, PLAN_IT)
    app = ran(app.switch_page("plan/page.py").run())
    assert "90 s of vibration and 1 with 60 s" in head(app)


def test_a_finish_typed_in_is_answered(shop):
    app = choose(shop, "Form type", "panel")
    app = choose(app, "Finish wanted", "")
    app = number(app, "Most void area, %", 5.0)

    assert head(app).startswith("Keep the time: 20 s gives 1.2 % void area (")
    assert "meets the target of up to 5 %, from 26 pours: clear" in head(app)


def test_no_band_is_refused(shop):
    app = choose(shop, "Finish wanted", "")
    app = number(app, "Least void area, %", 3.0)

    assert "must be below its upper end" in app.error[0].value


def test_time_never_tried_is_said(shop):
    app = number(shop, "Seconds used now", 900.0)

    assert head(app) == (
        "Not enough evidence yet: nothing was cast near the time used now."
    )
    assert "nothing to go by" in texts(app)


def test_a_form_that_left_its_target_comes_first(shop):
    app = choose(shop, "Form type", "pot")

    assert head(app) == "First refinish Pot 2."
    assert PLAN_IT not in labels(app)


def test_what_is_cheapest_says_what_to_log(shop):
    app = choose(shop, "Form type", "panel")
    assert "Type what an hour of work costs." in texts(app)

    app = number(app, "An hour of work costs", 30)

    assert "Repair minutes are known for 0 pieces of 0 pours" in texts(app)
    assert not app.error


def test_page_opens_on_a_type_whose_times_differ(shop):
    (box,) = (one for one in shop.selectbox if one.label == "Form type")

    # The troughs, cast as often and named first, were all vibrated for 40 s.
    assert box.options[0] == "trough"
    assert box.value in {"bench leg", "panel"}
    assert head(shop).startswith(("Keep the time", "Vibrate"))
