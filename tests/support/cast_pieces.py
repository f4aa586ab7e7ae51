"""Pieces cast and planned, for cards and photos of them."""

from __future__ import annotations

from datetime import date

from analysis.model.log import Piece, Pour
from analysis.model.plan import PlanQuestion
from analysis.model.workshop import Form, FormJoint
from analysis.services import plans
from analysis.storage import records


def filled(log, count=3):
    """Cast so many pieces in one form and pour; return the keys."""
    form = records.add(log, Form(name="Trough A"), save_token="form").id
    pour = records.add(
        log, Pour(name="12", cast_on=date(2026, 5, 4)), save_token="pour"
    ).id
    pieces = [
        records.add(
            log,
            Piece(name=f"{n:03}", pour_id=pour, form_id=form),
            save_token=f"piece {n}",
        ).id
        for n in range(count)
    ]
    return form, pieces


def planned(log):
    """Keep a plan of a trial of the joints of two forms."""
    for name in ("A", "B"):
        joints = (FormJoint(name="left"), FormJoint(name="right"))
        form = Form(name=f"Bench {name}", form_type="bench", joints=joints)
        records.add(log, form, save_token=name)
    made = plans.plan_of_log(
        log, PlanQuestion(by="joint_sealing", levels=("tape", "none"))
    )
    key = plans.keep_plan(log, made, save_token="1f0c9a4477e24b3d8a60")
    return plans.kept_plan(log, key)
