"""Permutation test of the levels: p, exact or Monte Carlo, and its interval.

The interval holds every true ratio the same test would not reject. Shifting by a
ratio moves the statistic of each arrangement along a straight line, so each
arrangement overtakes the observed one at one known shift; the limits are order
statistics of these shifts (the idea of Tritchler 1984, J. Am. Stat. Assoc. 79:200,
worked out here for unequal weights; reference from memory).
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from math import comb, floor, inf, prod
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.design import UNITS_UP_TO, means
from analysis.compare.gls import information_of
from analysis.compare.robust import robust_t
from analysis.compare.student import t_interval, t_p_value

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.compare.gls import Fit

EXACT_UP_TO = 20_000
DRAWS = 9_999
ALPHA = 0.05
COARSE_BELOW = 0.045  # an exact test that, by its ties or few ways, cannot reach 5 %
UNLIKE = 1.5  # times as many units, from which unlike spreads mislead
LEAST_FOR_SPREAD = 3  # units of a level below which its spread is not to be known
REFINE_FROM = 30  # arrangements; with fewer not even the mid-p reaches far below 5 %


@dataclass(frozen=True, slots=True, kw_only=True)
class TestResult:
    """What the permutation test says.

    Attributes
    ----------
    p_value : float or None
        Two-sided; None where nothing can be permuted.
    low, high : float or None
        95 % limits of the log ratio.
    p_least : float
        The smallest p this design could have given.
    p_exact : float or None
        Plain permutation p, also where `p_value` had to be refined.
    n_arrangements : int
        Of the levels; those drawn where `exact` is False.
    exact : bool
        All arrangements were tried.
    kind : str
        ``exact``, ``monte_carlo``, ``refined`` (too few arrangements or too
        many ties to come near 5 %, so Student's t must agree) or ``t``.
    """

    p_value: float | None
    low: float | None
    high: float | None
    p_least: float
    p_exact: float | None
    n_arrangements: int
    exact: bool
    kind: str


def _block_sizes(
    x: NDArray[np.float64], block: NDArray[np.int64]
) -> list[tuple[NDArray[np.int64], int]]:
    """Return the places of each block and how many of them hold the first level."""
    # Sorted, the units of a block lie together: cut where the block changes.
    order = np.argsort(block, kind="stable")
    edges = np.flatnonzero(np.diff(block[order])) + 1
    return [
        (places, round(float(x[places].sum()))) for places in np.split(order, edges)
    ]


def n_arrangements(x: NDArray[np.float64], block: NDArray[np.int64]) -> int:
    """Count the ways to deal the levels out inside the blocks.

    Examples
    --------
    >>> n_arrangements(np.array([1.0, 1, 0, 0]), np.zeros(4, dtype=np.int64))
    6
    """
    return prod(comb(len(places), first) for places, first in _block_sizes(x, block))


def arrangements(
    x: NDArray[np.float64], block: NDArray[np.int64], seed: int
) -> tuple[NDArray[np.float64], bool]:
    """Deal the levels out anew inside the blocks.

    Parameters
    ----------
    x : ndarray of float64, (u,)
        1 or 0 per unit, as cast.
    block : ndarray of int64, (u,)
        Levels never leave their block.
    seed : int
        Of the Monte Carlo draws.

    Returns
    -------
    table : ndarray of float64, (m, u)
        One arrangement per row. All of them, each once; or the one as cast
        followed by `DRAWS` random ones.
    exact : bool
        Whether these are all.

    Examples
    --------
    >>> table, exact = arrangements(
    ...     np.array([1.0, 0, 0]), np.zeros(3, dtype=np.int64), 1
    ... )
    >>> table.astype(int).tolist(), exact
    ([[1, 0, 0], [0, 1, 0], [0, 0, 1]], True)
    """
    blocks = _block_sizes(x, block)
    total = n_arrangements(x, block)
    if total > EXACT_UP_TO:
        return _drawn(x, blocks, seed), False
    table = np.zeros((total, len(x)))
    repeat = total
    # Rows count up like a clock: the last block changes with every row, the first one
    # slowest, so that every way of a block meets every way of the others once.
    for places, first in blocks:
        ways = np.array(list(combinations(range(len(places)), first)), dtype=np.int64)
        part = np.zeros((len(ways), len(places)))
        np.put_along_axis(part, ways.reshape(len(ways), first), 1.0, axis=1)
        repeat //= len(ways)
        tiled = np.tile(
            np.repeat(part, repeat, axis=0), (total // (repeat * len(ways)), 1)
        )
        table[:, places] = tiled
    return table, True


def _drawn(
    x: NDArray[np.float64], blocks: list[tuple[NDArray[np.int64], int]], seed: int
) -> NDArray[np.float64]:
    random = np.random.default_rng(seed)
    table = np.zeros((DRAWS + 1, len(x)))
    table[0] = x
    for places, first in blocks:
        # The places of the smallest of random keys: any so many of them are as likely.
        keys = random.random((DRAWS, len(places)))
        # A block without the first level chooses none, yet needs a place to part at.
        chosen = np.argpartition(keys, max(first - 1, 0), axis=1)[:, :first]
        part = np.zeros((DRAWS, len(places)))
        np.put_along_axis(part, chosen, 1.0, axis=1)
        table[1:, places] = part
    return table


def _limit(crossing: NDArray[np.float64], always: float, total: int) -> float:
    """Return the lower limit: the first shift whose one-sided p is above 2.5 %.

    `always` arrangements count at every shift; the others from `crossing` on.
    """
    # The fewest crossings that with `always` make up more than 2.5 % of all; 1e-9 keeps
    # a product that should be whole from falling below it.
    needed = floor(ALPHA / 2 * total - always + 1e-9) + 1
    if needed <= 0:
        return -inf
    return float(crossing[needed - 1]) if needed <= len(crossing) else -inf


def _tails(
    statistic: NDArray[np.float64], observed: float, share: float
) -> tuple[float, float]:
    """Return upper and lower tail, ties with the observed one counted by `share`."""
    # The same terms added in another order differ in their last digits: still a tie.
    slack = 1e-9 * max(float(np.abs(statistic).max()), 1e-300)
    above = float((statistic > observed + slack).mean())
    below = float((statistic < observed - slack).mean())
    tied = 1.0 - above - below
    return above + share * tied, below + share * tied


def _attainable(statistic: NDArray[np.float64]) -> float:
    """Return the largest level up to 5 % that whole sets of ties can reach."""
    slack = 1e-9 * max(float(np.abs(statistic).max()), 1e-300)
    reached = 0.0
    for tail in (np.sort(statistic), np.sort(-statistic)):
        # Each set of ties ends where the next value lies apart.
        ends = np.append(np.flatnonzero(np.diff(tail) > slack) + 1, len(tail))
        inside = ends[ends <= ALPHA / 2 * len(tail) + 1e-9]
        reached += float(inside[-1]) / len(tail) if len(inside) else 0.0
    return reached


def _two_unequal(answer: Fit) -> bool:
    """Tell whether two plain groups of unlike size are compared, and nothing else."""
    first = int(answer.x.sum())
    second = len(answer.x) - first
    plain = answer.design.plain and not answer.design.mixed.any()
    few, many = sorted((first, second))
    return plain and many > UNLIKE * few and few >= LEAST_FOR_SPREAD


def _studentised(answer: Fit, table: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the difference of each arrangement over its own standard error.

    Each level has its own spread, so that few pours that differ much cannot pass for
    many that do not (Janssen 1997, Statist. Probab. Lett. 36:9: the permutation test
    of Welch's statistic holds its level though spreads differ).
    """
    mean, _ = means(answer.design.y, answer.design.cluster)
    value = np.empty(len(answer.x))
    weight = np.empty(len(answer.x))
    value[answer.design.unit] = mean[answer.design.cluster]
    weight[answer.design.unit] = answer.pour_weight[answer.design.cluster]
    centre, variance = [], []
    for side in (table, 1.0 - table):  # all arrangements at once, (m, u)
        own = side * weight
        total = own.sum(axis=1)
        middle = own @ value / total
        # Variance of a weighted mean from its own residuals, each side by itself.
        square = (own**2 * (value - middle[:, None]) ** 2).sum(axis=1) / total**2
        count = side.sum(axis=1)
        centre.append(middle)
        variance.append(square * count / (count - 1))
    gap = centre[0] - centre[1]
    least = 1e-12 * float(np.var(value)) + 1e-300
    return np.asarray(gap / np.sqrt(np.maximum(variance[0] + variance[1], least)))


def _student(answer: Fit, *, guard: bool, unlike: bool) -> float | None:
    """Return p of Student's t; one that bears unequal spreads between whole units."""
    student = t_p_value(answer)
    whole = not answer.design.mixed.any() and len(answer.x) <= UNITS_UP_TO
    robust = robust_t(answer) if whole and (guard or unlike) else None
    if student is None or robust is None:
        return student
    return max(student, robust.p_value) if guard else robust.p_value


def permutation_test(answer: Fit, *, seed: int, guard: bool = False) -> TestResult:
    """Test the log ratio of a fit by rearranging levels, and give its interval.

    Parameters
    ----------
    answer : Fit
        From `analysis.compare.gls.fit`.
    seed : int
        Of the Monte Carlo draws.
    guard : bool
        Ask Student's t to agree, too: with covariates permuting is no longer
        exact.

    Returns
    -------
    TestResult
        Deterministic for a given seed.

    Examples
    --------
    >>> from analysis.compare.design import lay_out
    >>> from analysis.compare.gls import fit
    >>> x = np.repeat([1.0, 0.0], 5)
    >>> y = np.arange(10.0) ** 1.5
    >>> rows = np.arange(10)
    >>> answer = fit(lay_out(y, x, rows, np.zeros(10, dtype=np.int64)))
    >>> result = permutation_test(answer, seed=1)
    >>> round(result.p_value * 252), result.n_arrangements
    (2, 252)
    """
    interval = t_interval(answer)
    unlike = _two_unequal(answer)
    student = _student(answer, guard=guard, unlike=unlike)
    if len(answer.x) > UNITS_UP_TO:
        low, high = interval or (None, None)
        return TestResult(
            p_value=student,
            low=low,
            high=high,
            p_least=0.0,
            p_exact=None,
            n_arrangements=0,
            exact=False,
            kind="t",
        )
    # Were the true log ratio d, an arrangement's statistic would be
    # `statistic - d reach`, the observed one `observed - d observed_root`. The latter
    # falls faster, and is overtaken at d = (observed - statistic) / gap: `crossing`.
    # The arrangement as cast, and any that the nuisance makes the same (gap of 0), are
    # tied with it at any d: `fixed`.
    table, exact = arrangements(answer.x, answer.block, seed)
    total = len(table)
    root = np.sqrt(information_of(answer, table))
    # An arrangement that the nuisance holds altogether says nothing: 0, not rounding
    # over rounding.
    usable = root > 1e-6 * np.sqrt(answer.information)
    safe = np.where(usable, root, 1.0)
    statistic = np.where(usable, table @ answer.score / safe, 0.0)
    reach = np.where(usable, table @ answer.own / safe, 0.0)
    observed_root = float(np.sqrt(answer.information))
    observed = answer.log_ratio * observed_root
    gap = observed_root - reach
    moving = gap > 1e-9 * observed_root
    crossing = np.sort((observed - statistic[moving]) / gap[moving])
    fixed = total - len(crossing)
    p_exact = min(1.0, 2 * min(_tails(statistic, observed, 1.0)))
    guard = guard or unlike
    # The interval keeps the shifts of the plain statistic: studentised ones do not move
    # along straight lines.
    if unlike:
        statistic = _studentised(answer, table)
        observed = float(_studentised(answer, answer.x[None])[0])
    p_own = min(1.0, 2 * min(_tails(statistic, observed, 1.0)))
    p_least = min(1.0, 2 * fixed / total)
    coarse = exact and _attainable(statistic) < COARSE_BELOW
    if not (coarse or guard):
        low = _limit(crossing, fixed, total)
        high = -_limit(-crossing[::-1], fixed, total)
        return TestResult(
            p_value=p_own,
            low=low if low > -inf else None,
            high=high if high < inf else None,
            p_least=p_least,
            p_exact=p_exact,
            n_arrangements=total,
            exact=exact,
            kind="exact" if exact else "monte_carlo",
        )
    if coarse and total < REFINE_FROM:
        low, high = interval or (None, None)
        return TestResult(
            p_value=p_own,
            low=low,
            high=high,
            p_least=p_least,
            p_exact=p_exact,
            n_arrangements=total,
            exact=True,
            kind="exact",
        )
    share = 0.5 if coarse else 1.0
    # The arrangement as cast counts by half, as do those that the nuisance makes the
    # same (twice a half over `total` each); other ties do not.
    if coarse:  # with ties among few arrangements the mid-p loses a third of its power
        p_own = min(1.0, 2 * min(_tails(statistic, observed, 0.0)) + fixed / total)
    low = _limit(crossing, fixed * share, total)
    high = -_limit(-crossing[::-1], fixed * share, total)
    # The larger p stands, hence the wider interval.
    if interval is not None:
        low = min(low, interval[0]) if low > -inf else interval[0]
        high = max(high, interval[1]) if high < inf else interval[1]
    return TestResult(
        p_value=max(p_own, student) if student is not None else p_exact,
        low=low if interval is not None else None,
        high=high if interval is not None else None,
        p_least=min(1.0, 2 * fixed * share / total),
        p_exact=p_exact,
        n_arrangements=total,
        exact=exact,
        kind="refined",
    )
