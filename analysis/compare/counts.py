"""Voids per square metre: a count model over-dispersed between pours."""

from __future__ import annotations

import warnings
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from analysis.compare.design import codes
from analysis.distributions import t_ppf

if TYPE_CHECKING:
    from numpy.typing import NDArray

MOST_COLUMNS = 40


class CountRatio(NamedTuple):
    """Log of the ratio of voids per area, with its 95 % limits and the dispersion."""

    log_ratio: float
    low: float
    high: float
    dispersion: float


def count_ratio(
    count: NDArray[np.float64],
    area: NDArray[np.float64],
    x: NDArray[np.float64],
    cluster: NDArray[np.int64],
    stratum: NDArray[np.int64],
) -> CountRatio | None:
    """Estimate how many times as many voids per area the first level has.

    Poisson regression of each pour's total on the level, its area as exposure, the
    dispersion taken from Pearson's chi-square between pours (never below 1) and
    Student's t for the limits. Where pours hold both levels they are compared inside
    each.

    Parameters
    ----------
    count, area : ndarray of float64, (n,)
        Voids and face of each piece.
    x : ndarray of float64, (n,)
        1 for the first level.
    cluster, stratum : ndarray of int64, (n,)
        Pour and stratum.

    Returns
    -------
    CountRatio or None
        None without a void on one side, with too few pours, or too many strata.

    Examples
    --------
    >>> x = np.repeat([1.0, 0.0], 4)
    >>> count = np.array([5, 6, 4, 5, 10, 12, 8, 10.0])
    >>> rows = np.arange(8)
    >>> found = count_ratio(count, np.ones(8), x, rows, rows * 0)
    >>> round(float(np.exp(found.log_ratio)), 3)
    0.5
    """
    cell = codes(stratum, x.astype(np.int64), cluster)
    total = np.bincount(cell, count)
    exposure = np.bincount(cell, area)
    first = np.zeros(len(total), dtype=np.int64)
    first[cell] = np.arange(len(x))
    side, home, layer = x[first], cluster[first], stratum[first]
    if not len(total) or min(total[side > 0].sum(), total[side == 0].sum()) <= 0:
        return None
    sides = np.bincount(codes(home), side) / np.bincount(codes(home))
    mixed = (sides > 0) & (sides < 1)
    # A mixed pour gets a level of its own, numbered past the strata's.
    block = np.where(mixed[codes(home)], home + int(layer.max()) + 1, layer)
    names = np.unique(block)
    if len(names) > MOST_COLUMNS or len(total) - len(names) < 2:  # noqa: PLR2004
        return None
    dummies = (block[:, None] == names[None, :]).astype(np.float64)
    design = np.column_stack([side, dummies])
    # A block without a void says nothing of the ratio, and its own level would run off
    # to minus infinity.
    filled = np.bincount(codes(block), total)[codes(block)] > 0
    design, total, exposure = design[filled], total[filled], exposure[filled]
    design = design[:, np.abs(design).sum(axis=0) > 0]
    df = len(total) - design.shape[1]
    if df < 1 or np.linalg.matrix_rank(design) < design.shape[1]:
        return None
    # Read only here: the library takes a second to load, and most answers need none.
    import statsmodels.api as sm  # noqa: PLC0415
    from statsmodels.tools.sm_exceptions import PerfectSeparationWarning  # noqa: PLC0415

    model = sm.GLM(total, design, family=sm.families.Poisson(), exposure=exposure)
    with warnings.catch_warnings():
        # counts that fit perfectly are no harm: the dispersion stays at 1 or more
        warnings.simplefilter("ignore", PerfectSeparationWarning)
        fitted = model.fit()
    dispersion = max(float(fitted.pearson_chi2) / df, 1.0)
    error = float(fitted.bse[0]) * dispersion**0.5
    reach = float(t_ppf(0.975, df)) * error
    ratio = float(fitted.params[0])
    return CountRatio(ratio, ratio - reach, ratio + reach, dispersion)
