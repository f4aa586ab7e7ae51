"""The next pours: balanced, drawn by lot, as large as the test needs."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest

from analysis.compare.compare import compare
from analysis.errors import InputError
from analysis.model.comparison import CompareOptions
from analysis.model.plan import OwnedForm, PlanQuestion
from analysis.pieces.table import piece_table
from analysis.planning.plan_words import plan_keys, plan_notes
from analysis.planning.pour_plan import can_be_planned, levels_to_plan, plan
from analysis.planning.spreads import spreads

SEALING = PlanQuestion(by="joint_sealing", levels=("tape", "none"))
EMPTY = piece_table([])


def forms(count, kind="trough"):
    return [OwnedForm(name=f"{kind} {n}", form_type=kind) for n in range(count)]


def shop(*, pours=20, of=None, within=0.3, between=0.3, seed=4, by=None, **columns):
    """Rows of a made-up shop; `by` gives a row's further cells."""
    random = np.random.default_rng(seed)
    of = of or forms(2)
    rows = []
    for pour in range(pours):
        shift = random.normal(0, between)
        for form in of:
            share = min(90, 0.6 * np.exp(shift + random.normal(0, within)))
            row = {
                "piece": str(len(rows)),
                "pour": f"P{pour}",
                "form": form.name,
                "form_type": form.form_type,
                "void_area_percent": share,
            }
            rows.append(row | columns | (by(pour, form) if by else {}))
    return piece_table(rows)


@pytest.mark.parametrize("count", [2, 3, 4, 5])
def test_both_levels_in_every_pour_as_often(count):
    found = plan(EMPTY, SEALING, forms(count))

    assert found.layout == "within_pours"
    assert found.pieces_per_level == count // 2
    for pour in range(1, found.pours + 1):
        inside = [one for one in found.assignments if one.pour == pour]
        levels = Counter(one.level for one in inside)
        assert levels == dict.fromkeys(("tape", "none"), count // 2)
        assert len({one.form for one in inside}) == len(inside)
        assert sorted(one.order for one in inside) == list(range(1, len(inside) + 1))
        assert [one.piece for one in inside] == list(range(1, len(inside) + 1))


@pytest.mark.parametrize("count", [2, 3, 4, 5])
def test_forms_take_turns(count):
    found = plan(EMPTY, SEALING, forms(count))

    uses = Counter(one.form for one in found.assignments)
    assert max(uses.values()) - min(uses.values()) <= 1
    for form in uses:
        levels = Counter(one.level for one in found.assignments if one.form == form)
        assert abs(levels["tape"] - levels["none"]) <= 1


def test_lots_differ_from_seed_to_seed():
    firsts = {
        plan(
            EMPTY,
            PlanQuestion(by="joint_sealing", levels=("tape", "none"), seed=seed),
            forms(2),
        )
        .assignments[0]
        .level
        for seed in range(12)
    }

    assert firsts == {"tape", "none"}


def test_one_form_compares_pours_in_twos():
    found = plan(EMPTY, SEALING, forms(1))

    assert found.layout == "between_pours"
    assert found.pours % 2 == 0
    levels = [one.level for one in found.assignments]
    for first, second in zip(levels[::2], levels[1::2], strict=True):
        assert {first, second} == {"tape", "none"}
    assert any("With a second trough form" in note for note in plan_notes(found))


def test_within_pours_needs_far_fewer_pieces():
    table = shop(between=0.6, within=0.25)
    asked = PlanQuestion(by="release_agent", levels=("oil", "wax"))
    inside = plan(table, asked, forms(2))
    apart = plan(table, PlanQuestion(by="mix", levels=("a", "b")), forms(2))

    assert len(inside.assignments) * 2 <= len(apart.assignments)


def test_one_level_a_pour_for_what_a_pour_shares():
    found = plan(EMPTY, PlanQuestion(by="mix", levels=("a", "b")), forms(3))

    assert found.layout == "between_pours"
    assert found.pieces_per_level == 3
    for pour in range(1, found.pours + 1):
        assert len({one.level for one in found.assignments if one.pour == pour}) == 1


def test_spreads_are_found_again():
    table = shop(pours=150, of=forms(4), within=0.3, between=0.4, joint_sealing="tape")

    within, between, supposed = spreads(table, "joint_sealing")

    assert within == pytest.approx(0.3, rel=0.1)
    assert between == pytest.approx(0.4, rel=0.2)
    assert not supposed


def test_effects_of_level_and_form_are_no_spread():
    def by(pour, form):
        return {
            "joint_sealing": "tape" if (pour % 2) ^ (form.name[-1] == "0") else "none"
        }

    table = shop(pours=100, by=by)
    taped = table.text["joint_sealing"] == "tape"
    apart = piece_table(
        {name: cells[row] for name, cells in table.text.items()}
        | {
            "void_area_percent": table.number["void_area_percent"][row]
            * (0.2 if taped[row] else 1)
        }
        for row in range(len(table))
    )

    assert spreads(apart, "joint_sealing")[0] == pytest.approx(
        spreads(table, "joint_sealing")[0], rel=0.02
    )


@pytest.mark.parametrize("ratio", [0.5, 0.7])
def test_planned_pours_find_the_ratio_as_often_as_said(ratio):
    """The whole comparison, on pieces cast by the plan, with the spreads it used."""
    table = shop(pours=80, within=0.3, between=0.5, joint_sealing="tape")
    asked = PlanQuestion(by="joint_sealing", levels=("tape", "none"), ratio=ratio)
    found = plan(table, asked, forms(2))
    random = np.random.default_rng(8)
    trials = 60
    hits = 0
    for _ in range(trials):
        shifts = random.normal(0, 0.5, found.pours + 1)
        rows = [
            {
                "piece": str(n),
                "pour": str(one.pour),
                "form": one.form,
                "joint_sealing": one.level,
                "void_area_percent": 0.5
                * (ratio if one.level == "tape" else 1.0)
                * np.exp(shifts[one.pour] + random.normal(0, found.spread_within)),
            }
            for n, one in enumerate(found.assignments)
        ]
        head = compare(
            piece_table(rows),
            CompareOptions(by="joint_sealing", levels=("tape", "none")),
        ).head
        hits += head.verdict == "lower"

    # 60 trials at the chance said: its binomial 99 % limits.
    slack = 2.6 * (found.chance * (1 - found.chance) / trials) ** 0.5
    assert found.chance >= 0.8
    assert hits / trials == pytest.approx(found.chance, abs=slack + 0.02)


def tangled(pour, _form):
    old = pour % 2
    return {"release_agent": "oil" if old else "wax", "mix": "a" if old else "b"}


def test_what_compare_cannot_separate_is_resolved():
    table = shop(by=tangled)
    before = compare(table, CompareOptions(by="release_agent")).head
    found = plan(table, PlanQuestion(by="release_agent"), forms(2))

    assert before.verdict == "cannot_separate"
    assert found.resolves == ("mix",)
    assert [hold.factor for hold in found.hold] == ["mix"]
    rows = [
        {
            "piece": str(n),
            "pour": str(one.pour),
            "form": one.form,
            "release_agent": one.level,
            "mix": found.hold[0].level,
            "void_area_percent": 0.3 + 0.01 * n + 0.3 * (one.level == "oil"),
        }
        for n, one in enumerate(found.assignments)
    ]
    after = compare(piece_table(rows), CompareOptions(by="release_agent")).head
    assert not after.aliases
    assert after.verdict == "higher"


def test_a_form_that_went_along_needs_no_holding():
    table = shop(
        by=lambda _pour, form: {
            "release_agent": "oil" if form.name[-1] == "0" else "wax"
        }
    )
    found = plan(table, PlanQuestion(by="release_agent"), forms(2))

    assert found.resolves == ("form",)
    assert found.hold == ()


def test_levels_come_from_the_log_of_that_form_type():
    def by(pour, form):
        longer = 60 if form.form_type == "leg" else 10
        return {"vibration_s": longer + 10 * (pour % 2), "vibration_method": "table"}

    of = forms(2) + forms(2, "leg")
    table = shop(of=of, by=by)

    found = plan(table, PlanQuestion(by="vibration_s", form_type="leg"), of)

    assert found.levels == ("60", "70")
    assert found.resolves == ()


def test_form_type_is_one_with_two_forms_where_it_was_tried():
    of = [*forms(1, "bowl"), *forms(2, "pot"), *forms(2)]

    def by(pour, form):
        both = form.form_type == "trough"
        return {"joint_sealing": ("tape", "none")[pour % 2 if both else 0]}

    assert plan(shop(of=of, by=by), PlanQuestion(by="joint_sealing"), of).form_type == (
        "trough"
    )


def test_sealed_joints_are_planned_by_what_seals_them():
    table = shop(by=lambda pour, _: {"joint_sealing": ("foam", "none")[pour % 2]})
    asked = PlanQuestion(by="joints_sealed", levels=("no", "yes"))

    assert plan(table, asked, forms(2)).levels == ("none", "foam")
    assert plan(EMPTY, PlanQuestion(by="joints_sealed"), ()).levels == ("tape", "none")


def test_empty_log_gives_todays_trial():
    found = plan(EMPTY, SEALING, ())

    assert found.supposed
    assert found.form_type is None
    assert {one.form for one in found.assignments} == {None}
    assert found.pieces_per_level == 1
    assert any("too short" in note for note in plan_notes(found))


def test_pieces_per_pour_are_kept_to():
    asked = PlanQuestion(by="joint_sealing", levels=("tape", "none"), pieces_per_pour=2)
    assert plan(EMPTY, asked, forms(5)).pieces_per_level == 1


def test_only_what_is_done_can_be_dealt():
    assert can_be_planned("curing")
    assert not can_be_planned("form_type")
    with pytest.raises(InputError, match="Form cannot be dealt out by lot"):
        plan(EMPTY, PlanQuestion(by="form", levels=("A", "B")), forms(2))


@pytest.mark.parametrize(
    ("table", "said"),
    [
        (EMPTY, "nothing was tried yet: name the two levels"),
        (shop(joint_sealing="tape"), "only tape was tried: name the two levels"),
    ],
)
def test_needs_two_levels(table, said):
    with pytest.raises(InputError, match=said):
        plan(table, PlanQuestion(by="joint_sealing"), forms(2))


def test_mixed_is_no_level_to_cast():
    table = shop(by=lambda pour, _: {"joint_sealing": ("mixed", "tape")[pour % 2]})
    assert levels_to_plan(table, "joint_sealing") == ("tape",)


def test_unknown_form_type():
    asked = PlanQuestion(by="mix", levels=("a", "b"), form_type="bowl")
    with pytest.raises(InputError, match="no form of type 'bowl'"):
        plan(EMPTY, asked, forms(2))


def test_too_small_a_difference_says_what_is_in_reach():
    asked = PlanQuestion(by="joint_sealing", levels=("tape", "none"), ratio=0.92)
    with pytest.raises(InputError, match=r"about \d+ pours: ask for 0\.\d"):
        plan(EMPTY, asked, forms(2))


def test_wild_shop_is_told_so():
    table = shop(pours=30, within=6.0)
    asked = PlanQuestion(by="release_agent", levels=("oil", "wax"))
    with pytest.raises(
        InputError, match="cast more pieces in a pour, or look for another"
    ):
        plan(table, asked, forms(2))


@pytest.mark.parametrize(
    ("wrong", "said"),
    [
        ({"ratio": 1.02}, "Ratio must differ from 1"),
        ({"ratio": 0.0}, "Ratio"),
        ({"power": 1.0}, "Power"),
        ({"levels": ("tape",)}, "two different levels"),
        ({"levels": ("tape", "tape")}, "two different levels"),
        ({"levels": ("tape", " ")}, "The level"),
        ({"pieces_per_pour": 0}, "Pieces per pour"),
        ({"by": " "}, "The factor"),
    ],
)
def test_refuses_what_cannot_be_asked(wrong, said):
    with pytest.raises(InputError, match=said):
        PlanQuestion(**{"by": "mix", "levels": ("a", "b")} | wrong)


def test_keys_are_plain():
    keys = plan_keys(plan(EMPTY, SEALING, forms(2)))

    assert list(keys["assignments"][0]) == ["pour", "piece", "form", "level", "order"]
    assert keys["levels"] == ["tape", "none"]
    assert keys["pours"] == max(one["pour"] for one in keys["assignments"])
