"""More vibration? against the published law of voids and vibration.

Over 122 vibration boxes of different mixes the surface void area ratio fell as a power
function of the acceleration, for every mix, and a mix of medium fluidity segregated
beyond 4 G (Engineering Reports, doi 10.1002/eng2.12484; abstract read, its exponents
were not). So the curve has to follow any power function, tell more from enough, and
claim nothing beyond what was tried, where the law ends.
"""

from __future__ import annotations

import numpy as np
import pytest

from analysis.model.vibration import VibrationQuestion
from analysis.pieces.table import piece_table
from analysis.vibration.dose_answer import vibration

DOSES = (15.0, 30.0, 60.0, 120.0)
AT_15 = 2.0  # percent
SEEDS = range(4)


def law(dose, exponent):
    return AT_15 * (np.asarray(dose) / 15.0) ** -exponent


def answer(exponent, seed, *, target, now=15.0):
    """Three pours of four pieces at each dose, scattered as in the example shop."""
    random, rows = np.random.default_rng([seed, 7]), []
    for pour in range(12):
        dose = DOSES[pour % 4]
        day = random.normal(0, 0.15)
        for piece in range(4):
            share = law(dose, exponent) * np.exp(day + random.normal(0, 0.2))
            rows.append(
                {
                    "piece": 4 * pour + piece,
                    "pour": pour,
                    "form_type": "pot",
                    "vibration_method": "table",
                    "vibration_s": dose,
                    "dealt": "by_lot",
                    "void_area_percent": float(share),
                }
            )
    asked = VibrationQuestion(
        form_type="pot",
        method="table",
        target_low=0.0,
        target_high=target / 100,
        current_s=now,
    )
    return vibration(piece_table(rows), asked)


@pytest.mark.parametrize("exponent", [0.3, 0.7, 1.5])
def test_the_curve_follows_the_law(exponent):
    adjusted, off = [], []
    for seed in SEEDS:
        curve = answer(exponent, seed, target=1.0).curve
        inside = (curve.seconds >= DOSES[0]) & (curve.seconds <= DOSES[-1])
        true = law(curve.seconds[inside], exponent) / 100
        adjusted.append((curve.low[inside] <= true) & (true <= curve.high[inside]))
        off.append(np.log(curve.middle[inside] / true))
    assert np.mean(adjusted) > 0.85
    assert abs(np.mean(off)) < 0.12


@pytest.mark.parametrize("exponent", [0.7, 1.5])
def test_more_is_said_where_the_law_reaches_the_target(exponent):
    target = float(law(60.0, exponent)) * 1.3
    found = [answer(exponent, seed, target=target) for seed in SEEDS]
    assert [one.decision for one in found] == ["more"] * len(found)
    for one in found:
        assert law(one.suggested_s, exponent) < target
        assert one.expected.low <= law(one.suggested_s, exponent) / 100
        assert law(one.suggested_s, exponent) / 100 <= one.expected.high


def test_enough_is_left_alone():
    target = 1.5 * float(law(60.0, 0.7))
    found = [answer(0.7, seed, target=target, now=60.0) for seed in SEEDS]
    assert "more" not in [one.decision for one in found]
    assert [one.decision for one in found].count("same") >= 3


def test_nothing_is_claimed_where_the_law_was_not_tried():
    # Beyond 4 G a mix segregated: a law is not carried on without castings.
    for seed in SEEDS:
        one = answer(1.5, seed, target=0.001)
        assert one.suggested_s is None or one.suggested_s <= 1.75 * DOSES[-1]
        assert one.curve.seconds.max() == pytest.approx(1.75 * DOSES[-1])
