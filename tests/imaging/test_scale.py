import math

import numpy as np
import pytest

from analysis.errors import InputError, ScaleError
from analysis.imaging.scale import (
    CLICK_SD_PX,
    TAP_SD_DISPLAY_PX,
    scale_from_points,
    scale_typed,
)
from analysis.model.photo import Scale


class TestTwoPoints:
    @pytest.mark.parametrize(
        ("ends", "distance_mm", "mm_per_px"),
        [
            ([[0, 0], [0, 500]], 100, 0.2),
            ([[10, 20], [310, 420]], 100.0, 0.2),
            ([[310, 420], [10, 20]], 100.0, 0.2),
            ([[-100, 0], [100, 0]], 30, 0.15),
        ],
    )
    def test_distance_over_length(self, ends, distance_mm, mm_per_px):
        scale = scale_from_points(ends, distance_mm)
        assert scale.mm_per_px == pytest.approx(mm_per_px, rel=1e-12)
        assert scale.method == "two_points"

    def test_how_sure_it_is_against_clicks_thrown_about(self):
        rng = np.random.default_rng(3)
        ends = np.array([[100.0, 100.0], [100.0, 400.0]])
        clicks = ends + rng.normal(0, CLICK_SD_PX, (20_000, 2, 2))
        found = 60.0 / np.hypot(*(clicks[:, 1] - clicks[:, 0]).T)
        scale = scale_from_points(ends, 60.0)
        assert scale.relative_uncertainty == pytest.approx(
            found.std() / found.mean(), rel=0.03
        )

    def test_farther_marks_are_surer(self):
        near, far = (
            scale_from_points([[0, 0], [0, length]], 50).relative_uncertainty
            for length in (50, 500)
        )
        assert near == pytest.approx(10 * far)

    @pytest.mark.parametrize("ends", [[[5, 5], [5, 5]], [[0, 0], [0, 19.9]]])
    def test_too_close_together(self, ends):
        with pytest.raises(ScaleError, match="px apart, at least 20 are needed"):
            scale_from_points(ends, 10)

    @pytest.mark.parametrize("distance", [0, -5, math.nan, math.inf, "100", None, True])
    def test_impossible_distances(self, distance):
        with pytest.raises(ScaleError, match=r"^Distance must be"):
            scale_from_points([[0, 0], [0, 500]], distance)

    @pytest.mark.parametrize(
        "ends", [[[0, 0]], [[0, 0, 0], [1, 1, 1]], [[0, math.nan], [0, 500]], [], "ab"]
    )
    def test_impossible_points(self, ends):
        with pytest.raises(ScaleError, match=r"^Scale "):
            scale_from_points(ends, 10)

    def test_three_points_are_not_two(self):
        with pytest.raises(ScaleError, match="exactly two points, 3 were given"):
            scale_from_points([[0, 0], [0, 500], [500, 500]], 10)

    def test_a_distance_in_the_wrong_unit_shows(self):
        with pytest.raises(
            ScaleError, match="500 mm per px is too coarse for any void"
        ):
            scale_from_points([[0, 0], [0, 200]], 100_000)


class TestTyped:
    def test_kept_as_typed(self):
        scale = scale_typed(0.25)
        assert (scale.mm_per_px, scale.method) == (0.25, "typed")

    @pytest.mark.parametrize("given", [0, -0.1, math.nan, -math.inf, "0.2", None])
    def test_impossible(self, given):
        with pytest.raises(ScaleError, match=r"^Scale must be"):
            scale_typed(given)

    def test_too_coarse(self):
        with pytest.raises(ScaleError, match="too coarse for any void"):
            scale_typed(101)

    def test_too_fine(self):
        with pytest.raises(ScaleError, match="finer than any lens: check the distance"):
            scale_typed(1e-5)


class TestScale:
    def test_unknown_way(self):
        with pytest.raises(
            ScaleError, match="Kind of scale must be one of typed, two_"
        ):
            Scale(mm_per_px=1, relative_uncertainty=0, method="guessed")

    @pytest.mark.parametrize("uncertainty", [-0.01, 0.51, math.nan])
    def test_impossible_uncertainty(self, uncertainty):
        with pytest.raises(ScaleError, match="Uncertainty of the scale must be"):
            Scale(mm_per_px=1, relative_uncertainty=uncertainty, method="typed")


def test_a_tap_is_as_good_as_the_photo_was_large():
    ends = [[0, 0], [0, 1000]]
    typed = scale_from_points(ends, 200).relative_uncertainty
    near = scale_from_points(ends, 200, zooms=(2.0, 2.0)).relative_uncertainty
    small = scale_from_points(ends, 200, zooms=(0.2, 0.2)).relative_uncertainty

    assert typed < near < small
    # Both ends: sqrt(2) (1.5^2 + (2.5 / 0.2)^2)^(1/2) / 1000.
    assert small == pytest.approx(math.sqrt(2) * math.hypot(1.5, 12.5) / 1000)
    # What was seen once, 1.8 % off, lies within two of it.
    assert 2 * small > 0.018


def test_drawn_taps_scatter_as_told():
    rng = np.random.default_rng(8)
    ends = np.array([[0.0, 0.0], [0.0, 800.0]])
    sd = math.hypot(CLICK_SD_PX, TAP_SD_DISPLAY_PX / 0.3)
    taps = ends + rng.normal(0, sd, (20_000, 2, 2))
    lengths = np.linalg.norm(taps[:, 0] - taps[:, 1], axis=1)
    told = scale_from_points(ends, 60.0, zooms=(0.3, 0.3)).relative_uncertainty
    assert np.std(60.0 / lengths) / (60.0 / 800.0) == pytest.approx(told, rel=0.05)


@pytest.mark.parametrize("zoom", [0.0, -1.0, float("nan")])
def test_a_zoom_that_cannot_be_is_refused(zoom):
    with pytest.raises(InputError, match="Zoom"):
        scale_from_points([[0, 0], [0, 500]], 10, zooms=(zoom,))
