"""One question has one next step, and one count of pours, wherever it is asked.

The example workshop is walked: services, every page, the command line and the sheet.
"""

from __future__ import annotations

import json
import re

import pypdfium2
import pytest

from analysis.cli import main
from analysis.compare.compare import compare
from analysis.model.comparison import CompareOptions
from analysis.model.plan import PlanQuestion
from analysis.planning.next_words import step_sentence
from analysis.services import (
    batch_marks,
    example,
    next_steps,
    planner_shop,
    plans,
    report_sheets,
)
from analysis.services import log as log_service
from tests.support.screens import ran, start, texts

TYPES = {
    "trough": "keep",
    "pot": "refinish",
    "bench leg": "cast",
    "panel": "cast",
    "bowl": "keep",
}
FACTORS = ("joint_sealing", "release_agent", "mix", "vibration_s")


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("example")
    example.build_example(log_service.open_log(made), photos=False)
    return made


@pytest.fixture(scope="module")
def shop(folder):
    return planner_shop.shop_of_log(log_service.open_log(folder))


@pytest.fixture
def data(folder, monkeypatch):
    monkeypatch.setenv("STRUCKFACE_DATA", str(folder))


def chosen(app, label, value):
    (box,) = (one for one in app.selectbox if one.label == label)
    return ran(box.set_value(value).run())


def answered(folder, capsys, *words):
    assert main([*words, "--log", str(folder), "--json", "-"]) == 0
    return json.loads(capsys.readouterr().out)


def pours_named(text):
    """Every count of pours that a text asks to cast."""
    return {int(n) for n in re.findall(r"[Cc]ast (\d+) pours", text)} | {
        int(n) for n in re.findall(r"in (\d+) pours in all", text)
    }


def only(step):
    """The one count of pours that may be named beside a step."""
    return {step.pours} if step.kind == "cast" else set()


@pytest.mark.usefixtures("data")
def test_vibration_page_gives_the_step_of_the_type(shop):
    page = start("vibration")
    for form_type, kind in TYPES.items():
        step = next_steps.step_of_type(shop, form_type)
        page = chosen(page, "Form type", form_type)
        assert step.kind == kind
        assert step_sentence(step) in texts(page)
        assert pours_named(texts(page)) == only(step)


@pytest.mark.usefixtures("data")
@pytest.mark.parametrize("name", ["Pot 1", "Pot 2", "Panel A"])
def test_page_of_a_form_gives_the_step_of_its_type(shop, name):
    (form,) = (one for one in log_service.forms(shop.log) if one.name == name)
    step = next_steps.step_of_type(shop, form.form_type)
    page = texts(start("forms", form=str(form.id)))

    assert step_sentence(step) in page
    assert pours_named(page) == only(step)


@pytest.mark.usefixtures("data")
@pytest.mark.parametrize(
    ("view", "label"),
    [
        ("compare", "What did you do differently?"),
        ("plan", "What do you want to know about?"),
    ],
)
def test_compare_and_plan_pages_give_the_step_of_the_factor(shop, view, label):
    page = start(view)
    for by in FACTORS:
        step = next_steps.step_of_factor(shop, PlanQuestion(by=by))
        of_joints = view == "compare" and by == "joint_sealing"
        page = chosen(page, label, "joints_sealed" if of_joints else by)
        assert step.kind == "cast"
        assert step_sentence(step) in texts(page)
        assert pours_named(texts(page)) == only(step)


@pytest.mark.parametrize("by", ["release_agent", "vibration_s"])
def test_command_line_gives_the_step_of_the_factor(folder, shop, by, capsys):
    step = next_steps.step_of_factor(shop, PlanQuestion(by=by))
    planned = answered(folder, capsys, "plan", "--by", by)
    levels = {"vibration_s": ("60.0", "90.0")}.get(by, ())
    asked = [word for level in levels for word in ("--level", level)]
    compared = answered(folder, capsys, "compare", "--by", by, *asked)

    assert planned["next_step"]["sentence"] == step_sentence(step)
    assert planned["pours"] == step.pours
    assert compared["pours_needed"] == step.pours
    assert any(step_sentence(step) in note for note in compared["notes"])


@pytest.mark.parametrize("form_type", ["pot", "panel"])
def test_command_line_gives_the_step_of_the_type(folder, shop, form_type, capsys):
    step = next_steps.step_of_type(shop, form_type)
    usual = next_steps.usual_question(shop.log, shop.table, form_type)
    low, high = 100 * usual.target_low, 100 * usual.target_high
    found = answered(
        folder, capsys, "vibration", "--form-type", form_type,
        "--method", usual.method, "--target-low", f"{low:g}", "--target-high",
        f"{high:g}",
    )  # fmt: skip

    assert found["next_step"]["sentence"] == step_sentence(step)
    assert found["next_trial"].startswith(step_sentence(step))
    assert pours_named(found["next_trial"]) == only(step)


def test_a_form_that_left_its_target_comes_before_everything(shop):
    answer, step = next_steps.answered(
        shop, next_steps.usual_question(shop.log, shop.table, "pot")
    )

    assert next_steps.step_of_shop(shop) == step
    assert step.forms == ("Pot 2",)
    assert (answer.decision, answer.cause.name) == ("other_cause_first", "form_use")
    assert answer.suggested_s == answer.current_s
    asked = PlanQuestion(by="release_agent", form_type="pot")
    assert next_steps.step_of_factor(shop, asked) == step


def test_next_time_lies_on_the_falling_side(shop):
    for form_type in ("bench leg", "panel"):
        answer, step = next_steps.answered(
            shop, next_steps.usual_question(shop.log, shop.table, form_type)
        )
        now, then = (float(level) for level in step.levels)
        curve = answer.curve
        bottom = curve.seconds[curve.middle.argmin()]
        assert answer.expected.middle < answer.now.middle
        assert abs(then - bottom) < abs(now - bottom)
        assert (then - now) * (bottom - now) > 0


def test_sheet_of_a_trial_says_the_step(shop):
    step = next_steps.step_of_factor(shop, PlanQuestion(by="release_agent"))
    sheet = report_sheets.trial_sheet(shop.log, "release_agent", page="A4")
    pages = list(pypdfium2.PdfDocument(sheet))
    read = " ".join(
        " ".join(page.get_textpage().get_text_range() for page in pages).split()
    )

    assert step_sentence(step) in read
    assert pours_named(read) == {step.pours}


def test_a_trial_under_way_comes_before_another(folder):
    log = log_service.open_log(folder)
    made = plans.plan_of_log(log, PlanQuestion(by="release_agent"))
    key = plans.keep_plan(log, made, save_token="kept")
    try:
        shop = planner_shop.shop_of_log(log)
        step = next_steps.step_of_type(shop, "bench leg")
        assert step == next_steps.step_of_factor(shop, PlanQuestion(by="release_agent"))
        assert step_sentence(step) == (
            f"Go on with the trial of release agent: 0 of {made.pours} pours are cast."
        )
        for number in range(1, made.pours + 1):
            plans.tick(log, key, number, done=True)
        after = planner_shop.shop_of_log(log)
        assert next_steps.step_of_type(after, "bench leg").kind == "cast"
    finally:
        plans.throw_away(log, key)


def test_a_refinished_form_is_not_told_to_be_refinished_again(folder):
    log = log_service.open_log(folder)
    last = max(pour.cast_on for pour in log_service.pours(log))
    batch_marks.add_refinished(log, "Pot 2", last, save_token="refinished")
    try:
        step = next_steps.step_of_type(planner_shop.shop_of_log(log), "pot")
        assert step.kind == "keep"
    finally:
        batch_marks.take_back(log, batch_marks.refinished_marks(log)["Pot 2"])


def test_no_pair_of_a_comparison_counts_for_itself(shop):
    plain = compare(shop.table, CompareOptions(by="release_agent"))
    found = next_steps.with_step(shop, plain)

    assert plain.head.needed != found.head.needed
    assert found.head.verdict == plain.head.verdict
