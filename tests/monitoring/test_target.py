import numpy as np
import pytest
from scipy.stats import norm

from analysis.errors import InputError
from analysis.model.outlook import TargetBand
from analysis.monitoring.charts import track
from analysis.monitoring.made_pieces import pieces
from analysis.monitoring.target import chance_now, chance_of_target
from tests.support.wording import said


def shop(rng, pours, per_pour, *, between=0.25, within=0.3, median=0.004):
    logs = np.log(median) + np.repeat(rng.normal(0, between, pours), per_pour)
    logs = logs + rng.normal(0, within, pours * per_pour)
    names = [f"P{i:03d}" for i in range(pours) for _ in range(per_pour)]
    return pieces(np.exp(logs), pours=names)


def test_a_large_shop_gives_the_chance_of_its_own_lognormal():
    table = shop(np.random.default_rng(1), 3000, 5)
    found = chance_of_target(table, TargetBand(low=0.002, high=0.006))
    sd = np.hypot(0.25, 0.3)
    truth = norm.cdf(np.log(1.5) / sd) - norm.cdf(np.log(0.5) / sd)
    assert found.chance == pytest.approx(truth, abs=0.01)
    assert found.firsts == pytest.approx(truth, abs=0.015)
    assert found.high - found.low < 0.03


@pytest.mark.parametrize(("pours", "per_pour"), [(4, 3), (12, 1)])
def test_the_interval_holds_the_truth_about_95_times_in_100(pours, per_pour):
    rng = np.random.default_rng(2)
    target = TargetBand(low=0.0, high=0.006)
    truth = norm.cdf(np.log(1.5) / np.hypot(0.25, 0.3))
    held = 0
    for _ in range(200):
        found = chance_of_target(shop(rng, pours, per_pour), target)
        held += found.low <= truth <= found.high
    assert 0.90 <= held / 200 <= 1.0


def test_few_pours_are_wide_and_said_to_be():
    rng = np.random.default_rng(3)
    target = TargetBand(low=0.0, high=0.006)
    few = chance_of_target(shop(rng, 3, 4), target)
    many = chance_of_target(shop(rng, 40, 4), target)
    assert few.high - few.low > 2 * (many.high - many.low)
    assert "Only 3 pours" in said(few)[0]


def test_two_pours_are_too_early():
    found = chance_of_target(
        pieces([0.004, 0.005, 0.009], pours=["a", "a", "b"]),
        TargetBand(low=0.0, high=0.006),
    )
    assert found.chance is None
    assert found.limited_by == "not_known"
    assert found.firsts == pytest.approx(2 / 3)
    assert "Too early" in said(found)[0]


def test_one_pour_alone_says_little_about_the_share_of_firsts():
    ten = pieces([0.004] * 10, pours=["a"] * 10)
    found = chance_of_target(ten, TargetBand(low=0.0, high=0.006))
    # Exact interval of 1 in 1, Clopper and Pearson: 0.025 to 1.
    assert (found.firsts_low, found.firsts_high) == pytest.approx((0.025, 1.0))


def test_share_of_firsts_with_one_piece_per_pour_is_the_exact_binomial():
    # NIST/SEMATECH e-Handbook 7.2.4.2: 4 of 20, here at 95 %; limits by the beta
    # distribution 0.0573 and 0.4366 (tables of Clopper and Pearson, from memory).
    table = pieces([0.009] * 16 + [0.004] * 4)
    found = chance_of_target(table, TargetBand(low=0.0, high=0.006))
    assert found.firsts == 0.2
    assert (found.firsts_low, found.firsts_high) == pytest.approx(
        (0.0573, 0.4366), abs=0.012
    )


@pytest.mark.parametrize(
    ("between", "within", "median", "answer"),
    [
        (0.05, 0.05, 0.012, "level"),
        (0.9, 0.05, 0.004, "pour_to_pour"),
        (0.05, 0.9, 0.004, "piece_to_piece"),
        (0.02, 0.02, 0.004, "nothing"),
    ],
)
def test_what_stands_most_in_the_way_is_named(between, within, median, answer):
    table = shop(
        np.random.default_rng(5), 60, 4, between=between, within=within, median=median
    )
    found = chance_of_target(table, TargetBand(low=0.002, high=0.008))
    assert found.limited_by == answer
    assert (found.if_mended is None) == (answer == "nothing")


def test_the_same_table_gives_the_same_figures():
    table = shop(np.random.default_rng(6), 6, 2)
    target = TargetBand(low=0.0, high=0.005)
    assert chance_of_target(table, target) == chance_of_target(table, target)


def test_the_newest_pours_since_the_last_break_count():
    rng = np.random.default_rng(7)
    logs = rng.normal(np.log(0.004), 0.1, 40)
    logs[:28] += 2.0
    table = pieces(np.exp(logs), joint_sealing=["none"] * 28 + ["tape"] * 12)
    target = TargetBand(low=0.0, high=0.006)
    found = chance_now(table, track(table), target)
    assert found.n_pours == 12
    assert found.chance > 0.95
    assert found.notes == ()


def test_a_signal_among_the_newest_pours_is_told():
    logs = np.random.default_rng(8).normal(np.log(0.004), 0.1, 30)
    logs[-3:] += 1.0
    table = pieces(np.exp(logs))
    found = chance_now(table, track(table), TargetBand(low=0.0, high=0.006))
    assert found.n_pours == 20
    assert "stand out" in said(found)[-1]


def test_an_empty_band_is_refused():
    with pytest.raises(InputError, match="is not below the upper"):
        TargetBand(low=0.01, high=0.01)
    with pytest.raises(InputError, match="Upper finish target"):
        TargetBand(low=0.0, high=float("nan"))
