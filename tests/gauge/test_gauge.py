"""Components of variance against a published study; lots; the shop's own figures."""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
import pytest
from scipy import stats

from analysis.errors import InputError
from analysis.gauge.answers import (
    GENERAL_SPREAD,
    gauge_answer,
    light_bias,
    shrunk_spread,
    usual_from_repeats,
    usual_from_study,
)
from analysis.gauge.components import components
from analysis.gauge.drawing import draw_study
from analysis.model.gauge import Measured, Study, StudyPlan, UsualSpread, usual_range

# Thermal performance of a module, C per watt x 100: each of three operators measures
# ten parts three times. Houf and Burman (1988), International Journal of Production
# Research 26, 1645; data as SAS/STAT User's Guide prints them, procedure VARCOMP,
# example 'Using the GRR Method'. One row a part, three values an operator.
HOUF_BURMAN = np.array(
    [
        [37, 38, 37, 41, 41, 40, 41, 42, 41],
        [42, 41, 43, 42, 42, 42, 43, 42, 43],
        [30, 31, 31, 31, 31, 31, 29, 30, 28],
        [42, 43, 42, 43, 43, 43, 42, 42, 42],
        [28, 30, 29, 29, 30, 29, 31, 29, 29],
        [42, 42, 43, 45, 45, 45, 44, 46, 45],
        [25, 26, 27, 28, 28, 30, 29, 27, 27],
        [40, 40, 40, 43, 42, 42, 43, 43, 41],
        [25, 25, 25, 27, 29, 28, 26, 26, 26],
        [35, 34, 34, 35, 35, 34, 35, 34, 35],
    ],
    dtype=float,
).reshape(10, 3, 3)


class TestPublishedStudy:
    """Estimates to the digits that the tests of a public R package for gauge studies
    print for these data (function point_estimate: 48.29259259, 0.56460905, 0.72798354,
    reproducibility 1.29259259, gauge 1.80370370).
    """

    @pytest.mark.parametrize(
        ("name", "variance"),
        [
            ("part", 48.29259259),
            ("person", 0.56460905),
            ("interaction", 0.72798354),
            ("reproducibility", 1.29259259),
            ("gauge", 1.80370370),
        ],
    )
    def test_estimates(self, name, variance):
        answer = components(HOUF_BURMAN)
        assert getattr(answer, name).variance == pytest.approx(variance, abs=6e-9)

    def test_repeatability_with_its_exact_interval(self):
        """30.67 of squares on 60 degrees; the interval is the chi-square one."""
        one = components(HOUF_BURMAN).repeatability
        assert one.variance == pytest.approx(46 / 90)
        assert one.low == pytest.approx(60 * one.variance / stats.chi2.ppf(0.975, 60))
        assert one.high == pytest.approx(60 * one.variance / stats.chi2.ppf(0.025, 60))

    @pytest.mark.parametrize(
        ("name", "low", "high"),
        [("part", 22.69, 161.64), ("gauge", 1.20, 27.0)],
    )
    def test_limits(self, name, low, high):
        """Burdick, Borror and Montgomery (2003), Journal of Quality Technology 35, 342:
        limits of the modified large-sample method; from memory.
        """
        one = getattr(components(HOUF_BURMAN), name)
        assert one.low == pytest.approx(low, rel=0.006)
        assert one.high == pytest.approx(high, rel=0.002)


def test_the_intervals_hold_what_was_drawn():
    """Coverage of the two sums over studies with known components."""
    rng = np.random.default_rng(2)
    held = {"reproducibility": 0, "gauge": 0, "repeatability": 0}
    truth = {"reproducibility": 0.05**2 + 0.03**2, "repeatability": 0.04**2}
    truth["gauge"] = sum(truth.values())
    for _ in range(250):
        table = rng.normal(0, 0.5, (8, 1, 1)) + rng.normal(0, 0.05, (1, 3, 1))
        table = table + rng.normal(0, 0.03, (8, 3, 1)) + rng.normal(0, 0.04, (8, 3, 2))
        answer = components(table)
        for name in held:
            one = getattr(answer, name)
            held[name] += one.low <= truth[name] <= one.high
    assert min(held.values()) / 250 > 0.92


def test_a_negative_estimate_is_told_as_none():
    table = np.array([[[0.0, 2.0], [2.0, 0.0]], [[5.0, 7.0], [7.0, 5.0]]])
    assert components(table).person.variance == 0


@pytest.mark.parametrize("shape", [(1, 3, 2), (5, 1, 2), (5, 2, 1)])
def test_too_small_a_study(shape):
    with pytest.raises(InputError, match="two people and two repeats"):
        components(np.ones(shape))


def study_of(plan, share_of, version="9"):
    """A study measured to the end; `share_of` gives each cell's share."""
    now = datetime(2026, 1, 2, tzinfo=UTC)
    return Study(
        id=3,
        plan=plan,
        drawn_at=now,
        finished_at=None,
        version=1,
        measured=tuple(
            Measured(
                cell=cell, share=share_of(cell), low=0, high=1, smallest_share=1e-5,
                method_version=version, detail={}, measured_at=now,
            )
            for cell in plan.order
        ),
    )  # fmt: skip


class TestLot:
    def test_every_cell_once_and_the_second_time_after_the_first(self):
        plan = draw_study("again", [5, 6, 7], ["one", " two "], repeats=2, seed=4)
        assert plan.people == ("one", "two")
        assert len(set(plan.order)) == len(plan.order) == 12
        for who in plan.people:
            assert [c.turn for c in plan.order if c.who == who] == [0] * 3 + [1] * 3
        assert draw_study("again", [5, 6, 7], ["one", "two"], repeats=2, seed=4) == plan

    def test_lights_come_in_blocks(self):
        plan = draw_study(
            "shop", [1, 2, 3], ["one", "two"], lights=["bench", "yard"], seed=1
        )
        mine = [cell.light for cell in plan.order if cell.who == "one"]
        assert mine in (["bench"] * 3 + ["yard"] * 3, ["yard"] * 3 + ["bench"] * 3)

    def test_refusals(self):
        with pytest.raises(InputError, match="needs 2 faces and two people"):
            draw_study("again", [1], ["one", "two"], repeats=2, seed=1)
        with pytest.raises(InputError, match="needs two lights"):
            draw_study("shop", [1, 2, 3], ["one", "two"], lights=["bench"], seed=1)
        with pytest.raises(InputError, match="Each person of a study needs a name"):
            draw_study("again", [1, 2], ["one", " "], repeats=2, seed=1)
        with pytest.raises(InputError, match="kind of a study must be one of"):
            StudyPlan(
                kind="x", items=(1, 2), people=("a", "b"), lights=(), repeats=1, seed=1,
                order=(),
            )  # fmt: skip


class TestAgain:
    plan = draw_study("again", [1, 2, 3], ["one", "two"], repeats=2, seed=5)

    def test_only_what_everybody_measured_counts(self):
        rng = np.random.default_rng(1)
        study = study_of(
            self.plan, lambda cell: 0.01 * cell.item * math.exp(rng.normal(0, 0.02))
        )
        assert gauge_answer(study).parts == 3
        fewer = [one for one in study.measured if one.cell.item != 3]
        cut = Study(
            id=3, plan=self.plan, drawn_at=study.drawn_at, finished_at=None,
            measured=(*fewer, study.measured[0]), version=1,
        )  # fmt: skip
        assert gauge_answer(cut).parts == 2

    def test_a_person_who_reads_more_is_found(self):
        rng = np.random.default_rng(1)
        more = {"one": 1.0, "two": 1.1}
        study = study_of(
            self.plan,
            lambda cell: (
                0.01 * cell.item * more[cell.who] * math.exp(rng.normal(0, 0.01))
            ),
        )
        answer = gauge_answer(study)
        low, high = answer.person_means
        assert high - low == pytest.approx(math.log(1.1), abs=0.02)
        assert math.sqrt(answer.repeatability.variance) == pytest.approx(0.01, rel=0.6)


class TestShop:
    plan = draw_study(
        "shop", range(1, 11), ["one", "two"], lights=["bench", "yard", "lamp"], seed=6
    )

    def drawn(self, spread=0.05, yard=-0.1, seed=1):
        rng = np.random.default_rng(seed)
        by_light = {"bench": 0.0, "yard": yard, "lamp": 0.0}
        return study_of(
            self.plan,
            lambda cell: (
                0.004
                * cell.item
                * math.exp(by_light[cell.light] + rng.normal(0, spread))
            ),
        )

    def test_spread_and_biases_lie_between_own_and_general(self):
        usual = usual_from_study(self.drawn())
        assert usual.set_up == "bench"
        assert 0.05 < usual.spread < GENERAL_SPREAD
        assert usual.degrees == 14
        yard, lamp = usual.lights
        assert (yard.light, lamp.light) == ("yard", "lamp")
        assert yard.raw < yard.value < 0
        assert yard.low < -0.1 < yard.high < 0
        assert lamp.low < 0 < lamp.high

    def test_the_usual_range_holds_the_next_reading(self):
        """Drawn shops: 95 of 100 further readings of a face lie in the range of one
        reading where the shop spreads as the general value has it or less.
        """
        rng = np.random.default_rng(3)
        held, tries = 0, 0
        for seed in range(40):
            usual = usual_from_study(self.drawn(seed=seed))
            for _ in range(20):
                truth = 0.01 * math.exp(rng.normal(0, 0.05))
                low, high = usual_range(truth, 0.0, usual.spread, usual.degrees)
                held += low <= 0.01 <= high
                tries += 1
        assert held / tries > 0.95

    def test_two_versions_of_the_method_are_refused(self):
        study = self.drawn()
        first, *others = study.measured
        mixed = Measured(
            **{name: getattr(first, name) for name in first.__slots__}
            | {"method_version": "8"}
        )
        with pytest.raises(InputError, match="versions 8 and 9: measure all"):
            usual_from_study(
                Study(
                    id=3, plan=self.plan, drawn_at=study.drawn_at, finished_at=None,
                    measured=(mixed, *others), version=1,
                )
            )  # fmt: skip

    def test_too_few_faces(self):
        study = self.drawn()
        some = tuple(one for one in study.measured if one.cell.item < 3)
        cut = Study(
            id=3, plan=self.plan, drawn_at=study.drawn_at, finished_at=None,
            measured=some, version=1,
        )  # fmt: skip
        assert usual_from_study(cut) is None


class TestShrinking:
    def test_little_evidence_leaves_the_general_value(self):
        assert shrunk_spread(0.0, 1e-9)[0] == pytest.approx(GENERAL_SPREAD)
        assert shrunk_spread(0.02**2, 1e6)[0] == pytest.approx(0.02, rel=1e-3)

    def test_a_light_seen_on_many_faces_is_believed(self):
        few = light_bias("yard", np.array([0.1, 0.1, 0.1]))
        many = light_bias("yard", np.full(200, 0.1))
        assert few.value < many.value < 0.1
        assert many.value == pytest.approx(0.1, rel=0.02)

    def test_repeats_of_the_log(self):
        rng = np.random.default_rng(4)
        groups = [list(-5 + rng.normal(0, 0.03, 3)) for _ in range(10)]
        usual = usual_from_repeats("bench", "9", groups)
        assert (usual.basis, usual.degrees) == ("repeats", 24)
        assert 0.03 < usual.spread < 0.07


def test_refusals_of_a_spread():
    with pytest.raises(InputError, match="Spread of log shares must be more than 0"):
        UsualSpread(
            set_up="bench", spread=0.0, degrees=3, basis="study", method_version="9"
        )
