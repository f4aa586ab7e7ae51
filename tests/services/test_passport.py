"""A form's passport: uses since a care, reminders, leaks by joint, advice answered."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import pytest

from analysis.errors import InputError
from analysis.model.log import JointState, Piece, Pour
from analysis.model.workshop import (
    FinishTarget,
    Form,
    FormCare,
    FormJoint,
    FormReminder,
    ProductLine,
)
from analysis.services import batch_marks, records
from analysis.services.log import add_pour_with_pieces, form, open_log
from analysis.services.passport import add_care, due_by_form, passport

DAYS = tuple(date(2026, 3, day) for day in (2, 9, 16, 23, 30))
LEAKS = (("none", "slight"), ("none", None), ("strong", "none"), (None, "slight"))


@pytest.fixture
def log(tmp_path):
    """A form of two joints, cast on four Mondays, five castings before the log."""
    log = open_log(tmp_path)
    line = records.add(log, ProductLine(name="pots"), save_token="line").id
    joints = (FormJoint(name="left"), FormJoint(name="right"))
    given = Form(name="A", joints=joints, starting_use_count=5, product_line_id=line)
    form_id = records.add(log, given, save_token="form").id
    for n, (day, leaks) in enumerate(zip(DAYS, LEAKS, strict=False)):
        states = tuple(
            JointState(joint=joint, leak=leak)
            for joint, leak in zip(("left", "right"), leaks, strict=True)
        )
        piece = Piece(name=str(n), pour_id=0, form_id=form_id, joints=states)
        pour = Pour(name=str(n), cast_on=day)
        add_pour_with_pieces(log, pour, [piece], save_token=f"pour {n}")
    return log


def care(log, kind, day, **more):
    given = FormCare(form_id=1, kind=kind, done_on=day, **more)
    add_care(log, form(log, 1), given, save_token=f"{kind} {day} {more}")


def remind(log, every=4, kind="waxed"):
    asked = FormReminder(form_id=1, kind=kind, every_uses=every)
    records.add(log, asked, save_token=f"remind {kind} {every}")


def test_uses_before_the_log_count_until_a_care_is_noted(log):
    remind(log, every=10)

    (due,) = passport(log, form(log, 1)).due

    assert (due.last, due.uses, due.left) == (None, 9, 1)


@pytest.mark.parametrize(
    ("day", "uses"), [(DAYS[0], 4), (DAYS[2], 2), (date(2026, 3, 17), 1), (DAYS[4], 0)]
)
def test_a_casting_of_the_day_counts_as_made_after_the_care(log, day, uses):
    remind(log)
    care(log, "waxed", date(2026, 1, 1))
    care(log, "waxed", day)
    care(log, "cleaned", DAYS[4])

    (due,) = passport(log, form(log, 1)).due

    assert (due.last.done_on, due.uses, due.left) == (day, uses, 4 - uses)


def test_a_new_liner_is_everything_done_at_once(log):
    remind(log)
    care(log, "new_liner", DAYS[3])

    assert passport(log, form(log, 1)).due[0].uses == 1
    assert batch_marks.refinished_marks(log)["A"].from_day == DAYS[3]


def test_reminders_are_told_three_uses_ahead_the_most_pressing_first(log):
    remind(log, every=20)
    assert due_by_form(log) == {}

    remind(log, every=12, kind="cleaned")
    remind(log, every=8, kind="edge_repaired")

    told = due_by_form(log)[1]
    assert [(one.reminder.kind, one.left) for one in told] == [
        ("edge_repaired", -1),
        ("cleaned", 3),
    ]


def test_leaks_are_told_joint_by_joint(log):
    care(log, "joint_re_sealed", DAYS[1], joint="left")
    care(log, "waxed", DAYS[1])

    left, right = passport(log, form(log, 1)).leaks

    assert (left.joint, left.leaked, left.known, left.last_leaked) == (
        "left",
        1,
        3,
        True,
    )
    assert (right.joint, right.leaked, right.known, right.last_leaked) == (
        "right",
        2,
        3,
        True,
    )
    assert (left.since_sealed, right.since_sealed) == (3, None)


@pytest.mark.parametrize(
    ("advice", "kind"),
    [
        ("refinish", "refinished"),
        ("refinish", "new_liner"),
        ("re_seal", "joint_re_sealed"),
        ("retire", "retired"),
    ],
)
def test_advice_is_answered_by_its_care_after_the_last_casting(log, advice, kind):
    care(log, kind, DAYS[2])
    assert passport(log, form(log, 1), advice).answered is None

    care(log, "waxed", DAYS[4])
    assert passport(log, form(log, 1), advice).answered is None
    care(log, kind, DAYS[4])

    assert passport(log, form(log, 1), advice).answered.done_on == DAYS[4]
    assert passport(log, form(log, 1), "no_sign").answered is None


def test_the_target_in_force_is_its_product_lines(log):
    assert passport(log, form(log, 1)).target is None
    for high in (0.02, 0.01):
        target = FinishTarget(product_line_id=1, high_share=high)
        records.add(log, target, save_token=f"target {high}")

    assert passport(log, form(log, 1)).target.high_share == 0.01


def test_a_recipe_is_kept_with_the_form(log):
    records.change(log, replace(form(log, 1), set_up_recipe="tape, wax, 40 s"))

    assert form(log, 1).set_up_recipe == "tape, wax, 40 s"


def test_what_cannot_be_is_refused():
    with pytest.raises(InputError, match="Care"):
        FormCare(form_id=1, kind="polished", done_on=DAYS[0])
    with pytest.raises(InputError, match="Every so many uses"):
        FormReminder(form_id=1, kind="waxed", every_uses=0)
