"""Power, sameness, counts, joints of one piece, and whether sealing pays."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from analysis.errors import InputError, TableError
from analysis.model.trials import CompareOptions
from analysis.trials.compare import compare
from analysis.trials.counts import count_ratio
from analysis.trials.equivalence import sameness, sameness_words
from analysis.trials.power import (
    detectable_ratio,
    pours_needed,
    power_between,
    power_within,
    words,
)
from analysis.trials.table import piece_table
from analysis.trials.within_piece import compare_joints, joint_table
from analysis.trials.worth import Costs, is_worth_it


class TestPower:
    def test_near_the_formula_for_two_means(self):
        # Noncentral t, 12 against 12, difference of one spread: 0.6536 (statsmodels
        # TTestIndPower, checked below); the permutation test comes within 0.05.
        from statsmodels.stats.power import TTestIndPower  # noqa: PLC0415

        reference = TTestIndPower().power(1.0, nobs1=12, alpha=0.05)
        found = power_between(12, 1.0, float(np.exp(-1.0)))
        assert found == pytest.approx(reference, abs=0.06)

    def test_grows_with_pours_and_falls_with_spread(self):
        assert power_between(10, 0.5, 0.5) > power_between(5, 0.5, 0.5)
        assert power_between(6, 0.3, 0.5) > power_between(6, 0.9, 0.5)

    def test_no_verdict_no_power(self):
        assert power_between(3, 0.1, 0.1) == 0
        assert power_within(2, 4, 0.1, 0.1) == 0

    def test_needed_pours_reach_the_chance_and_one_fewer_does_not(self):
        pours = pours_needed(0.5, 0.3, 3, ratio=0.5)
        spread = np.hypot(0.5, 0.3 / np.sqrt(3))
        assert power_between(pours, spread, 0.5) >= 0.8
        assert power_between(pours - 1, spread, 0.5) < 0.8

    def test_both_levels_in_each_pour_need_fewer(self):
        apart = pours_needed(0.6, 0.3, 4, ratio=0.5)
        together = pours_needed(0.6, 0.3, 2, ratio=0.5, mixed=True)
        assert together < apart

    def test_tiny_differences_go_by_the_formula(self):
        assert pours_needed(1.0, 0.0, 1, ratio=0.95) > 1000

    def test_detectable_ratio(self):
        assert detectable_ratio(3, 0.4) is None
        assert detectable_ratio(12, 0.4) > detectable_ratio(6, 0.4)

    @pytest.mark.parametrize(
        ("changes", "message"),
        [
            ({"spread_between": -1.0}, "Spread between pours must be at least 0"),
            ({"spread_within": float("nan")}, "Spread within pours must be a finite"),
            ({"ratio": 1.0}, "Log ratio must be more than 0"),
            ({"ratio": 0.0}, "Ratio must be more than 0"),
            ({"power": 0.2}, "Power must be between"),
        ],
    )
    def test_checked(self, changes, message):
        given = {"spread_between": 0.4, "spread_within": 0.4, "ratio": 0.5} | changes
        with pytest.raises(InputError, match=message):
            pours_needed(
                given.pop("spread_between"), given.pop("spread_within"), 3, **given
            )

    def test_words(self):
        assert words(3, 2, 0.5, 0.8, mixed=True).endswith(
            "3 pours that hold 2 of each."
        )
        assert words(5, 1, 0.5, 0.9, mixed=False).endswith(
            "5 pours of each, 1 piece a pour."
        )


class TestSameness:
    def test_only_where_the_interval_lies_inside(self, shop):
        same = compare(
            shop.table(pours=40, log_ratio=0.0, between=0.1, within=0.1),
            CompareOptions(by="joint_sealing"),
        ).head
        assert same.verdict == "no_clear_difference"
        assert sameness(same, 1.25) == "same"
        assert sameness(same, 1.01) == "not_shown"
        assert "It is not shown" in sameness_words(same, 1.01)

    def test_outside(self, shop):
        far = compare(shop.table(pours=40), CompareOptions(by="joint_sealing")).head
        assert sameness(far, 1.1) == "different"

    def test_never_without_evidence(self, shop):
        few = compare(shop.table(pours=4), CompareOptions(by="joint_sealing")).head
        assert few.verdict == "not_enough_evidence"
        assert sameness(few, 100.0) == "not_shown"
        assert sameness(dataclasses.replace(few, ratio_low=None), 100.0) == "not_shown"

    def test_band(self, shop):
        few = compare(shop.table(pours=4), CompareOptions(by="joint_sealing")).head
        with pytest.raises(InputError, match="Band must be more than 1"):
            sameness(few, 1.0)


class TestCounts:
    def test_two_pours_a_side_by_hand(self):
        # Poisson with one dummy: the estimate is the ratio of the pooled rates.
        x = np.array([1.0, 1, 0, 0])
        count, area = np.array([6, 14, 30, 30.0]), np.array([1.0, 2, 2, 1])
        found = count_ratio(count, area, x, np.arange(4), np.zeros(4, dtype=np.int64))
        assert np.exp(found.log_ratio) == pytest.approx((20 / 3) / (60 / 3))
        error = (found.high - found.low) / 2 / 4.302653  # t, 2 df, from tables
        least = np.sqrt(1 / 20 + 1 / 60)
        assert error == pytest.approx(least * np.sqrt(found.dispersion), rel=1e-5)
        assert found.dispersion > 1

    def test_none_without_voids_on_a_side_or_room_for_error(self):
        x = np.array([1.0, 1, 0, 0])
        zeros = np.zeros(4, dtype=np.int64)
        assert (
            count_ratio(np.array([0, 0, 3, 4.0]), np.ones(4), x, np.arange(4), zeros)
            is None
        )
        assert (
            count_ratio(np.array([2, 3.0]), np.ones(2), x[1:3], np.arange(2), zeros[:2])
            is None
        )

    def test_mixed_pours_are_compared_inside(self):
        x = np.tile([1.0, 0.0], 5)
        pour = np.repeat(np.arange(5), 2)
        rate = np.repeat([10.0, 20, 40, 80, 160], 2)
        count = rate * np.where(x > 0, 1, 2)
        found = count_ratio(count, np.ones(10), x, pour, np.zeros(10, dtype=np.int64))
        assert np.exp(found.log_ratio) == pytest.approx(0.5)
        assert found.dispersion == 1.0


def joints(*, swap=True, pours=6, effect=0.4):
    random = np.random.default_rng(3)
    made = []
    for pour in range(pours):
        for piece in range(2):
            for place in ("left", "right"):
                tape = (place == "left") ^ (swap and pour % 2 == 1)
                share = (effect if tape else 1.0) * np.exp(random.normal(0, 0.2))
                made.append(
                    {
                        "piece": f"{pour}-{piece}",
                        "pour": pour,
                        "joint": place,
                        "joint_sealing": "tape" if tape else "none",
                        "joint_band_percent": share,
                    }
                )
    return made


class TestJointsOfOnePiece:
    def test_swapped_sides_give_a_verdict(self):
        answer = compare_joints(joint_table(joints())).head
        assert answer.verdict == "lower"
        assert answer.unit == "joint within piece"
        assert [group.n_pieces for group in answer.groups] == [12, 12]
        assert answer.ratio == pytest.approx(0.4, rel=0.25)

    def test_always_the_same_side_cannot_be_told(self):
        answer = compare_joints(joint_table(joints(swap=False))).head
        assert answer.verdict == "cannot_separate"
        assert [alias.factor for alias in answer.aliases] == ["joint"]

    def test_few_pours(self):
        answer = compare_joints(joint_table(joints(pours=2))).head
        assert answer.verdict == "not_enough_evidence"

    def test_no_piece_with_both(self):
        rows = [row for row in joints() if row["joint_sealing"] == "tape"]
        with pytest.raises(TableError, match="No piece has both a sealed and an open"):
            compare_joints(joint_table(rows))

    def test_columns_and_doubles(self):
        rows = joints()
        with pytest.raises(TableError, match="The table of joints has no joint_band"):
            joint_table(
                [{k: v for k, v in rows[0].items() if k != "joint_band_percent"}]
            )
        with pytest.raises(TableError, match="Joint left of piece 0-0 stands twice"):
            joint_table([*rows, rows[0]])


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
        worth = is_worth_it(table, "joint_sealing", ("tape", "none"), COSTS)
        minutes = table.number["repair_minutes"]
        tape = table.text["joint_sealing"] == "tape"
        saved = minutes[~tape].mean() - minutes[tape].mean()
        assert worth.repair_minutes_saved == pytest.approx(saved)
        assert worth.gain == pytest.approx(saved * 0.5 - 4 * 0.5 - 0.5)
        assert worth.gain_low < worth.gain < worth.gain_high
        assert worth.verdict == "worth_it"
        assert worth.seconds_saved is None

    def test_costs_more_than_it_saves(self):
        worth = is_worth_it(
            repairs(saved=0.0), "joint_sealing", ("tape", "none"), COSTS
        )
        assert worth.verdict == "not_worth_it"

    def test_few_pours_give_no_interval(self):
        worth = is_worth_it(repairs(pours=6), "joint_sealing", ("tape", "none"), COSTS)
        assert (worth.gain_low, worth.verdict) == (None, "not_clear")

    def test_seconds_count_too(self):
        table = repairs(
            extra=lambda n: {"second": "no" if n // 2 % 2 or n % 4 else "yes"}
        )
        worth = is_worth_it(table, "joint_sealing", ("tape", "none"), COSTS)
        assert worth.seconds_saved == pytest.approx(0.5)

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
            worth = is_worth_it(
                piece_table(rows),
                "mix",
                ("a", "b"),
                Costs(minutes=0, material=0, per_hour=60),
            )
            held += worth.gain_low <= 0 <= worth.gain_high
        assert held >= 178  # 190 less four standard errors of 3.1
        assert held < 200

    @pytest.mark.parametrize(
        ("by", "levels", "message"),
        [
            ("colour", ("a", "b"), "There is no factor 'colour'"),
            ("joint_sealing", ("wax", "none"), "No piece with joint_sealing 'wax'"),
        ],
    )
    def test_checked(self, by, levels, message):
        with pytest.raises(TableError, match=message):
            is_worth_it(repairs(), by, levels, COSTS)

    def test_nothing_known(self, shop):
        with pytest.raises(TableError, match="Neither repair_minutes nor 'second'"):
            is_worth_it(shop.table(), "joint_sealing", ("tape", "none"), COSTS)

    def test_negative_costs(self):
        with pytest.raises(InputError, match="Minutes must be at least 0"):
            Costs(minutes=-1, material=0, per_hour=0)
