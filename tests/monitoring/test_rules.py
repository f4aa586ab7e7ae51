import numpy as np
import pytest

from analysis.errors import InputError
from analysis.monitoring.rules import (
    ALL_RULES,
    BEYOND,
    DEFAULT_RULES,
    EIGHT_ON_ONE_SIDE,
    FOUR_OF_FIVE,
    SIX_IN_A_ROW,
    SMOOTHED,
    TWO_OF_THREE,
    broken,
    named,
)


def where(rule, standard):
    found = broken(np.asarray(standard, dtype=float), (rule,), centre_from=None)
    return np.flatnonzero(found[0]).tolist()


def test_beyond_the_limits_is_beyond_not_on():
    assert where(BEYOND, [3.0, 3.001, -3.2, 0]) == [1, 2]


def test_eight_on_one_side_marks_the_eighth_and_the_centre_is_no_side():
    assert where(EIGHT_ON_ONE_SIDE, [0.1] * 9) == [7, 8]
    assert where(EIGHT_ON_ONE_SIDE, [-0.1] * 8) == [7]
    assert where(EIGHT_ON_ONE_SIDE, [0.1] * 7 + [0.0] + [0.1] * 7) == []


def test_two_of_three_needs_one_side_and_marks_the_pour_that_completes_it():
    assert where(TWO_OF_THREE, [0, 2.1, 0, 2.1, 0]) == [3]
    assert where(TWO_OF_THREE, [0, 2.1, -2.1, 0]) == []
    assert where(TWO_OF_THREE, [2.1, 2.1]) == []  # not three pours yet


def test_four_of_five_more_than_a_third_of_the_way():
    assert where(FOUR_OF_FIVE, [1.1, 1.1, 0, 1.1, 1.1]) == [4]
    assert where(FOUR_OF_FIVE, [1.1, 1.1, 0, 1.1, 0.9]) == []


def test_six_in_a_row_rising_or_falling():
    assert where(SIX_IN_A_ROW, [0, 0.1, 0.2, 0.3, 0.4, 0.5]) == [5]
    assert where(SIX_IN_A_ROW, [0, -0.1, -0.2, -0.3, -0.4, -0.5]) == [5]
    assert where(SIX_IN_A_ROW, [0, 0.1, 0.2, 0.2, 0.4, 0.5]) == []


def test_smoothed_mean_sees_a_small_lasting_shift():
    assert where(SMOOTHED, [0.0] * 5 + [1.5] * 6)[0] < 10
    assert where(SMOOTHED, [0.0] * 30) == []


def test_short_series_break_no_run_rule():
    for rule in ALL_RULES:
        assert where(rule, [0.5]) == []


def test_names_are_words_and_sources_are_given():
    assert len({rule.name for rule in ALL_RULES}) == len(ALL_RULES)
    assert all(any(year.isdigit() for year in rule.source) for rule in ALL_RULES)
    assert named(None) == DEFAULT_RULES


def test_an_unknown_rule_is_refused():
    with pytest.raises(InputError, match="A rule must be one of"):
        named(["seven in a row"])


def first_marks(rules, shift, runs, length, seed):
    rng = np.random.default_rng(seed)
    ends = []
    for _ in range(runs):
        marks = broken(rng.normal(shift, 1, length), rules, centre_from=None)
        ends.append(int(marks.any(axis=0).argmax()) + 1)
    return np.array(ends)


def test_share_beyond_known_limits_is_one_in_370():
    rng = np.random.default_rng(5)
    marks = broken(rng.normal(size=2_000_000), (BEYOND,), centre_from=None)
    # Closed form: 1 / (2 * (1 - Phi(3))) = 370.40; 5400 marks, so 1.4 % standard error.
    assert 1 / marks.mean() == pytest.approx(370.40, rel=0.05)


def test_run_length_of_the_four_handbook_rules():
    # Champ and Woodall, Technometrics 29 (1987): 91.75, from memory.
    rules = (BEYOND, TWO_OF_THREE, FOUR_OF_FIVE, EIGHT_ON_ONE_SIDE)
    ends = first_marks(rules, 0.0, 1500, 1200, seed=6)
    assert ends.mean() == pytest.approx(91.75, rel=0.08)


def test_run_length_of_one_limit_after_a_shift():
    # Closed form: 1 / (Phi(-2) + Phi(-4)) = 43.89 at one standard deviation.
    ends = first_marks((BEYOND,), 1.0, 1500, 600, seed=8)
    assert ends.mean() == pytest.approx(43.89, rel=0.08)
