"""The sampling interval against closed forms, SciPy and simulation."""

import numpy as np
import pytest
from scipy import ndimage, stats

from analysis.voids.sampling import (
    gamma_ends,
    sampled_interval,
    tile_sums,
    tile_variance,
)


class TestTiles:
    @pytest.mark.parametrize("shape", [(80, 80), (81, 200), (1, 50), (7, 3), (400, 90)])
    def test_every_pixel_once(self, shape):
        rng = np.random.default_rng(1)
        mask, face = rng.random((2, *shape)) < np.array([0.1, 0.7])[:, None, None]
        voids, faces = tile_sums(mask, face, 8)
        assert faces.sum() == face.sum()
        assert voids.sum() == (mask & face).sum()
        assert (faces > 0).all()

    def test_about_eight_along_the_longer_side(self):
        whole = np.ones((300, 800), bool)
        assert len(tile_sums(whole, whole, 8)[1]) == 8 * 3

    def test_voids_stay_in_their_tile(self):
        mask = np.zeros((80, 80), bool)
        mask[25, 47] = True
        voids, _ = tile_sums(mask, np.ones_like(mask), 8)
        assert np.flatnonzero(voids).tolist() == [2 * 8 + 4]

    def test_tiles_without_face_are_left_out(self):
        face = np.zeros((80, 80), bool)
        face[:40] = True
        assert len(tile_sums(face, face, 8)[1]) == 32


def strewn(rng, count, side=400):
    """A square face with about `count` square voids of uneven sizes, as mask, areas."""
    mask = np.zeros((side, side), bool)
    for row, col in rng.integers(0, side - 12, (rng.poisson(count), 2)):
        size = int(np.clip(4 * np.exp(0.5 * rng.standard_normal()), 2, 12))
        mask[row : row + size, col : col + size] = True
    labels, number = ndimage.label(mask)
    return mask, np.bincount(labels.ravel(), minlength=number + 1)[1:].astype(float)


class TestSpreadOfTiles:
    @pytest.mark.parametrize("tiles", [16, 64])
    def test_students_interval_of_a_mean(self, tiles):
        """Closed form: equal tiles."""
        voids = np.random.default_rng(3).normal(50, 10, tiles)
        reach = stats.t.ppf(0.975, tiles - 1) * voids.std(ddof=1) / np.sqrt(tiles)
        found = 1.96 * np.sqrt(tile_variance(voids, np.full(tiles, 1000.0)))
        assert found == pytest.approx(reach / voids.mean(), rel=1e-3)

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
        ).standard_error
        share = voids.sum() / faces.sum()
        found = np.sqrt(tile_variance(voids, faces)) * share
        assert found == pytest.approx(theirs, rel=0.06)


class TestEnds:
    @pytest.mark.parametrize("count", [1, 5, 40])
    def test_garwoods_for_a_count(self, count):
        """Voids of one size are a count: exact limits of Garwood (1936)."""
        exact = stats.chi2.ppf([0.025, 0.975], [2 * count, 2 * count + 2]) / 2
        assert gamma_ends(0.01, 1 / count) == pytest.approx(0.01 * exact / count)

    def test_never_above_the_whole(self):
        assert gamma_ends(0.9, 2.0)[1] == 1.0


class TestInterval:
    def test_holds_the_share_and_keeps_its_order(self):
        rng = np.random.default_rng(2)
        for count in (1, 3, 10, 60):
            mask, areas = strewn(rng, count)
            low, high = sampled_interval(mask, np.ones_like(mask), areas)
            assert 0 <= low <= mask.mean() <= high <= 1

    def test_nothing_found(self):
        none = np.zeros((40, 40), bool)
        assert sampled_interval(none, ~none, np.empty(0)) == (0.0, 0.0)

    def test_binomial_closed_form(self):
        """Single-pixel voids at random: variance p (1 - p) / N."""
        mask = np.random.default_rng(6).random((400, 400)) < 0.02
        areas = np.ones(np.count_nonzero(mask))
        low, high = sampled_interval(mask, np.ones_like(mask), areas)
        reach = 1.96 * np.sqrt(0.02 * 0.98 / mask.size)
        assert (high - low) / 2 == pytest.approx(reach, rel=0.4)

    @pytest.mark.parametrize("count", [5, 30])
    def test_coverage_for_scattered_voids(self, count):
        """Poisson numbers of voids of uneven sizes; 95 in 100 give or take chance."""
        rng = np.random.default_rng(7)
        faces = [strewn(rng, count) for _ in range(150)]
        truth = np.mean([mask.mean() for mask, _ in faces])
        hits = 0
        for mask, areas in faces:
            low, high = sampled_interval(mask, np.ones_like(mask), areas)
            hits += low <= truth <= high
        assert 0.89 <= hits / 150 <= 0.995

    def test_clouds_of_voids_are_wider_than_voids_spread_out(self):
        rng = np.random.default_rng(9)
        even, clouds = np.zeros((2, 400, 400), bool)
        at = rng.integers(0, 396, (48, 2))
        near = np.repeat(rng.integers(40, 350, (8, 2)), 6, axis=0)
        near = near + rng.integers(-30, 30, (48, 2))
        for mask, places in ((even, at), (clouds, near)):
            for row, col in places:
                mask[row : row + 4, col : col + 4] = True
        sizes = np.full(48, 16.0)
        whole = np.ones_like(even)
        narrow, wide = (sampled_interval(m, whole, sizes) for m in (even, clouds))
        assert wide[1] / wide[0] > 1.3 * narrow[1] / narrow[0]
