"""The curve of the share over the seconds."""

import numpy as np
import pandas as pd
import pytest
import statsmodels.api as sm

from analysis.vibration import dose
from analysis.vibration.dose import Doses, draw_curves, log_seconds


def doses(*, slope=-0.7, pours=30, pieces=4, noise=0.2, seed=3):
    random = np.random.default_rng(seed)
    pour = np.repeat(np.arange(pours), pieces)
    seconds = random.choice([10.0, 20.0, 40.0, 80.0], len(pour))
    u = log_seconds(seconds, seconds)
    y = -1 + slope * u + random.normal(0, 0.3, pours)[pour]
    y += random.normal(0, noise, len(pour))
    return Doses(
        y=y, u=u, pour=pour, covariates=np.empty((len(y), 0)), covariate_sd=np.empty(0)
    )


def test_bent_part_has_the_squared_exponential_covariance():
    # Rasmussen and Williams, Gaussian Processes for Machine Learning, 2006, eq. 2.31
    u, at = np.log([5.0, 10.0, 20.0]), np.log([7.0, 60.0])
    first, second = dose._features(u, at)

    gap = (u[:, None] - at) / dose.BEND_LENGTH
    assert first @ second.T == pytest.approx(np.exp(-0.5 * gap**2), abs=2e-3)


def test_straight_curve_agrees_with_a_mixed_model():
    # statsmodels MixedLM: random intercept per pour, REML
    data = doses()
    frame = pd.DataFrame({"y": data.y, "u": data.u, "pour": data.pour})
    mixed = sm.MixedLM.from_formula("y ~ u", frame, groups="pour").fit()
    span = np.log([10.0, 80.0])
    gained = np.diff(draw_curves(data, span).curve, axis=1)[:, 0] / np.diff(span)

    assert np.mean(gained) == pytest.approx(mixed.params["u"], abs=mixed.bse["u"])
    assert np.std(gained) == pytest.approx(mixed.bse["u"], rel=0.5)


def test_curve_bends_back_where_the_pieces_do():
    data = doses(slope=0.0)
    bent = Doses(
        y=data.y + 1.5 * (data.u - np.log(30.0)) ** 2,
        u=data.u,
        pour=data.pour,
        covariates=data.covariates,
        covariate_sd=data.covariate_sd,
    )
    low, middle, high = np.median(
        draw_curves(bent, np.log([10.0, 30.0, 80.0])).curve, axis=0
    )

    assert low > middle + 0.5
    assert high > middle + 0.5


def test_interval_widens_beyond_what_was_tried():
    data = doses(pours=10)
    found = draw_curves(data, np.log([30.0, 80.0, 400.0]))
    spread = (found.level[:, None] + found.curve).std(axis=0)

    assert spread[0] < spread[1] < spread[2]


def test_what_always_went_along_stays_open():
    data = doses(slope=0.0)
    along = (data.u > np.median(data.u)).astype(float)[:, None]
    adjusted = Doses(
        y=data.y - along[:, 0],
        u=data.u,
        pour=data.pour,
        covariates=along,
        covariate_sd=np.array([0.6]),
    )
    at = np.log([10.0, 80.0])
    alone = np.diff(draw_curves(data, at).curve, axis=1).std()

    assert np.diff(draw_curves(adjusted, at).curve, axis=1).std() > 1.5 * alone


def test_draws_come_again():
    first, second = (
        draw_curves(doses(pours=4), np.log([20.0]), draws=200).curve for _ in range(2)
    )

    assert np.array_equal(first, second)


def test_zero_seconds_have_a_place():
    found = log_seconds(np.array([0.0, 10.0, 20.0]), np.array([0.0, 10.0, 20.0]))

    assert np.isfinite(found).all()
    assert (np.diff(found) > 0).all()
    assert log_seconds(np.zeros(2), np.zeros(2)).tolist() == [0.0, 0.0]
