"""Distributions that nearly every answer asks for, without all of `scipy.stats`.

`scipy.stats` takes half a second of the processor to load, more than many an answer.
These are the same functions of `scipy.special` that it calls, to the last bit.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray


def t_ppf(chance: ArrayLike, df: ArrayLike) -> NDArray[np.float64]:
    """Return the quantile of Student's t.

    Parameters
    ----------
    chance : array_like
        More than 0, up to 1.
    df : array_like
        Degrees of freedom, more than 0.

    Examples
    --------
    >>> round(float(t_ppf(0.975, 34)), 6)
    2.032245
    """
    return np.asarray(special.stdtrit(df, chance))


def t_sf(t: ArrayLike, df: ArrayLike) -> NDArray[np.float64]:
    """Return the chance of more than t by Student's t.

    Examples
    --------
    >>> round(float(t_sf(2.032245, 34)), 6)
    0.025
    """
    # By symmetry the lower tail at -t: 1 less the one at t would lose its digits.
    return np.asarray(special.stdtr(df, -np.asarray(t)))


def f_sf(f: ArrayLike, df: ArrayLike, rest: ArrayLike) -> NDArray[np.float64]:
    """Return the chance of more than f by Fisher's F; 1 for f below 0.

    Examples
    --------
    >>> round(float(f_sf(4.964603, 1, 10)), 6)
    0.05
    """
    return np.asarray(special.fdtrc(df, rest, np.maximum(f, 0.0)))


def normal_ppf(chance: ArrayLike) -> NDArray[np.float64]:
    """Return the quantile of the standard normal distribution.

    Examples
    --------
    >>> round(float(normal_ppf(0.975)), 6)
    1.959964
    """
    return np.asarray(special.ndtri(chance))


def normal_cdf(z: ArrayLike) -> NDArray[np.float64]:
    """Return the chance of z or less by the standard normal distribution.

    Examples
    --------
    >>> round(float(normal_cdf(1.959964)), 6)
    0.975
    """
    return np.asarray(special.ndtr(z))


def normal_sf(z: ArrayLike) -> NDArray[np.float64]:
    """Return the chance of more than z by the standard normal distribution.

    Examples
    --------
    >>> round(float(normal_sf(1.959964)), 6)
    0.025
    """
    return normal_cdf(-np.asarray(z))


def normal_isf(chance: ArrayLike) -> NDArray[np.float64]:
    """Return what the standard normal distribution exceeds with a chance.

    Examples
    --------
    >>> round(float(normal_isf(0.025)), 6)
    1.959964
    """
    return -normal_ppf(chance)


def chi2_ppf(chance: ArrayLike, df: ArrayLike) -> NDArray[np.float64]:
    """Return the quantile of chi-squared.

    Examples
    --------
    >>> round(float(chi2_ppf(0.95, 10)), 6)
    18.307038
    """
    # Chi-squared is a gamma law of shape df / 2 and scale 2.
    return np.asarray(2 * special.gammaincinv(np.asarray(df) / 2, chance))
