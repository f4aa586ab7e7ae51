import numpy as np
import pytest

from analysis.monitoring.baseline import first_stable, frozen, pour_sigma
from analysis.monitoring.rules import DEFAULT_RULES


def steady(n, seed=1):
    return np.random.default_rng(seed).normal(-5.5, 0.3, n)


def found(logs):
    return first_stable(logs, np.ones(len(logs), dtype=int), 0.0, DEFAULT_RULES)


def test_fewer_than_eight_pours_give_no_limits():
    assert found(steady(7)) is None
    assert len(found(steady(8)).pours) == 8


def test_a_steady_start_is_taken_up_to_twenty_pours():
    base = found(steady(50))
    assert base.pours.tolist() == list(range(20))
    assert base.steady


def test_the_baseline_ends_before_a_change():
    logs = steady(40)
    logs[13:] += 1.5
    base = found(logs)
    assert base.steady
    assert base.pours[-1] <= 13


def test_an_unsteady_baseline_is_said_to_be_one():
    logs = np.r_[steady(20), 9.0]
    base = frozen(logs, np.ones(21, dtype=int), 0.0, DEFAULT_RULES, np.arange(21))
    assert not base.steady


def test_pours_all_the_same_give_no_limits():
    assert found(np.full(12, -5.0)) is None


def test_a_pour_of_few_pieces_gets_wider_limits():
    n_pieces = np.array([4, 4, 1, 16])
    sigma = pour_sigma(0.3, n_pieces, 0.16, np.array([4, 4, 4]))
    # Between pours 0.09 - 0.16 / 4 = 0.05.
    assert sigma**2 == pytest.approx([0.09, 0.09, 0.05 + 0.16, 0.05 + 0.01])


def test_spread_within_pours_is_never_more_than_the_whole():
    sigma = pour_sigma(0.1, np.array([1, 4, 100]), 9.0, np.array([4]))
    assert (sigma > 0).all()
    assert sigma[1] == 0.1
