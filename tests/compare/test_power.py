from __future__ import annotations

import numpy as np
import pytest
from statsmodels.stats.power import TTestIndPower

from analysis.compare.note_words import note_words
from analysis.compare.power import (
    pours_needed,
    power_between,
    power_within,
)
from analysis.errors import InputError
from analysis.model.notes import note


class TestPower:
    def test_near_the_formula_for_two_means(self):
        # The permutation test on few units comes close to Student's t.
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

    @pytest.mark.parametrize(
        ("ratio", "mixed", "said"),
        [
            (
                0.5,
                False,
                (
                    "To see half as much in 8 of 10 trials, cast 6 pours of each, 1 "
                    "piece a pour."
                ),
            ),
            (
                0.8,
                True,
                "To see 20 % less in 8 of 10 trials, cast 6 pours that hold 1 of each.",
            ),
        ],
    )
    def test_what_is_needed_in_words(self, ratio, mixed, said):
        needed = {"pours": 6, "pieces": 1, "ratio": ratio, "power": 0.8}
        made = note("needed", **needed, mixed=mixed, supposed=False)
        assert note_words(made) == said
        assumed = note_words(note("needed", **needed, mixed=mixed, supposed=True))
        assert assumed.removeprefix(said).startswith(" (How much pours differ")
