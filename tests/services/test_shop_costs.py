"""What is cheapest by a log: repair, seconds, sealing, refinishing."""

import json
from dataclasses import replace

import numpy as np
import pytest

from analysis.cli import main
from analysis.errors import InputError, NotInLogError, TableError
from analysis.model.afterwards import Outcome, Repair
from analysis.model.log import Piece
from analysis.services import example, log, planner_shop
from analysis.services.shop_costs import Prices, cheapest_of_form, cheapest_of_type
from analysis.services.tables import trials_of_log
from analysis.services.vibration_questions import usual_question
from analysis.storage.records import add, change, list_all

PRICES = Prices(per_hour=30.0, lost_per_second=20.0, refinish_minutes=90.0)


@pytest.fixture(scope="module")
def bare(tmp_path_factory):
    made = log.open_log(tmp_path_factory.mktemp("bare"))
    example.build_example(made, photos=False)
    return made


@pytest.fixture(scope="module")
def repaired(tmp_path_factory):
    """Mending takes 1 minute and 8 a percent; sealing takes 2 minutes."""
    folder = tmp_path_factory.mktemp("repaired")
    made = log.open_log(folder)
    example.build_example(made, photos=False)
    table = trials_of_log(made)
    shares = dict(
        zip(table.text["piece"], table.number["void_area_percent"], strict=True)
    )
    random = np.random.default_rng(4)
    for piece in list_all(made, Piece)[::4]:
        share = shares[piece.name]
        minutes = max(1 + 8 * share + random.normal(0, 0.5), 0)
        repair = Repair(piece_id=piece.id, minutes=round(minutes, 1))
        add(made, repair, save_token=f"repair {piece.id}")
        judged = Outcome(piece_id=piece.id, outcome="patched")
        add(made, judged, save_token=f"judged {piece.id}")
        if piece.joint_sealing == "tape":
            change(made, replace(piece, sealing_min=2.0, sealing_cost=0.1))
    return folder, planner_shop.shop_of_log(made)


def asked(shop, form_type):
    return usual_question(shop.log, shop.table, form_type)


def test_sealing_is_set_against_mending(repaired):
    _, shop = repaired
    found = cheapest_of_type(shop, asked(shop, "trough"), PRICES)
    kinds = {one.kind for one in found.options}

    assert 7.5 < found.minutes_low < found.minutes_per_percent < found.minutes_high
    assert found.minutes_per_percent == pytest.approx(8, abs=0.2)
    assert kinds in ({"as_now", "leave_open"}, {"as_now", "seal"})
    # Half of 1 percent and more at 8 minutes is more than the 2 minutes of sealing.
    best = found.options[0]
    assert best.kind in {"as_now", "seal"}
    assert found.missing == ()


def test_times_tried_are_set_against_mending(repaired):
    _, shop = repaired
    found = cheapest_of_type(shop, asked(shop, "panel"), PRICES)
    by_level = {one.level: one for one in found.options}

    assert set(by_level) == {"", "10", "30"}
    assert by_level["30"].saves_low > 0 > by_level["10"].saves_high
    assert found.verdict == "change"
    assert found.options[0].level == "30"
    more = (30 - 20) / 60 * PRICES.per_hour / 60
    assert by_level["30"].make - by_level[""].make == pytest.approx(more)


def test_refinishing_is_spread_over_castings(repaired):
    _, shop = repaired
    found = cheapest_of_form(shop, "Pot 2", PRICES)
    refinished = next(one for one in found.options if one.kind == "refinish")

    assert refinished.make == pytest.approx(90 / 25 * 0.5)
    now = next(one for one in found.options if one.kind == "as_now")
    assert refinished.share_percent < now.share_percent


def test_refusals(repaired, bare):
    _, shop = repaired
    with pytest.raises(NotInLogError, match="no measured casting of form 'Pot 9'"):
        cheapest_of_form(shop, "Pot 9", PRICES)
    with pytest.raises(InputError, match="What refinishing takes is not given"):
        cheapest_of_form(shop, "Pot 2", Prices(per_hour=30.0))
    with pytest.raises(InputError, match="Trough A shows no wear"):
        cheapest_of_form(shop, "Trough A", PRICES)
    with pytest.raises(TableError, match="No pot by poker has a time"):
        cheapest_of_type(shop, replace(asked(shop, "pot"), method="poker"), PRICES)
    plain = planner_shop.shop_of_log(bare)
    with pytest.raises(TableError, match="Repair minutes are known for 0 pieces"):
        cheapest_of_type(plain, asked(plain, "panel"), PRICES)


def test_command_line(repaired, capsys):
    folder, _ = repaired
    words = ["cheapest", "--log", str(folder), "--per-hour", "30"]
    assert main([*words, "--form-type", "panel", "--json", "-"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["verdict"] == "change"
    assert found["options"][0]["kind"] == "vibration"
    assert main([*words, "--form", "Pot 2", "--refinish-minutes", "90"]) == 0
    said = capsys.readouterr().out
    assert "Repair takes" in said
    assert "Pot 2 refinished" in said
    assert main([*words, "--form", "Pot 2"]) == 2
    assert "What refinishing takes" in capsys.readouterr().err


def test_no_worse_is_planned_and_answered(repaired, capsys):
    folder, _ = repaired
    at = ["--log", str(folder), "--by"]
    assert main(["plan", *at, "mix", "--no-worse-than", "1.5", "--json", "-"]) == 0
    plan = json.loads(capsys.readouterr().out)
    assert plan["margin"] == 1.5
    assert plan["chance"] >= 0.8
    more = ["compare", *at, "joints_sealed", "--no-worse-than", "1.1", "--json", "-"]
    assert main(more) == 0
    assert json.loads(capsys.readouterr().out)["no_worse"] is True
    assert main(["plan", *at, "mix", "--no-worse-than", "1.001"]) == 2
    assert "allow a wider margin" in capsys.readouterr().err
