"""Centre lines and limits of control charts, as published."""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.distributions import chi2_ppf

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

# Ratio of the mean range of two normal values to their standard deviation, and
# upper limit of that range over its mean, to the digits of the usual tables.
D2_OF_TWO = 1.128
D4_OF_TWO = 3.267
SIGMAS = 3.0
# Weight and width giving, with known limits, an in-control run length of about
# 500: Lucas & Saccucci, Technometrics 32 (1990) 1-12; checked by Markov chain.
EWMA_WEIGHT = 0.2
EWMA_SIGMAS = 2.962


@dataclass(frozen=True, slots=True, kw_only=True)
class Individuals:
    """Limits of individuals and of their moving range, in the values' own unit.

    Attributes
    ----------
    centre, sigma : float
        Mean, and standard deviation from the mean moving range.
    lower, upper : float
        Limits of the values.
    range_centre, range_upper : float
        Mean moving range and its upper limit.
    """

    centre: float
    sigma: float
    lower: float
    upper: float
    range_centre: float
    range_upper: float


def individuals(values: ArrayLike) -> Individuals:
    """Limits from single values in time order.

    Parameters
    ----------
    values : array_like, (n,)
        Finite, n of 2 or more.

    Returns
    -------
    Individuals
        Mean plus and minus three standard deviations from the moving range.

    Notes
    -----
    NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.

    Examples
    --------
    >>> limits = individuals([49.6, 47.6, 49.9, 51.3, 47.8])
    >>> round(limits.centre, 2), round(limits.range_centre, 3)
    (49.24, 2.3)
    """
    series = np.asarray(values, dtype=np.float64)
    centre = float(series.mean())
    mean_range = float(np.abs(np.diff(series)).mean())
    sigma = mean_range / D2_OF_TWO
    return Individuals(
        centre=centre,
        sigma=sigma,
        lower=centre - SIGMAS * sigma,
        upper=centre + SIGMAS * sigma,
        range_centre=mean_range,
        range_upper=D4_OF_TWO * mean_range,
    )


def ewma(values: ArrayLike, start: float, weight: float) -> NDArray[np.float64]:
    """Exponentially weighted mean after each value.

    Parameters
    ----------
    values : array_like, (n,)
        In time order.
    start : float
        Mean before the first value.
    weight : float
        Of the newest value, more than 0 to 1.

    Returns
    -------
    ndarray of float64, (n,)
        Same unit as the values.

    Notes
    -----
    NIST/SEMATECH e-Handbook, 6.3.2.4.

    Examples
    --------
    >>> ewma([52.0, 47.0], start=50.0, weight=0.3).round(2).tolist()
    [50.6, 49.52]
    """
    series = np.asarray(values, dtype=np.float64)
    # A loop, which costs a hundredth of what loading SciPy's filters does.
    smoothed = itertools.accumulate(
        (weight * series).tolist(),
        lambda before, newest: newest + (1 - weight) * before,
        initial=float(start),
    )
    return np.array(list(smoothed)[1:], dtype=np.float64)


def ewma_half_width(
    n: int,
    sigma: float,
    *,
    weight: float,
    sigmas: float,
    asymptotic: bool = False,
    centre_from: int | None = None,
) -> NDArray[np.float64]:
    """Distance of the EWMA limits from the centre after 1 to n values.

    Parameters
    ----------
    n : int
        Values.
    sigma : float
        Standard deviation of a value.
    weight, sigmas : float
        Weight of the newest value; width in standard deviations of the mean.
    asymptotic : bool
        Use the width of a long series from the start.
    centre_from : int, optional
        Values the centre was estimated from; widens by the centre's own error.
        None takes the centre as known.

    Returns
    -------
    ndarray of float64, (n,)
        Same unit as `sigma`.

    Examples
    --------
    >>> width = ewma_half_width(
    ...     2, 2.0539, weight=0.3, sigmas=3.0, asymptotic=True)
    >>> [f"{w:.4f}" for w in width]
    ['2.5884', '2.5884']
    """
    steps = np.arange(1, n + 1)
    # Variance of a weighted mean whose weights fall by (1 - w) a step: w / (2 - w) in
    # the long run, less by what the first steps have not yet gathered.
    share = np.ones(n) if asymptotic else 1.0 - (1.0 - weight) ** (2 * steps)
    variance = weight / (2.0 - weight) * share
    if centre_from is not None:
        variance = variance + 1.0 / centre_from
    width: NDArray[np.float64] = sigmas * sigma * np.sqrt(variance)
    return width


@dataclass(frozen=True, slots=True, kw_only=True)
class Rates:
    """Limits of counts per area or of shares of pieces.

    Attributes
    ----------
    centre : float
        Mean rate.
    lower, upper : ndarray of float64, (n,)
        Limits for each size.
    spread_factor : float
        Times the limits were widened for over-dispersion; 1 is not at all.
    """

    centre: float
    lower: NDArray[np.float64]
    upper: NDArray[np.float64]
    spread_factor: float


def counts_per_area(
    counts: ArrayLike,
    areas: ArrayLike,
    *,
    baseline: NDArray[np.bool_] | None = None,
    widen: bool = False,
) -> Rates:
    """Limits of a u chart; with equal areas of 1, of a c chart.

    Parameters
    ----------
    counts : array_like, (n,)
        0 or more.
    areas : array_like, (n,)
        More than 0; the rates are per this unit.
    baseline : ndarray of bool, (n,), optional
        Where the centre comes from; None takes all.
    widen : bool
        Widen the limits where the counts spread more than Poisson counts would.

    Returns
    -------
    Rates
        Centre and limits; lower ones not below 0.

    Notes
    -----
    c and u chart: NIST/SEMATECH e-Handbook, 6.3.3.1. Widening by the standard
    deviation of the standardised counts, from their moving range: D. B. Laney,
    Improved control charts for attributes, Quality Engineering 14 (2002) 531-537.
    It is done only where a chi-squared test of dispersion asks for it at 5 %.

    Examples
    --------
    >>> rates = counts_per_area([16, 14, 18], [1, 1, 1])
    >>> rates.centre, rates.upper[0].item(), rates.lower[0].item()
    (16.0, 28.0, 4.0)
    """
    found = np.asarray(counts, dtype=np.float64)
    size = np.asarray(areas, dtype=np.float64)
    base = np.ones(len(found), dtype=bool) if baseline is None else baseline
    centre = float(found[base].sum() / size[base].sum())
    sigma = np.sqrt(centre / size)
    factor = 1.0
    if widen and centre > 0 and base.sum() > 1:
        standard = ((found / size - centre) / sigma)[base]
        ceiling = float(chi2_ppf(0.95, len(standard) - 1))
        if float((standard**2).sum()) > ceiling:
            factor = max(1.0, float(np.abs(np.diff(standard)).mean()) / D2_OF_TWO)
    width = SIGMAS * factor * sigma
    return Rates(
        centre=centre,
        lower=np.maximum(centre - width, 0.0),
        upper=centre + width,
        spread_factor=factor,
    )
