import numpy as np
import pytest

from analysis.errors import InputError
from analysis.monitoring.charts import track
from analysis.monitoring.differences import differences
from analysis.monitoring.made_pieces import pieces
from analysis.monitoring.note_words import difference_words


def shop(**columns):
    rng = np.random.default_rng(3)
    logs = rng.normal(np.log(0.004), 0.2, 30)
    logs[24:] += 1.2
    return pieces(np.exp(logs), **columns)


def with_settings(settings, amounts=()):
    table = shop()
    fields = {
        name: getattr(table, name)
        for name in table.__slots__
        if name not in {"settings", "amounts"}
    }
    return type(table)(**fields, settings=settings, amounts=amounts)


def test_the_setting_that_changed_with_the_signal_comes_first():
    rng = np.random.default_rng(1)
    table = with_settings(
        (
            ("weather", rng.choice(["dry", "wet"], 30)),
            ("release agent", np.array(["oil"] * 24 + ["wax"] * 6)),
            ("mix", np.array(["M1"] * 30)),
        ),
        (
            ("vibration s", np.r_[np.full(24, 30.0), np.full(6, 20.0)]),
            ("air temperature", rng.normal(15, 3, 30)),
        ),
    )
    found = differences(table, track(table), "P0030")
    assert {found[0].setting, found[1].setting} == {"release agent", "vibration s"}
    agent = next(d for d in found if d.setting == "release agent")
    assert difference_words(agent) == ("wax (6 of 6)", "wax (0 of 24)")
    assert "mix" not in {d.setting for d in found}
    assert [d.p_value for d in found] == sorted(d.p_value for d in found)


def test_fishers_test_of_a_lone_pour_is_its_place_among_all():
    table = pieces(
        [0.012, 0.01] * 6 + [0.05],
        product_line=["garden"] * 13,
        form_type=["trough"] * 12 + ["panel"],
    )
    (one,) = differences(table, track(table), "P0013")
    assert difference_words(one) == ("panel (1 of 1)", "panel (0 of 12)")
    assert one.p_value == pytest.approx(1 / 13)


def test_numbers_that_are_not_known_are_passed_over():
    table = with_settings((), (("slump", np.full(30, np.nan)),))
    assert differences(table, track(table), "P0030") == ()


def test_the_first_pours_have_none_before_them():
    table = shop()
    assert differences(table, track(table), "P0001") == ()


def test_a_pour_not_on_the_chart_is_refused():
    table = shop()
    with pytest.raises(InputError, match="Pour X is not on the chart"):
        differences(table, track(table), "X")
