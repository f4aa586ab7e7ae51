import pytest

from analysis.monitoring.false_alarms import false_alarm_rate
from analysis.monitoring.rules import ALL_RULES, BEYOND, DEFAULT_RULES, SIX_IN_A_ROW


def test_known_limits_have_the_rate_of_the_closed_form():
    # 2 * (1 - Phi(3)) = 0.0027.
    assert false_alarm_rate((BEYOND,), 10**7) == pytest.approx(0.0027, abs=1e-4)


def test_a_longer_baseline_gives_fewer_false_alarms():
    rates = [false_alarm_rate(DEFAULT_RULES, m) for m in (8, 12, 20, 50, 1000)]
    assert rates == sorted(rates, reverse=True)


def test_the_order_of_the_rules_does_not_matter():
    assert false_alarm_rate(ALL_RULES[::-1], 20) == false_alarm_rate(ALL_RULES, 20)


def test_rules_that_were_not_simulated_together_have_no_rate():
    assert false_alarm_rate((SIX_IN_A_ROW,), 20) is None
