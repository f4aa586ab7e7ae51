"""The sampling interval against closed forms, SciPy and simulation."""

import numpy as np
import pytest
from scipy import stats

from analysis.voids.sampling import sampled_interval, tile_sums


class TestTiles:
    @pytest.mark.parametrize("shape", [(80, 80), (81, 200), (1, 50), (7, 3), (400, 90)])
    def test_every_pixel_once(self, shape):
        rng = np.random.default_rng(1)
        mask, face = rng.random((2, *shape)) < np.array([0.1, 0.7])[:, None, None]
        voids, faces = tile_sums(mask, face)
        assert faces.sum() == face.sum()
        assert voids.sum() == (mask & face).sum()
        assert (faces > 0).all()

    def test_about_eight_along_the_longer_side(self):
        whole = np.ones((300, 800), bool)
        assert len(tile_sums(whole, whole)[1]) == 8 * 3

    def test_voids_stay_in_their_tile(self):
        mask = np.zeros((80, 80), bool)
        mask[25, 47] = True
        voids, _ = tile_sums(mask, np.ones_like(mask))
        assert np.flatnonzero(voids).tolist() == [2 * 8 + 4]

    def test_tiles_without_face_are_left_out(self):
        face = np.zeros((80, 80), bool)
        face[:40] = True
        assert len(tile_sums(face, face)[1]) == 32


class TestInterval:
    def test_holds_the_share_and_keeps_its_order(self):
        rng = np.random.default_rng(2)
        for _ in range(20):
            voids = rng.poisson(1.5, 40) * 10.0
            faces = rng.uniform(500, 1000, 40)
            low, high = sampled_interval(voids, faces)
            assert 0 <= low <= voids.sum() / faces.sum() <= high <= 1

    def test_same_every_time(self):
        voids, faces = np.arange(20.0), np.full(20, 500.0)
        assert sampled_interval(voids, faces) == sampled_interval(voids, faces)

    def test_no_spread_no_width(self):
        low, high = sampled_interval(np.full(30, 5.0), np.full(30, 100.0))
        assert (low, high) == pytest.approx((0.05, 0.05))

    def test_one_tile_tells_nothing(self):
        assert sampled_interval(np.array([5.0]), np.array([100.0])) == (0, 1)

    @pytest.mark.parametrize("tiles", [16, 64])
    def test_near_students_interval_of_a_mean(self, tiles):
        """Closed form: equal tiles, near-normal sums."""
        voids = np.random.default_rng(3).normal(50, 10, tiles)
        faces = np.full(tiles, 1000.0)
        reach = stats.t.ppf(0.975, tiles - 1) * voids.std() / np.sqrt(tiles) / 1000
        low, high = sampled_interval(voids, faces)
        centre = voids.mean() / 1000
        assert (low, high) == pytest.approx((centre - reach, centre + reach), rel=0.02)

    def test_against_scipy_bootstrap(self):
        rng = np.random.default_rng(4)
        faces = rng.uniform(600, 1000, 64)
        voids = rng.gamma(2, 10, 64) * faces / 1000
        theirs = stats.bootstrap(
            (voids, faces),
            lambda v, f, axis: v.sum(axis=axis) / f.sum(axis=axis),
            paired=True,
            method="percentile",
            n_resamples=9999,
            rng=5,
        ).confidence_interval
        low, high = sampled_interval(voids, faces)
        wide = theirs.high - theirs.low
        assert low == pytest.approx(theirs.low, abs=0.06 * wide)
        assert high == pytest.approx(theirs.high, abs=0.06 * wide)

    def test_binomial_closed_form(self):
        """Single-pixel voids at random: variance p (1 - p) / N."""
        mask = np.random.default_rng(6).random((400, 400)) < 0.02
        low, high = sampled_interval(*tile_sums(mask, np.ones_like(mask)))
        reach = 1.96 * np.sqrt(0.02 * 0.98 / mask.size)
        assert (high - low) / 2 == pytest.approx(reach, rel=0.3)

    def test_coverage_for_scattered_voids(self):
        """Poisson numbers of log-normal voids; 95 in 100 give or take chance."""
        rng = np.random.default_rng(7)
        area = np.exp(2 * 0.6**2) * 20  # mean of squared log-normal diameters
        truth = 2.0 * area / 2500
        hits = 0
        for _ in range(200):
            count = rng.poisson(2.0, 64)
            size = 20 * np.exp(0.6 * rng.standard_normal(count.sum())) ** 2
            owner = np.repeat(np.arange(64), count)
            voids = np.bincount(owner, size, 64)
            low, high = sampled_interval(voids, np.full(64, 2500.0))
            hits += low <= truth <= high
        assert 0.89 <= hits / 200 <= 0.99


class TestFewVoids:
    def test_as_wide_as_garwoods_for_a_count(self):
        """Voids of one size are a count: exact limits of Garwood (1936)."""
        tiles = np.zeros(64)
        tiles[[3, 17, 30, 41, 60]] = 10.0
        faces = np.full(64, 1000.0)
        low, high = sampled_interval(tiles, faces, np.full(5, 10.0))
        exact_low, exact_high = stats.chi2.ppf([0.025, 0.975], [10, 12]) / 2
        share = tiles.sum() / faces.sum()
        assert low <= share * exact_low / 5 * 1.001
        assert high >= share * exact_high / 5 * 0.999

    def test_never_narrower_than_without(self):
        rng = np.random.default_rng(9)
        areas = rng.gamma(2, 20, 40)
        voids = np.bincount(rng.integers(0, 64, 40), areas, 64)
        faces = np.full(64, 2500.0)
        plain, wide = (
            sampled_interval(voids, faces),
            sampled_interval(voids, faces, areas),
        )
        assert wide[0] <= plain[0]
        assert wide[1] >= plain[1]
