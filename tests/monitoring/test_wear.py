import itertools
import re
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from analysis.errors import InputError
from analysis.model.outlook import ADVICE, TargetBand
from analysis.monitoring import trends
from analysis.monitoring.made_pieces import pieces
from analysis.monitoring.note_words import note_words
from analysis.monitoring.trends import SIGNIFICANT, Castings, trend
from analysis.monitoring.wear import form_wear, refinished_at
from tests.support.wording import said


def castings(rise, n=30, *, spread=0.2, seed=1, start=0, **columns):
    use = np.arange(1.0, n + 1)
    logs = np.log(0.004) + rise * np.maximum(use - start, 0)
    shares = np.exp(logs + np.random.default_rng(seed).normal(0, spread, n))
    return pieces(shares, **({"form": ["F1"] * n, "form_use": use} | columns))


def test_a_steady_rise_is_measured_with_an_interval():
    (form,) = form_wear(castings(0.05))
    assert form.advice == "refinish"
    assert form.face.shape == "steady_rise"
    assert form.face.ratio_low < np.exp(0.5) < form.face.ratio_high
    assert form.face.p_value == pytest.approx(1 / 2000)
    assert re.fullmatch(
        r"Voids rise with use steadily, with \d+ % more void area "
        r"\(\d+ to \d+ % more\) over ten uses, from 30 castings: clear\.",
        note_words(form.evidence),
    )


def test_the_slope_is_that_of_least_squares():
    # NIST StRD, linear regression, Norris: certified slope 1.00211681802045 with
    # standard error 0.429796848199937e-03.
    y = np.array([
        0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
        0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
        0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
    ])  # fmt: skip
    x = np.array([
        0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
        0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
        0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
    ])  # fmt: skip
    scale = 1e-3
    norris = Castings(form=np.zeros(36, dtype=int), use=x, log_share=scale * y)
    found = trend(norris, np.random.default_rng(0))
    slope = np.log(found.ratio_per_10_uses) / 10 / scale
    reach = np.log(found.ratio_high / found.ratio_per_10_uses) / 10 / scale
    assert slope == pytest.approx(1.00211681802045, rel=1e-12)
    # Student, 97.5 %, 34 degrees of freedom: 2.032245.
    assert reach == pytest.approx(2.032245 * 0.429796848199937e-03, rel=1e-6)


def test_a_rise_that_starts_late_gets_its_knee():
    (form,) = form_wear(castings(0.15, n=40, start=25))
    assert form.face.shape == "rise_after"
    assert 20 <= form.face.change_at_use <= 30


def test_damage_shows_as_a_step():
    table = castings(0.0, n=30)
    shares = table.void_share * np.where(table.form_use > 18, 3.0, 1.0)
    (form,) = form_wear(pieces(shares, form=table.form, form_use=table.form_use))
    assert form.face.shape == "step_at"
    assert form.face.change_at_use == 19


def test_few_uses_are_too_early():
    (form,) = form_wear(castings(0.3, n=7))
    assert (form.advice, form.face) == ("too_early", None)
    assert "7 comparable castings" in note_words(form.evidence)


def test_eight_pieces_of_one_casting_are_one_use():
    table = castings(0.0, n=8, form_use=np.full(8, 3.0))
    (form,) = form_wear(table)
    assert form.advice == "too_early"
    assert len(form.use) == 1


def test_a_finish_that_gets_better_is_no_wear():
    (form,) = form_wear(castings(-0.05))
    assert form.advice == "no_sign"
    assert note_words(form.evidence).startswith("No rise with use: ")
    assert " void area over ten uses, from " in note_words(form.evidence)
    assert form.face.ratio_high < 1


def test_steady_forms_are_called_worn_at_the_stated_rate():
    called = 0
    for seed in range(150):
        (form,) = form_wear(castings(0.0, n=14, seed=seed))
        called += form.advice != "no_sign"
    # Binomial, 150 at 1 %: more than 6 has a chance below 0.001.
    assert called <= 6
    assert SIGNIFICANT == 0.01


def test_a_rise_in_the_joint_band_alone_asks_for_new_sealing():
    flat = castings(0.0, seed=2)
    band = castings(0.08, seed=3).void_share
    table = castings(
        0.0, seed=2, joint_band_share=band, open_face_share=flat.void_share
    )
    (form,) = form_wear(table)
    assert form.advice == "re_seal"
    assert form.joint_band.shape != "none"
    assert "Voids along the joints" in note_words(form.evidence)


def test_joints_marked_on_some_pieces_only_are_told():
    band = castings(0.0, seed=3).void_share.copy()
    band[::2] = np.nan
    face = castings(0.0, seed=2).void_share
    (form,) = form_wear(castings(0.0, joint_band_share=band, open_face_share=face))
    assert "not marked on every piece" in said(form)[0]
    assert form.joint_band.n_castings == 15


def test_wear_again_after_refinishing_is_a_case_for_retiring():
    (form,) = form_wear(castings(0.08, n=40), refinished={"F1": 15.0})
    assert form.advice == "retire"
    assert form.face.n_castings == 25


def test_right_after_refinishing_it_is_too_early():
    (form,) = form_wear(castings(0.08, n=20), refinished={"F1": 20.0})
    assert form.advice == "too_early"
    assert "0 comparable castings" in note_words(form.evidence)


def test_remaining_uses_hold_the_truth_and_come_with_an_interval():
    target = TargetBand(low=0.0, high=0.02)
    truth = np.log(0.02 / 0.004) / 0.05 - 20  # 12.2 castings after the 20th
    held = 0
    for seed in range(100):
        (form,) = form_wear(castings(0.05, n=20, seed=seed), target=target)
        top = np.inf if form.remaining_high is None else form.remaining_high
        held += form.remaining_low <= truth <= top
        assert form.remaining_low <= form.remaining <= top
    assert held >= 90


def test_no_remaining_uses_where_the_slope_is_not_told_from_none():
    (form,) = form_wear(castings(0.0), target=TargetBand(low=0.0, high=0.02))
    assert form.remaining is None


def test_a_form_past_its_target_has_none_left():
    (form,) = form_wear(castings(0.1), target=TargetBand(low=0.0, high=0.006))
    assert form.remaining == 0.0
    assert "already outside the target" in note_words(form.evidence)


def test_one_stage_and_one_sealing_are_judged():
    sealing = ["tape"] * 20 + ["none"] * 10
    (form,) = form_wear(castings(0.0, joint_sealing=sealing))
    assert form.face.n_castings == 20
    assert "with joint sealing sealed are judged (20 of 30)" in said(form)[0]


def test_forms_of_a_type_share_a_slope_but_not_a_level():
    # Levels fall from form to form while each form wears: pooled, it would hide.
    n, rng = 12, np.random.default_rng(4)
    use = np.concatenate([np.arange(1.0, n + 1) + 12 * k for k in range(3)])
    level = np.repeat([0.0, -2.0, -4.0], n)
    shares = np.exp(np.log(0.02) + level + 0.1 * use + rng.normal(0, 0.2, 36))
    table = pieces(
        shares,
        form=np.repeat(["A", "B", "C"], n),
        form_type=["trough"] * 36,
        form_use=use,
    )
    (kind,) = form_wear(table, by_type=True)
    assert kind.of_type
    assert kind.advice == "refinish"
    assert kind.face.ratio_low < np.exp(1.0) < kind.face.ratio_high


def test_a_drift_of_the_whole_shop_is_not_laid_on_the_form():
    n = 30
    rng = np.random.default_rng(5)
    drift = 0.06 * np.arange(n)
    shares = np.exp(np.log(0.004) + np.tile(drift, 2) + rng.normal(0, 0.15, 2 * n))
    table = pieces(
        shares,
        pours=[f"P{i:02d}" for i in range(n)] * 2,
        form=["old"] * n + ["other"] * n,
        form_use=np.r_[np.arange(1.0, n + 1), np.full(n, np.nan)],
    )
    (form,) = form_wear(table)
    assert "other forms in the same pours got worse" in said(form)[0]
    assert form.advice == "no_sign"
    assert "the shop has drifted" in note_words(form.evidence)


def test_wear_of_one_form_alone_is_laid_on_it():
    n = 30
    rng = np.random.default_rng(6)
    rise = np.r_[0.06 * np.arange(n), np.zeros(n)]
    table = pieces(
        np.exp(np.log(0.004) + rise + rng.normal(0, 0.15, 2 * n)),
        pours=[f"P{i:02d}" for i in range(n)] * 2,
        form=["old"] * n + ["other"] * n,
        form_use=np.tile(np.arange(1.0, n + 1), 2),
    )
    old, other = form_wear(table)
    assert (old.advice, old.notes) == ("refinish", ())
    assert other.advice == "no_sign"


def test_a_form_has_the_same_numbers_whatever_else_is_judged():
    n, rng = 20, np.random.default_rng(7)
    table = pieces(
        np.exp(np.log(0.004) + rng.normal(0, 0.2, 3 * n)),
        pours=[f"P{i:02d}" for i in range(n)] * 3,
        form=np.repeat(["A", "Größe 2", "C"], n),
        form_use=np.tile(np.arange(1.0, n + 1), 3),
    )
    every = {one.name: one.face for one in form_wear(table)}

    (one,) = form_wear(table, only=["Größe 2"])
    (alone,) = form_wear(table.take(table.form == "Größe 2"))

    assert one.face == alone.face == every["Größe 2"]
    assert one.face.p_value not in {every["A"].p_value, every["C"].p_value}
    assert form_wear(table, only=["gone"]) == ()


def test_the_p_value_is_that_of_all_orders_within_its_chance():
    # 1,999 shuffles of eight castings against all 40,320 orders, worked out here
    # without the product's code: three standard errors of a Monte Carlo share.
    y = np.log([0.004, 0.0043, 0.0039, 0.0046, 0.0041, 0.005, 0.0045, 0.0049])
    table = pieces(np.exp(y), form=["Mould 7"] * 8, form_use=np.arange(1.0, 9.0))
    x = np.arange(1.0, 9.0)
    shapes = [x, *(np.maximum(x - k, 0) for k in x[2:6]), *(x > k for k in x[2:6])]
    unit = np.array([(s - s.mean()) / np.linalg.norm(s - s.mean()) for s in shapes])
    orders = np.array(list(itertools.permutations(y - y.mean())))
    fit = (orders @ unit.T).max(axis=1)
    exact = (fit >= fit[0] * (1 - 1e-9)).mean()

    (found,) = form_wear(table)

    error = np.sqrt(exact * (1 - exact) / 1999)
    assert found.face.p_value == pytest.approx(exact, abs=3 * error)


def test_thousands_of_castings_are_binned_and_still_found():
    (form,) = form_wear(castings(0.0005, n=3000))
    assert form.advice == "refinish"
    assert form.face.n_castings == 3000


def test_every_advice_has_a_name():
    assert form_wear(castings(0.0))[0].advice in ADVICE


def test_no_form_use_at_all_is_refused():
    with pytest.raises(InputError, match="both a form and a form use"):
        form_wear(pieces([0.01], form=["F1"]))


def test_day_of_refinishing_becomes_the_use_reached_by_then():
    table = pieces([0.004] * 6, form=["a"] * 3 + ["b"] * 3, form_use=[7, 8, 9, 1, 2, 3])
    days = {"a": date(2024, 1, 15), "b": date(2020, 1, 1), "c": date(2024, 1, 1)}

    assert refinished_at(table, days) == {"a": 8.0, "b": 0.0, "c": 0.0}


def test_form_without_a_casting_since_refinishing_is_too_early():
    table = pieces([0.004] * 6, form=["a"] * 6, form_use=np.arange(1.0, 7.0))

    (found,) = form_wear(table, refinished={"a": 6.0})

    assert (found.advice, found.uses, len(found.use)) == ("too_early", 6.0, 0)


def test_castings_of_the_joint_band_are_given_for_drawing():
    table = pieces(
        [0.004] * 3,
        form=["a"] * 3,
        form_use=[1.0, 2.0, 3.0],
        joint_band_share=[0.01, 0.02, 0.04],
        open_face_share=[0.004] * 3,
    )

    (found,) = form_wear(table)

    assert found.joint_use.tolist() == [1.0, 2.0, 3.0]
    assert found.joint_share.tolist() == pytest.approx([0.01, 0.02, 0.04])


def test_castings_all_alike_show_no_sign():
    (found,) = form_wear(
        pieces([0.004] * 12, form=["a"] * 12, form_use=np.arange(1.0, 13.0))
    )

    assert (found.advice, found.face.p_value) == ("no_sign", 1.0)


@pytest.mark.parametrize("rise", [0.0, 0.02, 0.05, -0.05])
def test_where_signs_are_all_that_is_asked_the_advice_is_the_same(rise):
    for seed in range(4):
        table = castings(rise, n=30, seed=seed)
        (whole,) = form_wear(table, seed=seed)
        (quick,) = form_wear(table, seed=seed, signs_only=True)
        assert (quick.advice, quick.face.shape) == (whole.advice, whole.face.shape)
        assert quick.face.change_at_use == whole.face.change_at_use
        if whole.face.p_value <= SIGNIFICANT:
            assert quick.face.p_value == whole.face.p_value
        else:
            assert quick.face.p_value > SIGNIFICANT


def test_shuffling_ends_where_no_rise_is_sure(monkeypatch):
    made = []
    shuffled = trends._shuffled

    def counted(form, y, rng, shuffles):
        made.append(shuffles)
        return shuffled(form, y, rng, shuffles)

    monkeypatch.setattr(trends, "_shuffled", counted)
    form_wear(castings(-0.05), signs_only=True)
    assert sum(made) == trends.SHUFFLES_A_LOOK
    made.clear()
    form_wear(castings(-0.05))
    assert made == [trends.SHUFFLES]
    # Forms that share a slope are shuffled one after the other, all at once.
    made.clear()
    two = castings(-0.05, n=20)
    both = replace(two, form=np.repeat(["a", "b"], 10), form_type=np.full(20, "pot"))
    form_wear(both, by_type=True, signs_only=True)
    assert made == [trends.SHUFFLES]
