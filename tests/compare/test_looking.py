from __future__ import annotations

import numpy as np
import pytest

from analysis.compare.compare import compare, compare_factors
from analysis.compare.looking import limits, look_at, nominal, spent
from analysis.compare.note_words import note_words, pair_notes
from analysis.model.comparison import CompareOptions
from analysis.pieces.table import piece_table

TAPE = CompareOptions(by="joint_sealing", levels=("tape", "none"))


def test_limits_of_five_looks_are_the_published_ones():
    # Two-sided 5 percent, O'Brien-Fleming-like spending, five equal looks: the table
    # of Proschan, Lan and Wittes, Statistical Monitoring of Clinical Trials, 2006
    # (from memory), and of Lan and DeMets's own program.
    published = (4.8769, 3.3569, 2.6803, 2.2898, 2.0310)
    assert limits((0.2, 0.4, 0.6, 0.8, 1.0)) == pytest.approx(published, abs=3e-4)


def test_limits_hold_their_level_by_simulation():
    random = np.random.default_rng(3)
    steps = random.normal(0, 1, (40_000, 5)).cumsum(axis=1)
    statistic = steps / np.sqrt(np.arange(1, 6))
    crossed = np.abs(statistic) > np.array(limits((0.2, 0.4, 0.6, 0.8, 1.0)))
    assert crossed.any(axis=1).mean() == pytest.approx(0.05, abs=0.004)


def test_spending_rises_to_the_level():
    assert spent(0.1) < 1e-6
    assert spent(0.999) < spent(1.0) == pytest.approx(0.05)
    assert nominal(6, 8) == nominal(8, 8) == 0.05


def rows(*, pours, planned, log_ratio=-0.9, factor="joint_sealing"):
    random = np.random.default_rng(5)
    made = []
    for pour in range(pours):
        shift = random.normal(0, 0.35)
        for piece in range(3):
            value = np.exp(shift + random.normal(0, 0.3) + log_ratio * (pour % 2))
            made.append(
                {
                    "piece": f"{pour}-{piece}",
                    "pour": pour,
                    "joint_sealing": "tape" if pour % 2 else "none",
                    "void_area_percent": value,
                    "trial": "seal",
                    "trial_factor": factor,
                    "trial_pours": planned,
                    "dealt": "by_lot",
                }
            )
    return made


def test_an_early_look_asks_for_more():
    early = compare(piece_table(rows(pours=10, planned=24)), TAPE).head
    same = compare(piece_table(rows(pours=10, planned=10)), TAPE).head
    assert early.p_value == same.p_value
    assert same.p_value < 0.04
    assert (early.verdict, same.verdict) == ("no_clear_difference", "lower")
    assert note_words(early.rests_on[0]).startswith(
        "10 of 24 planned pours are cast: go on"
    )


def test_what_is_clear_early_may_stop():
    head = compare(piece_table(rows(pours=16, planned=24, log_ratio=-2.0)), TAPE).head
    assert head.verdict == "lower"
    assert "stop, it is clear" in note_words(head.rests_on[0])


def test_a_trial_about_something_else_is_none_here():
    table = piece_table(rows(pours=10, planned=24, factor="mix"))
    assert look_at(table, "joint_sealing") is None
    assert compare(table, TAPE).head.dealt == "unknown"


def test_many_settings_at_once_pay_for_it():
    random = np.random.default_rng(1)
    made = [
        {"piece": n, "pour": n, "void_area_percent": np.exp(random.normal(0, 0.3))}
        | {f"s{k}": "ab"[random.integers(0, 2)] for k in range(4)}
        for n in range(30)
    ]
    names = tuple(f"s{k}" for k in range(4))
    found = compare_factors(piece_table(made), names, CompareOptions(by="s0"))
    alone = CompareOptions(by="s0", adjust_for=names[1:])
    assert found["s0"].head.p_value >= compare(piece_table(made), alone).head.p_value
    assert any(
        "adjusted for 4 settings" in line for line in pair_notes(found["s0"].head)
    )
    head = compare(piece_table(made), CompareOptions(by="s0")).head
    assert any("19 of 100 logs" in line for line in pair_notes(head))
