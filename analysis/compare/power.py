"""How many pours it takes to find a difference: by simulating the same test."""

from __future__ import annotations

from functools import lru_cache
from itertools import pairwise
from math import ceil, floor, log
from typing import TYPE_CHECKING

import numpy as np
import scipy

from analysis.checks import number
from analysis.compare.permutation import ALPHA, COARSE_BELOW, arrangements
from analysis.distributions import normal_ppf, t_ppf, t_sf
from analysis.model.comparison import LEAST_MIXED_POURS, LEAST_POURS

if TYPE_CHECKING:
    from numpy.typing import NDArray

REPEATS = 500
DEALS = 400
GRID = 40
MOST_POURS = 60
SUPPOSED_SPREAD = 0.5  # of log shares between pours, where the data give none


@lru_cache(maxsize=64)
def _deals(sizes: tuple[int, ...], seed: int) -> NDArray[np.float64]:
    """Deal blocks of so many units of each level; the first row is as cast."""
    block = np.repeat(np.arange(len(sizes)), [2 * size for size in sizes])
    x = np.concatenate([np.repeat([1.0, 0.0], size) for size in sizes])
    # The cast must be row 0: `_found` holds all others against it.
    table, _ = arrangements(x, block.astype(np.int64), seed)
    cast = np.flatnonzero((table == x).all(axis=1))[:1]
    if len(table) > DEALS:
        pick = np.random.default_rng(seed).choice(len(table), DEALS, replace=False)
        table = table[np.concatenate([cast, pick[pick != cast[0]]])]
    else:
        table = np.roll(table, -int(cast[0]), axis=0)
    table.flags.writeable = False
    return table


@lru_cache(maxsize=4096)
def _found(sizes: tuple[int, ...], effect: float, seed: int) -> float:
    """Return how often the permutation test finds a difference, 0..1.

    Blocks hold `sizes` units of each level; `effect` is the log ratio in units of
    the spread between units.
    """
    table = _deals(sizes, seed)
    x = table[0]
    random = np.random.default_rng(seed)
    # One trial a column: (m, u) arrangements times (u, REPEATS) outcomes test them all
    # at once. With block means off, the sum of the first level tells the difference.
    y = random.standard_normal((len(x), REPEATS)) + effect * x[:, None]
    edges = np.concatenate([[0], 2 * np.cumsum(sizes)])
    for start, stop in pairwise(edges.tolist()):
        y[start:stop] -= y[start:stop].mean(axis=0)
    statistic = table @ y
    slack = 1e-9 * np.abs(statistic).max(axis=0)
    above = (statistic >= statistic[0] - slack).sum(axis=0)
    below = (statistic <= statistic[0] + slack).sum(axis=0)
    p = 2 * np.minimum(above, below) / len(table)
    if 2 * floor(ALPHA / 2 * len(table) + 1e-9) / len(table) < COARSE_BELOW:
        # too few arrangements: Student's t and the mid-p must agree, as in the test
        p -= 1 / len(table)
        # The squares between levels, 2 (first) (gap / 2)^2, are taken off those of y.
        first = x.sum()
        gap = 2 * statistic[0] / first  # block means are 0, so both levels mirror
        left = np.maximum((y**2).sum(axis=0) - gap**2 * first / 2, 1e-300)
        df = len(x) - len(sizes) - 1
        p = np.maximum(p, 2 * t_sf(np.abs(gap) / np.sqrt(2 * left / df / first), df))
    return float((p <= ALPHA).mean())


def _effect(log_ratio: float, spread: float) -> float:
    """Return the size of a log ratio in spreads, on a grid so that it is kept."""
    return min(round(abs(log_ratio) / spread * GRID) / GRID, 1e3)


def power_between(pours: int, spread: float, ratio: float, seed: int = 20_011) -> float:
    """Return the chance that so many pours per level find a ratio, 0..1.

    Parameters
    ----------
    pours : int
        Per level; below `LEAST_POURS` there is no verdict and the chance is 0.
    spread : float
        Standard deviation of the pours' mean log shares.
    ratio : float
        True ratio of geometric means.
    seed : int
        Of the simulation.

    Examples
    --------
    >>> power_between(3, 0.4, 0.5)
    0.0
    >>> power_between(12, 0.4, 0.5) > 0.9
    True
    """
    if pours < LEAST_POURS:
        return 0.0
    return _found((pours,), _effect(log(ratio), spread), seed)


def power_within(
    pours: int, pieces: int, spread: float, ratio: float, seed: int = 20_011
) -> float:
    """Return the chance that pours with `pieces` of each level find a ratio, 0..1.

    Examples
    --------
    >>> power_within(2, 3, 0.4, 0.5)
    0.0
    >>> power_within(6, 2, 0.3, 0.5) > 0.9
    True
    """
    if pours < LEAST_MIXED_POURS:
        return 0.0
    return _found((pieces,) * pours, _effect(log(ratio), spread), seed)


def power_of_blocks(
    blocks: int, units: int, spread: float, ratio: float, seed: int = 20_011
) -> float:
    """Return the chance that blocks of `units` of each level find a ratio, 0..1.

    For the joints of pieces, which need no least number of pours.

    Examples
    --------
    >>> power_of_blocks(2, 4, 0.5, 0.2) > 0.9
    True
    """
    return _found((units,) * blocks, _effect(log(ratio), spread), seed)


def _guess(spread: float, ratio: float, power: float) -> int:
    """Return pours per level by the normal formula, a place to start from."""
    reach = float(normal_ppf(1 - ALPHA / 2) + normal_ppf(power))
    return ceil(2 * (reach * spread / abs(log(ratio))) ** 2)


def pours_needed(
    spread_between: float,
    spread_within: float,
    pieces: int,
    *,
    ratio: float,
    power: float = 0.8,
    mixed: bool = False,
    seed: int = 20_011,
) -> int:
    """Return how many pours per level find a ratio with the chance asked for.

    Parameters
    ----------
    spread_between, spread_within : float
        Standard deviation of log shares between pours, and between pieces of one.
    pieces : int
        Pieces per pour (of each level, where pours hold both).
    ratio : float
        Ratio of geometric means to be found.
    power : float
        Chance of finding it, 0..1.
    mixed : bool
        Both levels in each pour.
    seed : int
        Of the simulation.

    Returns
    -------
    int
        Per level; where pours hold both levels, pours in all. Above
        `MOST_POURS` by the normal formula.

    Raises
    ------
    InputError
        A spread is negative, the ratio 1, or the chance out of range.

    Examples
    --------
    >>> pours_needed(0.4, 0.3, 3, ratio=0.5) > pours_needed(
    ...     0.4, 0.3, 3, ratio=0.5, mixed=True
    ... )
    True
    """
    number(spread_between, "Spread between pours", low=0)
    number(spread_within, "Spread within pours", low=0)
    number(power, "Power", low=0.5, high=0.99)
    number(abs(log(number(ratio, "Ratio", above=0))), "Log ratio", above=0)
    pieces = max(pieces, 1)
    if mixed:
        spread = max(spread_within, 1e-6)
        least, guess = LEAST_MIXED_POURS, _guess(spread / pieces**0.5, ratio, power)
    else:
        spread = max((spread_between**2 + spread_within**2 / pieces) ** 0.5, 1e-6)
        least, guess = LEAST_POURS, _guess(spread, ratio, power)

    def chance(pours: int) -> float:
        if mixed:
            return power_within(pours, pieces, spread, ratio, seed)
        return power_between(pours, spread, ratio, seed)

    if guess > MOST_POURS:
        return guess
    # The normal formula is near: a few simulated steps down, or else up, are enough.
    pours = max(guess, least)
    while pours > least and chance(pours - 1) >= power:
        pours -= 1
    while pours < MOST_POURS and chance(pours) < power:
        pours += 1
    return pours


def power_of_margin(
    pours: int, pieces: int, spread: float, margin: float, *, mixed: bool
) -> float:
    """Return the chance to show 'no worse than' where both levels are alike, 0..1.

    The 95 % interval of the ratio has to end below the margin (noncentral t; the
    sample size of a non-inferiority trial, Julious 2004, Statistics in Medicine
    23:1921, from memory, check against the paper).

    Parameters
    ----------
    pours : int
        Per level; in all, where pours hold both levels.
    pieces : int
        Of each level in a pour that has it.
    spread : float
        Standard deviation of log shares between pieces of a pour where pours hold
        both levels, else between the pours' means.
    margin : float
        Ratio that would still do, more than 1.
    mixed : bool
        Both levels in each pour.

    Examples
    --------
    >>> power_of_margin(3, 1, 0.4, 1.25, mixed=True) < 0.3
    True
    >>> power_of_margin(40, 2, 0.3, 1.25, mixed=True) > 0.9
    True
    """
    least = LEAST_MIXED_POURS if mixed else LEAST_POURS
    if pours < least:
        return 0.0
    units = pours * pieces if mixed else pours
    df = 2 * units - pours - 1 if mixed else 2 * units - 2
    error = max(spread, 1e-6) * (2 / units) ** 0.5
    # Alike in truth, the estimate lies log(margin) below the margin: its t against the
    # margin is noncentral by that, and has to stay below -reach.
    reach = float(t_ppf(1 - ALPHA / 2, df))
    return float(scipy.stats.nct.cdf(-reach, df, -log(margin) / error))


def pours_of_margin(
    pieces: int, spread: float, margin: float, power: float, *, mixed: bool
) -> int:
    """Return how many pours show 'no worse than'; `MOST_POURS` + 1 where none do.

    Examples
    --------
    >>> few = pours_of_margin(2, 0.3, 1.5, 0.8, mixed=True)
    >>> many = pours_of_margin(2, 0.3, 1.25, 0.8, mixed=True)
    >>> 3 <= few < many
    True
    """
    number(margin, "Margin", above=1.0, high=100)
    for pours in range(1, MOST_POURS + 1):
        if power_of_margin(pours, pieces, spread, margin, mixed=mixed) >= power:
            return pours
    return MOST_POURS + 1
