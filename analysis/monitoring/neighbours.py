"""Whether neighbouring pours are alike, and whether a baseline leans.

Limits from moving ranges suppose that each pour stands for itself. Where a mix, a bag
of cement or the weather lasts over several pours, neighbours are alike, ranges come out
small and steady pours are marked.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import scipy

from analysis.distributions import normal_sf
from analysis.model.notes import note
from analysis.monitoring.limits import EWMA_WEIGHT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.notes import Note

FEWEST = 12
ALPHA = 0.05
MOST = 0.8
# By simulation of independent values: what `carry_over` reaches in 5 of 100 series,
# times the root of their length; 12 to 60 values.
CHANCE_REACHES = 2.7


def carry_over(values: NDArray[np.float64]) -> float:
    """Return how much of a pour's difference carries over to the next, 0..0.8.

    From the squares of differences one and two pours apart, which a single step of the
    level moves little: in a first-order series their ratio is 1 plus the carry-over.

    Parameters
    ----------
    values : ndarray of float64, (n,)
        Logs of shares in time order.

    Returns
    -------
    float
        0 where chance would do as much in one of twenty series.

    Examples
    --------
    >>> carry_over(np.tile([0.0, 0.1, -0.1, 0.05], 8))
    0.0
    >>> round(carry_over(np.sin(np.arange(40) / 2)), 1)
    0.8
    """
    if len(values) < FEWEST:
        return 0.0
    one = float((np.diff(values) ** 2).mean())
    two = float(((values[2:] - values[:-2]) ** 2).mean())
    found = two / one - 1 if one > 0 else 0.0
    if found < CHANCE_REACHES / len(values) ** 0.5 or lag_one(values)[1] >= ALPHA:
        return 0.0
    return min(found, MOST)


def lag_one(values: NDArray[np.float64]) -> tuple[float, float]:
    """Return the lag-one autocorrelation and one-sided p of its being chance.

    The estimate is the usual one; its mean and variance for independent values are
    those of Moran (1948, Biometrika 35:255).

    Examples
    --------
    >>> r, p = lag_one(np.array([1.0, 2, 3, 4, 5, 4, 3, 2, 1, 2, 3, 4]))
    >>> r > 0.5, p < 0.05
    (True, True)
    """
    n = len(values)
    rest = values - values.mean()
    total = float(rest @ rest)
    if n < FEWEST or total <= 0:
        return 0.0, 1.0
    r = float(rest[1:] @ rest[:-1]) / total
    variance = (n - 2) ** 2 / (n**2 * (n - 1))
    return r, float(normal_sf((r + 1 / n) / variance**0.5))


def widening(carried: float) -> tuple[float, float]:
    """Return how much limits widen: those of single pours, and of the smoothed mean.

    Standard results for a first-order series: moving ranges give the root of 1 - c of
    its spread; a mean smoothed with weight w spreads (1 + c (1 - w)) / (1 - c (1 - w))
    times as much in square as one of independent values.

    Examples
    --------
    >>> widening(0.0)
    (1.0, 1.0)
    >>> [round(x, 2) for x in widening(0.5)]
    [1.41, 2.16]
    """
    # Neighbours alike differ by less: E (x[t] - x[t - 1])^2 is 2 (1 - c) variances.
    single = 1 / (1 - carried) ** 0.5
    kept = carried * (1 - EWMA_WEIGHT)
    return single, single * ((1 + kept) / (1 - kept)) ** 0.5


def lean(values: NDArray[np.float64]) -> tuple[float, float]:
    """Return Kendall's tau of values against their order, and its two-sided p.

    Mann (1945, Econometrica 13:245): a trend in the baseline itself.

    Examples
    --------
    >>> tau, p = lean(np.arange(10.0))
    >>> round(tau, 6), p < 0.01
    (1.0, True)
    """
    found = scipy.stats.kendalltau(np.arange(len(values)), values)
    return float(found.statistic), float(found.pvalue)


def warmth(
    values: NDArray[np.float64], air_c: NDArray[np.float64]
) -> tuple[float, float] | None:
    """Return the ratio per 10 degrees C and its two-sided p; None with few pours.

    Examples
    --------
    >>> air = np.linspace(5, 25, 20)
    >>> ratio, p = warmth(0.05 * air + 0.01 * (air % 3), air)
    >>> 1.5 < ratio < 1.8, p < 0.01
    (True, True)
    """
    known = np.isfinite(air_c)
    if known.sum() < FEWEST or np.ptp(air_c[known]) < 5:  # noqa: PLR2004
        return None
    fit = scipy.stats.linregress(air_c[known], values[known])
    return float(np.exp(10 * fit.slope)), float(fit.pvalue)


def notes(
    values: NDArray[np.float64],
    baseline: NDArray[np.float64],
    air_c: NDArray[np.float64] | None,
) -> list[Note]:
    """Note what limits a chart rests on badly.

    Examples
    --------
    >>> notes(np.tile([0.0, 0.1, -0.1, 0.05], 8), np.zeros(0), None)
    []
    """
    said = []
    r, p = lag_one(values)
    carried = carry_over(baseline)
    if p < ALPHA or carried > 0:
        said.append(note("neighbours_alike", correlation=r, widened=carried > 0))
    if len(baseline) >= FEWEST and carried == 0:
        tau, p = lean(baseline)
        if p < ALPHA:
            said.append(note("baseline_leans", tau=tau))
    warm = None if air_c is None else warmth(values, air_c)
    if warm is not None and warm[1] < ALPHA / 5:
        said.append(note("goes_with_air", ratio=warm[0]))
    return said
