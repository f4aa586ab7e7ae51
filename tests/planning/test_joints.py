"""The joints of a piece as what a lot is drawn for."""

from __future__ import annotations

import numpy as np
import pytest

from analysis.compare.note_words import note_words
from analysis.compare.within_piece import compare_joints, joint_table
from analysis.model.plan import OwnedForm, PlanQuestion
from analysis.pieces.table import piece_table
from analysis.planning.plan_words import plan_keys, plan_sentence
from analysis.planning.pour_plan import plan

EIGHT = OwnedForm(name="Ring", form_type="ring", joints=tuple("abcdefgh"))
ASKED = PlanQuestion(by="joint_sealing", levels=("tape", "none"), ratio=0.2, seed=3)
EMPTY = piece_table([])


def test_eight_joints_are_offered_first_and_need_one_or_two_pieces():
    made = plan(EMPTY, ASKED, [EIGHT])
    assert made.layout == "within_pieces"
    assert made.pours in {1, 2}
    first = [one for one in made.assignments if one.pour == 1]
    assert [one.joint for one in first] == list("abcdefgh")
    assert sorted(one.level for one in first) == ["none"] * 4 + ["tape"] * 4
    assert made.chance >= 0.8
    assert "4" in plan_sentence(made)
    assert plan_keys(made)["assignments"][0]["joint"] == "a"
    assert first[0].place == "Ring / a"


def test_the_lot_is_drawn_anew_for_each_plan():
    lots = {
        tuple(
            one.level
            for one in plan(
                EMPTY,
                PlanQuestion(by="joint_sealing", levels=("tape", "none"), seed=seed),
                [EIGHT],
            ).assignments
        )
        for seed in range(8)
    }
    assert len(lots) > 4


@pytest.mark.parametrize("joints", [(), ("left", "right"), ("a", "b", "c")])
def test_forms_with_fewer_joints_are_planned_by_piece(joints):
    two = [
        OwnedForm(name=name, form_type="trough", joints=joints) for name in ("A", "B")
    ]
    assert plan(EMPTY, ASKED, two).layout == "within_pours"


def test_a_number_of_pieces_asks_for_whole_pieces():
    asked = PlanQuestion(
        by="joint_sealing", levels=("tape", "none"), pieces_per_pour=2, seed=3
    )
    two = [EIGHT, OwnedForm(name="Other", form_type="ring", joints=tuple("abcdefgh"))]
    assert plan(EMPTY, asked, two).layout == "within_pours"


def joint_rows(made, ratio, random, *, spread=0.4):
    place = dict(zip(EIGHT.joints, random.normal(0, 0.2, 8), strict=True))
    return [
        {
            "piece": one.pour,
            "pour": one.pour,
            "joint": one.joint,
            "joint_sealing": one.level,
            "joint_band_percent": 0.5
            * np.exp(place[one.joint] + random.normal(0, spread))
            * (ratio if one.level == "tape" else 1.0),
        }
        for one in made.assignments
    ]


def test_what_was_planned_is_answered():
    made = plan(EMPTY, ASKED, [EIGHT])
    random = np.random.default_rng(11)
    found = [
        compare_joints(joint_table(joint_rows(made, 0.2, random))).head
        for _ in range(10)
    ]
    assert sum(head.verdict == "lower" for head in found) >= 8
    assert {head.unit for head in found} == {"joint within piece"}


def test_one_piece_of_eight_joints_has_seventy_ways():
    made = plan(EMPTY, ASKED, [EIGHT])
    random = np.random.default_rng(5)
    rows = [row for row in joint_rows(made, 0.2, random) if row["piece"] == 1]
    head = compare_joints(joint_table(rows)).head
    assert "70 arrangements" in note_words(head.method)
    assert head.p_value >= 2 / 70 / 2
