"""Plans are kept in the log and followed pour by pour."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from analysis.errors import NotInLogError
from analysis.model.log import Piece, Pour, Step
from analysis.model.plan import PlanQuestion
from analysis.model.workshop import Form, FormJoint, Mix
from analysis.pieces.columns import coded
from analysis.services import log as log_service
from analysis.services import plans, records
from analysis.services.trial_marks import with_trials


@pytest.fixture
def log(tmp_path):
    log = log_service.open_log(tmp_path)
    for name in ("A", "B"):
        form = Form(
            name=f"Trough {name}",
            form_type="trough",
            joints=(FormJoint(name="left"), FormJoint(name="right")),
        )
        records.add(log, form, save_token=name)
    return log


def kept(log, by="joint_sealing", levels=("tape", "none")):
    made = plans.plan_of_log(log, PlanQuestion(by=by, levels=levels))
    return plans.kept_plan(log, plans.keep_plan(log, made, save_token="one"))


def cast(log, plan, number):
    pour, pieces = plans.pour_of_plan(log, plan, number)
    token = plans.pour_token(log, plan.key, number)
    return records.add_pour_with_pieces(log, pour, pieces, save_token=token).id


def test_comes_back_as_it_was_made(log):
    made = plans.plan_of_log(
        log, PlanQuestion(by="joint_sealing", levels=("tape", "none"))
    )

    key = plans.keep_plan(log, made, save_token="one")
    again = plans.keep_plan(log, made, save_token="one")

    assert again == key
    (found,) = plans.kept_plans(log)
    assert found.plan == made
    # Midnight may pass meanwhile.
    made_on = date.fromisoformat(found.made_on)
    assert abs(made_on - records.today()) <= timedelta(days=1)
    assert found.cast == {}


def test_a_plan_of_an_earlier_version_opens_without_its_sentences(log):
    made = kept(log)
    old = records.load_draft(log, made.key)
    old["plan"]["notes"] = ["Every pour has both ways."]
    records.save_draft(log, made.key, old)

    assert plans.kept_plan(log, made.key) == made


def test_pour_is_ready_to_log_by_the_lot(log):
    plan = kept(log)
    by_form = {one.form: one.level for one in plan.plan.assignments if one.pour == 1}
    forms = {form.id: form.name for form in log_service.forms(log)}

    pour, pieces = plans.pour_of_plan(log, plan, 1)

    assert abs(pour.cast_on - records.today()) <= timedelta(days=1)
    assert {forms[one.form_id]: one.joint_sealing for one in pieces} == by_form
    assert {len(one.joints) for one in pieces} == {2}
    order = {one.form: one.order for one in plan.plan.assignments if one.pour == 1}
    filled = [order[forms[one.form_id]] for one in pieces]
    assert filled == sorted(filled)


def test_cast_pours_are_known_and_counted_once(log):
    plan = kept(log)

    pour_id = cast(log, plan, 2)

    assert plans.kept_plan(log, plan.key).cast == {2: pour_id}


def test_a_pour_taken_back_is_open_again(log):
    plan = kept(log)
    first = cast(log, plan, 1)
    records.hide(log, Pour, first)
    assert plans.kept_plan(log, plan.key).cast == {}

    second = cast(log, plan, 1)

    assert second != first
    assert plans.kept_plan(log, plan.key).cast == {1: second}


def test_taken_back_without_end(log):
    plan = kept(log)
    for _ in range(plans.TRIES):
        records.hide(log, Pour, cast(log, plan, 1))

    with pytest.raises(NotInLogError, match="undone 20 times"):
        plans.pour_token(log, plan.key, 1)


def test_ticks_by_hand(log):
    plan = kept(log)

    plans.tick(log, plan.key, 3, done=True)
    plans.tick(log, plan.key, 1, done=True)
    plans.tick(log, plan.key, 3, done=False)

    assert plans.kept_plan(log, plan.key).cast == {1: None}


def test_thrown_away(log):
    plan = kept(log)
    plans.throw_away(log, plan.key)

    assert plans.kept_plans(log) == ()
    with pytest.raises(NotInLogError, match="was deleted"):
        plans.tick(log, plan.key, 1, done=True)


@pytest.mark.parametrize(
    ("by", "levels", "field"),
    [
        ("release_agent", ("oil", "wax"), "release_agent"),
        ("vibration_s", ("20", "40"), "vibration_s"),
        ("vibration_method", ("table", "poker"), "vibration_method"),
        ("lifts", ("1", "2"), "lifts"),
        ("strike_after_h", ("24", "48"), "strike_after_h"),
        ("curing", ("wet cloth", "tarpaulin"), "curing"),
    ],
)
def test_levels_of_pieces_are_filled_in(log, by, levels, field):
    plan = kept(log, by, levels)

    _, pieces = plans.pour_of_plan(log, plan, 1)

    found = {getattr(one, field) for one in pieces}
    assert {str(value).removesuffix(".0") for value in found} == set(levels)


def test_seconds_keep_the_method(log):
    ids = [form.id for form in log_service.forms(log)]
    pieces = [
        Piece(
            name=str(n), pour_id=0, form_id=n, steps=(Step(method="table", seconds=9),)
        )
        for n in ids
    ]
    pour = Pour(name="1", cast_on=records.today())
    records.add_pour_with_pieces(log, pour, pieces, save_token="before")

    _, planned = plans.pour_of_plan(log, kept(log, "vibration_s", ("20", "40")), 1)

    assert {one.vibration_method for one in planned} == {"table"}
    _, same = plans.pour_of_plan(
        log, kept_as(log, "vibration_method", ("table", "poker")), 1
    )
    assert sorted(str(one.vibration_s) for one in same) == ["9.0", "None"]


def kept_as(log, by, levels):
    made = plans.plan_of_log(log, PlanQuestion(by=by, levels=levels))
    return plans.kept_plan(log, plans.keep_plan(log, made, save_token=by))


@pytest.mark.parametrize(
    ("by", "levels"),
    [
        ("consistency", ("soft", "plastic")),
        ("water_added_l", ("5", "6")),
        ("mix", ("grey", "white")),
        ("cement_lot", ("a", "b")),
    ],
)
def test_levels_of_pours_are_filled_in(log, by, levels):
    mixes = {
        name: records.add(log, Mix(name=name), save_token=name).id
        for name in ("grey", "white")
    }
    plan = kept(log, by, levels)
    (level, *_) = (one.level for one in plan.plan.assignments if one.pour == 1)

    pour, _ = plans.pour_of_plan(log, plan, 1)

    if by == "mix":
        assert pour.mix_id == mixes[level]
    else:
        assert str(getattr(pour, by)).removesuffix(".0") == level


def test_a_trial_is_carried_to_the_table_of_pieces(log):
    plan = kept(log)
    pour_id = cast(log, plan, 1)
    rows = [
        {"pour": pour.name, "form": form, "joint_sealing": level}
        for pour in records.list_all(log, Pour)
        if pour.id == pour_id
        for form, level in (
            (one.form, one.level) for one in plan.plan.assignments if one.pour == 1
        )
    ]
    rows.append({"pour": "other", "form": "Trough A", "joint_sealing": None})

    def marks(name):
        cells = {key: coded([row[key] for row in rows]) for key in rows[0]}
        return with_trials(log, cells)[name].cells()

    assert marks("dealt") == ["by_lot", "by_lot", None]
    assert marks("trial_pours") == [plan.plan.pours, plan.plan.pours, None]
    assert marks("trial_factor")[0] == "joint_sealing"
    rows[0]["joint_sealing"] = "caulk"
    assert marks("dealt")[0] == "not_by_lot"


def test_each_plan_has_a_lot_of_its_own(log):
    asked = plans.PlanQuestion(by="joint_sealing", levels=("tape", "none"))
    first = plans.plan_of_log(log, asked)
    assert plans.plan_of_log(log, asked) == first  # while it is looked at
    plans.keep_plan(log, first, save_token="first")
    second = plans.plan_of_log(log, asked)
    assert second.seed != first.seed
