"""Pours that carry over: against simulated first-order series and statsmodels."""

from __future__ import annotations

import numpy as np
import pytest
from statsmodels.tsa.stattools import acf

from analysis.monitoring.charts import track
from analysis.monitoring.limits import EWMA_WEIGHT, ewma
from analysis.monitoring.made_pieces import pieces
from analysis.monitoring.neighbours import (
    carry_over,
    lag_one,
    lean,
    notes,
    warmth,
    widening,
)
from analysis.monitoring.note_words import note_words


def series(carried, n, seed):
    random = np.random.default_rng(seed)
    values = np.zeros(n + 50)
    for at in range(1, n + 50):
        values[at] = carried * values[at - 1] + random.normal()
    return values[50:]


def test_lag_one_is_that_of_statsmodels():
    values = series(0.5, 60, 1)
    assert lag_one(values)[0] == pytest.approx(acf(values, nlags=1)[1])


def test_carry_over_is_found_and_not_invented():
    found = [carry_over(series(0.5, 200, seed)) for seed in range(20)]
    assert np.mean(found) == pytest.approx(0.5, abs=0.08)
    steady = [carry_over(series(0.0, 40, seed)) > 0 for seed in range(100)]
    assert np.mean(steady) <= 0.08


def test_a_single_step_is_no_carry_over():
    random = np.random.default_rng(2)
    values = np.r_[random.normal(0, 1, 20), random.normal(3, 1, 20)]
    assert carry_over(values) < 0.5


def test_widening_gives_the_spread_of_a_first_order_series():
    values = series(0.5, 200_000, 3)
    ranges = np.abs(np.diff(values)).mean() / 1.128
    single, smooth = widening(0.5)
    assert single * ranges == pytest.approx(values.std(), rel=0.01)
    smoothed = ewma(values, 0.0, EWMA_WEIGHT)
    usual = (EWMA_WEIGHT / (2 - EWMA_WEIGHT)) ** 0.5
    assert smooth * ranges * usual == pytest.approx(smoothed.std(), rel=0.02)


def test_pours_that_carry_over_are_told():
    shares = 0.01 * np.exp(0.3 * series(0.7, 60, 4))
    codes = [note.code for note in track(pieces(shares)).notes]
    assert "neighbours_alike" in codes


def test_a_baseline_that_rises_is_told():
    random = np.random.default_rng(6)
    values = 0.03 * np.arange(20) + random.normal(0, 0.25, 20)
    tau, p_value = lean(values)
    assert (tau > 0, p_value < 0.05) == (True, True)
    said = [note_words(note) for note in notes(values, values, None)]
    assert any(one.startswith("The baseline itself rises") for one in said)


def test_too_few_or_too_even_days_say_nothing_of_the_air():
    assert warmth(np.zeros(20), np.full(20, 12.0)) is None
    assert warmth(np.arange(5.0), np.linspace(5, 25, 5)) is None
