"""What is cheapest, against figures by hand, scipy's line and known truths."""

import numpy as np
import pytest
from scipy import stats

from analysis.errors import InputError, TableError
from analysis.pieces.table import piece_table
from analysis.planning.cheapest import DRAWS, Option, Prices, cheapest, ratio_draws

PRICES = Prices(per_hour=30.0)
NOW = Option(kind="as_now", level="", ratio=np.ones(DRAWS), minutes=0.5)


def repaired(seed=1, *, pours=14, between=0.5, second=False):
    random = np.random.default_rng(seed)
    shift = random.normal(0, between, pours)
    rows = []
    for n in range(2 * pours):
        share = random.uniform(0.2, 2.5)
        minutes = 2 + 6 * share + shift[n // 2] + random.normal(0, 1)
        row = {
            "piece": n,
            "pour": n // 2,
            "void_area_percent": share,
            "repair_minutes": max(minutes, 0),
        }
        if second:
            row["second"] = "yes" if share > 1.5 else "no"
        rows.append(row)
    return piece_table(rows)


def sealed(low=0.45, high=0.55, minutes=3.0):
    ratio = ratio_draws(low, high)
    return Option(kind="seal", level="", ratio=ratio, minutes=minutes, material=0.2)


def test_line_is_that_of_a_library():
    table = repaired()
    found = cheapest(table, [NOW], 1.0, PRICES)
    line = stats.linregress(
        table.number["void_area_percent"], table.number["repair_minutes"]
    )

    assert found.minutes_per_percent == pytest.approx(line.slope)
    assert found.minutes_at_none == pytest.approx(line.intercept)
    assert found.minutes_low < line.slope < found.minutes_high
    assert (found.n_pieces, found.n_pours) == (28, 14)


def test_total_by_hand():
    found = cheapest(repaired(), [NOW, sealed()], 1.2, PRICES)
    now = next(one for one in found.options if one.kind == "as_now")
    minutes = found.minutes_at_none + found.minutes_per_percent * 1.2

    assert now.make == pytest.approx(0.25)
    assert now.mend == pytest.approx(0.5 * minutes)
    assert (now.saves, now.saves_low, now.saves_high) == (0.0, 0.0, 0.0)
    tape = next(one for one in found.options if one.kind == "seal")
    saved = found.minutes_per_percent * (1.2 - tape.share_percent) * 0.5
    assert tape.saves == pytest.approx(saved - (0.5 * 2.5 + 0.2))
    assert tape.saves_low < tape.saves < tape.saves_high


def test_what_pays_and_what_does_not():
    pays = cheapest(repaired(), [NOW, sealed(minutes=1.0)], 2.0, PRICES)
    costs = cheapest(repaired(), [NOW, sealed(minutes=30.0)], 2.0, PRICES)
    unsure = cheapest(
        repaired(pours=5, between=4.0), [NOW, sealed(0.3, 1.4, 3.0)], 1.2, PRICES
    )

    assert (pays.verdict, pays.options[0].kind) == ("change", "seal")
    assert (costs.verdict, costs.options[0].kind) == ("stay", "as_now")
    assert unsure.verdict == "not_clear"


def test_seconds_sold_count():
    table = repaired(second=True)
    plain = cheapest(table, [NOW, sealed()], 1.8, PRICES).options[0]
    lost = Prices(per_hour=30.0, lost_per_second=40.0)
    dear = cheapest(table, [NOW, sealed()], 1.8, lost).options[0]

    assert dear.kind == plain.kind == "seal"
    assert dear.saves > plain.saves + 5


def test_interval_holds_the_truth():
    held = 0
    for seed in range(200):
        found = cheapest(repaired(seed), [NOW, sealed()], 1.2, PRICES)
        tape = next(one for one in found.options if one.kind == "seal")
        truth = 0.5 * 6 * 1.2 * (1 - np.sqrt(0.45 * 0.55)) - (0.5 * 2.5 + 0.2)
        held += tape.saves_low <= truth <= tape.saves_high
    # The share's own draws are centred on the truth here, so coverage lies above 95 %.
    assert held >= 180


def test_more_voids_never_mend_faster():
    rows = [
        {"piece": n, "pour": n, "void_area_percent": n + 1, "repair_minutes": 20 - n}
        for n in range(10)
    ]
    assert cheapest(piece_table(rows), [NOW], 1.0, PRICES).minutes_per_percent == 0


@pytest.mark.parametrize("pours", [0, 3])
def test_too_little_is_refused(pours):
    table = repaired(pours=pours) if pours else piece_table([{"piece": 1, "pour": 1}])
    with pytest.raises(TableError, match="Repair minutes are known for"):
        cheapest(table, [NOW], 1.0, PRICES)


def test_one_share_is_refused():
    rows = [
        {"piece": n, "pour": n, "void_area_percent": 1.0, "repair_minutes": n}
        for n in range(10)
    ]
    with pytest.raises(TableError, match="have the same void area"):
        cheapest(piece_table(rows), [NOW], 1.0, PRICES)


@pytest.mark.parametrize(
    ("name", "value", "match"),
    [
        ("per_hour", 0.0, "Cost of an hour"),
        ("per_hour", float("nan"), "Cost of an hour"),
        ("lost_per_second", -1.0, "Loss on a second"),
        ("refinish_minutes", -1.0, "Minutes of refinishing"),
        ("refinish_material", -1.0, "Material of refinishing"),
    ],
)
def test_no_price(name, value, match):
    with pytest.raises(InputError, match=match):
        Prices(**{"per_hour": 30.0} | {name: value})
