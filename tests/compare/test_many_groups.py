"""Many groups without columns: the answers are those with a column for each group."""

import numpy as np
import pytest

from analysis.compare import many_groups
from analysis.compare.assignment import assignment_of
from analysis.compare.compare import compare
from analysis.compare.design import Apart, contrasts, lay_out
from analysis.compare.gls import fit
from analysis.compare.shrinkage import group_variance
from analysis.model.comparison import CompareOptions
from analysis.pieces.table import piece_table

SAME = {"rtol": 1e-9, "atol": 1e-12}


def shop(seed, *, pieces=4, pours=90, spread=0.3):
    """Return pieces of forms that go round, cast on days of three pours."""
    random = np.random.default_rng(seed)
    pour = np.repeat(np.arange(pours), pieces)
    form = np.arange(len(pour)) % 11
    day = pour // 3
    x = random.integers(2, size=len(pour)).astype(float)
    y = random.normal(0, 0.3, len(pour)) + random.normal(0, 0.2, pours)[pour]
    y += random.normal(0, spread, 11)[form] + random.normal(0, spread, day[-1] + 1)[day]
    return y - 0.2 * x, x, pour, form, day


def designs(monkeypatch, seed, stratum=None, covariates=None, **how):
    """Lay the same pieces out with columns, then without."""
    y, x, pour, form, day = shop(seed, **how)
    apart = [
        Apart(name="form", group=form, leans=False),
        Apart(name="day", group=day, leans=False),
    ]
    strata = np.zeros(len(y), dtype=np.int64) if stratum is None else form % stratum
    if covariates:
        covariates = np.random.default_rng(seed).normal(size=(len(y), covariates))
    made = []
    for least in (many_groups.MANY, 0):
        monkeypatch.setattr(many_groups, "MANY", least)
        made.append(lay_out(y, x, pour, strata, covariates, apart))
    return made


@pytest.mark.parametrize(
    "how",
    [
        {},
        {"spread": 0.0},
        {"pieces": 2, "pours": 340},
        {"pieces": 1, "pours": 310},
        {"covariates": 3},
        {"stratum": 2, "pours": 150},
    ],
    ids=str,
)
@pytest.mark.parametrize("seed", range(3))
def test_the_fit_is_that_with_a_column_for_each_group(monkeypatch, how, seed):
    with_columns, without = designs(monkeypatch, seed, **how)
    assert not with_columns.groupings
    penalties = np.unique(with_columns.penalty[with_columns.penalty > 0])
    assert len(without.groupings) == len(penalties)
    one, other = fit(with_columns), fit(without)
    # With one piece a pour the columns lose digits: what is left of a mean in its own
    # pour is multiplied by a million. The counts do not.
    close = SAME if how.get("pieces") != 1 else {"rtol": 1e-7, "atol": 1e-7}
    for name in (
        *("log_ratio", "information", "standard_error", "df"),
        *("variance_between", "variance_within", "score", "own"),
    ):
        np.testing.assert_allclose(
            getattr(other, name), getattr(one, name), err_msg=name, **close
        )


@pytest.mark.parametrize("seed", range(3))
@pytest.mark.parametrize("which", ["form", "day"])
def test_the_variance_of_groups_is_that_of_their_contrasts(seed, which):
    y, _, pour, form, day = shop(seed)
    group = {"form": form, "day": day}[which]
    fixed = np.column_stack([np.ones(len(y)), np.sin(np.arange(len(y)) / 7)])
    wanted = group_variance(y, contrasts(group), fixed, pour)
    found = many_groups.group_variance_of_many(y, group, fixed, pour)
    assert wanted > 0
    np.testing.assert_allclose(found, wanted, **SAME)


def test_the_whole_answer_is_the_same(monkeypatch):
    y, x, pour, form, day = shop(7, pieces=2, pours=220)
    rows = [
        {
            "piece": f"{n}",
            "pour": f"{pour[n]}",
            "form": f"F{form[n]}",
            "cast_on": f"2026-{1 + day[n] // 28:02}-{1 + day[n] % 28:02}",
            "oil": "ab"[int(x[n])],
            "void_area_percent": float(np.exp(y[n])),
            "face_area_mm2": 1e5,
        }
        for n in range(len(y))
    ]
    table = piece_table(rows)
    answers, units = [], []
    for least in (many_groups.MANY, 0):
        monkeypatch.setattr(many_groups, "MANY", least)
        head = compare(table, CompareOptions(by="oil")).head
        of = assignment_of(table, "oil", x)
        units.append([of.unit, *((one.name, one.leans) for one in of.apart)])
        answers.append(head)
    one, other = answers
    assert units[0] == units[1]
    assert one.p_value is not None
    assert (one.verdict, one.why, one.rests_on) == (
        other.verdict,
        other.why,
        other.rests_on,
    )
    for name in ("ratio", "ratio_low", "ratio_high", "p_value"):
        np.testing.assert_allclose(getattr(other, name), getattr(one, name), rtol=1e-9)


def test_columns_that_say_nothing_new_count_once():
    """A column told by the groups, or by another, adds no rank."""
    y, _, pour, form, _ = shop(1)
    told = (form % 2).astype(float)
    twice = np.column_stack([told, told])
    assert (
        many_groups.squares_inside(y, twice, [form], pour)[1]
        == many_groups.squares_inside(y, twice[:, :0], [form], pour)[1]
    )
