from __future__ import annotations

import numpy as np
import pytest

from analysis.errors import InputError, TableError
from analysis.pieces.table import piece_table
from analysis.planning.cost_benefit import Costs, cost_benefit

COSTS = Costs(minutes=4, material=0.5, per_hour=30, lost_per_second=40)


def repairs(*, pours=12, saved=20.0, extra=None):
    random = np.random.default_rng(8)
    return piece_table(
        {
            "piece": n,
            "pour": n // 2,
            "joint_sealing": "tape" if n // 2 % 2 else "none",
            "repair_minutes": 5 + random.uniform(0, 4) + (0 if n // 2 % 2 else saved),
        }
        | (extra(n) if extra else {})
        for n in range(2 * pours)
    )


class TestWorth:
    def test_gain_by_hand(self):
        table = repairs()
        found = cost_benefit(table, "joint_sealing", ("tape", "none"), COSTS)
        minutes = table.number["repair_minutes"]
        tape = table.text["joint_sealing"] == "tape"
        saved = minutes[~tape].mean() - minutes[tape].mean()
        assert found.repair_minutes_saved == pytest.approx(saved)
        assert found.gain == pytest.approx(saved * 0.5 - 4 * 0.5 - 0.5)
        assert found.gain_low < found.gain < found.gain_high
        assert found.verdict == "worth_it"
        assert found.seconds_saved is None

    def test_costs_more_than_it_saves(self):
        found = cost_benefit(
            repairs(saved=0.0), "joint_sealing", ("tape", "none"), COSTS
        )
        assert found.verdict == "not_worth_it"

    def test_few_pours_give_no_interval(self):
        found = cost_benefit(repairs(pours=6), "joint_sealing", ("tape", "none"), COSTS)
        assert (found.gain_low, found.verdict) == (None, "not_clear")

    def test_seconds_count_too(self):
        table = repairs(
            extra=lambda n: {"second": "no" if n // 2 % 2 or n % 4 else "yes"}
        )
        found = cost_benefit(table, "joint_sealing", ("tape", "none"), COSTS)
        assert found.seconds_saved == pytest.approx(0.5)

    def test_interval_holds_the_truth(self):
        random = np.random.default_rng(1)
        held = 0
        for _ in range(200):
            shift = random.gamma(2, 2, 14)
            rows = [
                {
                    "piece": n,
                    "pour": n // 2,
                    "mix": "a" if n // 2 % 2 else "b",
                    "repair_minutes": shift[n // 2] + random.gamma(2, 2),
                }
                for n in range(28)
            ]
            found = cost_benefit(
                piece_table(rows),
                "mix",
                ("a", "b"),
                Costs(minutes=0, material=0, per_hour=60),
            )
            held += found.gain_low <= 0 <= found.gain_high
        assert held >= 178  # 190 less four standard errors of 3.1
        assert held < 200

    @pytest.mark.parametrize(
        ("by", "levels", "message"),
        [
            ("colour", ("a", "b"), "There is no factor 'colour'"),
            ("joint_sealing", ("wax", "none"), "No piece with joint sealing 'wax'"),
        ],
    )
    def test_checked(self, by, levels, message):
        with pytest.raises(TableError, match=message):
            cost_benefit(repairs(), by, levels, COSTS)

    def test_nothing_known(self, shop):
        with pytest.raises(TableError, match="Neither repair_minutes nor 'second'"):
            cost_benefit(shop.table(), "joint_sealing", ("tape", "none"), COSTS)

    def test_negative_costs(self):
        with pytest.raises(InputError, match="Minutes must be at least 0"):
            Costs(minutes=-1, material=0, per_hour=0)
