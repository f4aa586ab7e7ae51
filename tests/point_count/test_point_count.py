"""The standard's formulas, the lot, and the interval for few hits.

ASTM E562-02 and E562-19 were read as far as public copies reach: they print no counted
example, so the formulas are checked by closed forms, by the t table recomputed from
Student's law, and by simulation (tests/benchmarks/results/point_count.md).
"""

import math

import numpy as np
import pytest
from scipy import stats

from analysis.errors import InputError
from analysis.model.point_count import (
    CountField,
    CountFigure,
    CountPlan,
    Stratum,
    checked_answers,
)
from analysis.model.reading import Share
from analysis.point_count.drawing import (
    candidate_tiles,
    draw_by_candidates,
    draw_even,
)
from analysis.point_count.figures import (
    count_figure,
    few_hits_interval,
)
from analysis.point_count.needed import agreement, points_by_candidates, points_needed

FACE = np.ones((300, 400), bool)


def plan_of(counts, points=25, weight=1.0):
    """A plan whose fields hold one row of far points each."""
    fields = tuple(
        CountField(
            stratum=0, points_px=[[100.0 * row, 100.0 * at] for at in range(points)]
        )
        for row in range(len(counts))
    )  # fmt: skip
    part = Stratum(name="face", weight=weight, spacing_px=10, fields_to_draw_from=99)
    plan = CountPlan(kind="even", seed=0, strata=(part,), fields=fields, void_px2=0)
    return plan, "".join("v" * one + "s" * (points - one) for one in counts)


class TestStandardFormulas:
    def test_against_numbers_worked_by_hand(self):
        """Four fields of 25: 1, 2, 0, 1 hits are 4, 8, 0, 4 %.

        Mean 4, squares of the differences 0 + 16 + 16 + 0 = 32, s = sqrt(32 / 3) =
        3.26599; t(3) = 3.182 as the standard's table prints for n = 4 (Student);
        half = 3.182 * 3.26599 / 2 = 5.196; relative accuracy 129.9 %.
        """
        plan, answers = plan_of([1, 2, 0, 1])
        figure = count_figure(plan, answers)
        assert figure.share == pytest.approx(0.04)
        assert figure.standard_high == pytest.approx(0.04 + 0.05196, abs=1e-5)
        assert figure.standard_low == 0.0
        assert figure.relative_accuracy == pytest.approx(1.299, abs=1e-3)
        assert (figure.hits, figure.points, figure.fields) == (4, 100, 4)

    @pytest.mark.parametrize(
        ("fields", "t"),
        [(5, 2.776), (10, 2.262), (20, 2.093), (30, 2.045)],
    )
    def test_multiplier(self, fields, t):
        """Table of t at 97.5 %, n - 1 degrees: any table of Student's law prints it."""
        counts = [0, 2] * (fields // 2) + [1] * (fields % 2)
        figure = count_figure(*plan_of(counts, points=100))
        half = figure.standard_high - figure.share
        s = np.std(counts, ddof=1) / 100
        assert half * math.sqrt(fields) / s == pytest.approx(t, abs=5e-4)

    def test_half_a_point_at_an_edge(self):
        plan, answers = plan_of([2, 2])
        edges = answers.replace("v", "e")
        assert count_figure(plan, edges).share == count_figure(plan, answers).share / 2

    def test_nothing_hit(self):
        figure = count_figure(*plan_of([0, 0, 0, 0]))
        assert (figure.share, figure.standard_high) == (0, 0)
        assert figure.relative_accuracy is None
        assert figure.few
        assert figure.low == 0
        # Mean count that a count of none does not exclude (Garwood 1936), of 100.
        assert figure.high == pytest.approx(0.03689, abs=1e-5)


class TestFewHits:
    @pytest.mark.parametrize(
        ("count", "low", "high"),
        [(1, 0.025, 5.572), (3, 0.619, 8.767), (10, 4.795, 18.390)],
    )
    def test_equal_weights_are_the_exact_poisson_interval(self, count, low, high):
        """Garwood 1936, Biometrika 28, 437: the exact limits of a Poisson mean."""
        ends = few_hits_interval(np.ones(count), 1.0)
        assert ends == pytest.approx((low, high), abs=6e-4)

    def test_neighbouring_hits_are_one_void(self):
        near, far = (
            CountPlan(
                kind="even",
                seed=0,
                strata=(
                    Stratum(
                        name="face", weight=1, spacing_px=10, fields_to_draw_from=9
                    ),
                ),
                fields=tuple(
                    CountField(
                        stratum=0,
                        points_px=[[0.0, step * at + 1e4 * row] for at in range(25)],
                    )
                    for row in range(2)
                ),
                void_px2=0,
            )
            for step in (10, 30)
        )
        answers = "vvvv" + "s" * 46
        one, four = count_figure(near, answers), count_figure(far, answers)
        assert one.share == four.share
        assert one.few_low < four.few_low
        assert one.few_high > four.few_high

    def test_used_until_twenty_voids_are_hit(self):
        some = count_figure(*plan_of([3, 4, 3, 4, 3, 2]))
        assert (some.hits, some.few) == (19, True)
        assert (some.low, some.high) == (some.few_low, some.few_high)
        plan, answers = plan_of([3, 4, 3, 4, 3, 3])
        more = count_figure(plan, answers)
        assert not more.few
        assert (more.low, more.high) == (more.standard_low, more.standard_high)


class TestLot:
    def test_the_same_seed_draws_the_same(self):
        one, same, other = (
            draw_even(FACE, 200, void_px2=0, seed=seed) for seed in (7, 7, 8)
        )
        for left, right in zip(one.fields, same.fields, strict=True):
            assert np.array_equal(left.points_px, right.points_px)
        assert not np.array_equal(one.fields[0].points_px, other.fields[0].points_px)

    def test_every_point_is_counted_once_and_on_the_face(self):
        face = np.zeros((300, 400), bool)
        face[40:260, 30:200] = True
        face[100:140, 60:90] = False
        plan = draw_even(face, 600, void_px2=0, seed=3)
        px = np.concatenate([field.points_px for field in plan.fields])
        at = np.rint(px).astype(int)
        assert face[at[:, 0], at[:, 1]].all()
        assert len(np.unique(px, axis=0)) == len(px) == plan.point_count == 600
        assert plan.strata[0].fields_to_draw_from >= 2 * len(plan.fields)

    def test_the_mean_over_many_lots_is_the_share(self):
        """Every place has the same chance, along an uneven edge too."""
        y, x = np.mgrid[:240, :320]
        face = np.hypot(y - 120, x - 160) < 118
        voids = face & (x > 250)
        truth = voids.sum() / face.sum()
        shares = []
        for seed in range(150):
            plan = draw_even(face, 100, void_px2=0, seed=seed)
            px = np.concatenate([field.points_px for field in plan.fields])
            at = np.rint(px).astype(int)
            shares.append(voids[at[:, 0], at[:, 1]].mean())
        error = np.std(shares, ddof=1) / math.sqrt(len(shares))
        assert np.mean(shares) == pytest.approx(truth, abs=4 * error)

    def test_by_candidates_is_right_whatever_the_search_missed(self):
        rng = np.random.default_rng(5)
        voids, found = np.zeros((2, 300, 400), bool)
        for at in range(40):
            row, col = rng.integers(5, 290), rng.integers(5, 390)
            voids[row : row + 6, col : col + 6] = True
            if at % 2:
                found[row : row + 6, col : col + 6] = True
        tiles = candidate_tiles(found, 6.0)
        shares = []
        for seed in range(150):
            plan = draw_by_candidates(FACE, tiles, (100, 200), void_px2=36, seed=seed)
            px = np.concatenate([field.points_px for field in plan.fields])
            at = np.clip(np.rint(px).astype(int), 0, (299, 399))
            signs = np.where(voids[at[:, 0], at[:, 1]], "v", "s")
            shares.append(count_figure(plan, "".join(signs)).share)
        error = np.std(shares, ddof=1) / math.sqrt(len(shares))
        assert np.mean(shares) == pytest.approx(voids.mean(), abs=4 * error)
        assert sum(part.weight for part in plan.strata) == pytest.approx(1)

    def test_too_many_points(self):
        with pytest.raises(InputError, match="do not fit on 100 px of face"):
            draw_even(np.ones((10, 10), bool), 500, void_px2=0, seed=1)
        with pytest.raises(InputError, match="Number of points must be between"):
            draw_even(FACE, 49, void_px2=0, seed=1)


class TestNeeded:
    @pytest.mark.parametrize(
        ("relative", "points"), [(0.5, 2546), (0.2, 15_911), (0.1, 63_643)]
    )
    def test_even_grid(self, relative, points):
        """1.96² (1 - 0.006) / (0.006 relative²), by hand."""
        assert points_needed(0.006, relative) == points

    def test_by_candidates_meets_the_precision(self):
        """Put back into the variance of a weighted sum, it gives the half-width."""
        within, elsewhere = points_by_candidates(0.03, 0.18, 0.0006, 0.2)
        share = 0.03 * 0.18 + 0.97 * 0.0006
        variance = 0.03**2 * 0.18 * 0.82 / within
        variance += 0.97**2 * 0.0006 * 0.9994 / elsewhere
        assert 1.96 * math.sqrt(variance) == pytest.approx(0.2 * share, rel=1e-3)
        assert within + elsewhere < points_needed(share, 0.2) / 4

    def test_refusals(self):
        with pytest.raises(InputError, match="Expected share must be more than 0"):
            points_needed(0.0, 0.2)
        with pytest.raises(InputError, match="Precision must be more than 0"):
            points_needed(0.01, float("-1"))


def figure_of(share, low, high):
    return CountFigure(
        share=share, standard_low=low, standard_high=high, relative_accuracy=None,
        few_low=low, few_high=high, hits=50, points=5000, fields=200, few=False,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("count", "verdict"),
    [
        ((0.010, 0.008, 0.012), "agrees"),
        ((0.020, 0.018, 0.022), "count_higher"),
        ((0.004, 0.003, 0.005), "count_lower"),
        ((0.010, 0.000, 0.055), "too_few"),
    ],
)
def test_agreement_with_a_reading(count, verdict):
    reading = Share(value=0.0095, low=0.0085, high=0.0110)
    assert agreement(figure_of(*count), reading) == verdict


class TestRefusals:
    def test_plans(self):
        plan, answers = plan_of([0, 0])
        with pytest.raises(InputError, match="3 signs for 50 points"):
            checked_answers("vsv", plan)
        with pytest.raises(InputError, match="50 signs for 50 points"):
            checked_answers(answers.replace("s", "?"), plan)
        with pytest.raises(InputError, match="other parts: draw it again"):
            CountPlan(
                kind="candidates", seed=0, strata=plan.strata, fields=plan.fields,
                void_px2=0,
            )  # fmt: skip
        short = CountField(stratum=0, points_px=[[0.0, 0.0]])
        with pytest.raises(InputError, match="hold one number of points"):
            CountPlan(
                kind="even", seed=0, strata=plan.strata,
                fields=(*plan.fields, short), void_px2=0,
            )  # fmt: skip

    def test_half_counted_fields_are_left_out(self):
        plan, answers = plan_of([1, 1, 1])
        figure = count_figure(plan, answers[:60].ljust(75, "."))
        assert (figure.fields, figure.points) == (2, 50)
        assert count_figure(plan, "." * 75) is None


def test_t_is_students():
    assert stats.t.ppf(0.975, 3) == pytest.approx(3.182, abs=5e-4)
