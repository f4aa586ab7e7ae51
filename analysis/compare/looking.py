"""Looking at a trial before it is done has its price.

Each look spends a part of the 5 percent: little early, most at the end (Lan and DeMets
1983, Biometrika 70:659, with the spending function that is near to O'Brien and
Fleming's). Looks are supposed after every two pours, whether or not they were made.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from math import log
from typing import TYPE_CHECKING, Literal

import numpy as np
from scipy import optimize

from analysis.compare.assignment import names_of
from analysis.distributions import normal_cdf, normal_isf, normal_sf

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.comparison import PieceTable

LEVEL = 0.05
GRID = 201
FIRST_LOOK = 8  # pours: the fewest a verdict may rest on
STEP = 2
FORLORN = 0.1  # chance of a verdict in the end, below which it is not worth going on
ALLOWED = 1.0  # standard errors
Advice = Literal["stop_clear", "stop_forlorn", "go_on", "done"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialLook:
    """A look at a trial that is under way or done.

    Attributes
    ----------
    trial : str
        Its name.
    cast, planned : int
        Pours so far and in all.
    level : float
        p up to which the answer is clear at this look.
    """

    trial: str
    cast: int
    planned: int
    level: float


def spent(fraction: float) -> float:
    """Return how much of the level may be spent by a fraction of a trial.

    Examples
    --------
    >>> round(spent(0.5), 5), round(spent(1.0), 5)
    (0.00305, 0.05)
    """
    # Half of the level for each side, and each side's function is twice a normal tail:
    # hence LEVEL / 4 and the factor of 4.
    reach = float(normal_isf(LEVEL / 4)) / max(fraction, 1e-9) ** 0.5
    return min(4 * float(normal_sf(reach)), LEVEL)


@lru_cache(maxsize=256)
def limits(fractions: tuple[float, ...]) -> tuple[float, ...]:
    """Return the two-sided limit of the normal statistic at each look.

    Parameters
    ----------
    fractions : tuple of float
        Of the whole trial, rising, the last one 1 or less.

    Notes
    -----
    By the recursion of Armitage, McPherson and Rowe (1969, J. R. Stat. Soc. A
    132:235) on a grid.

    Examples
    --------
    >>> [round(limit, 2) for limit in limits((0.2, 0.4, 0.6, 0.8, 1.0))]
    [4.88, 3.36, 2.68, 2.29, 2.03]
    """
    # The statistic times the root of the fraction adds up independent normal steps.
    # `nodes` are its values that passed no limit so far, `mass` their probability, with
    # the weights of the trapezium rule in it.
    found: list[float] = []
    nodes, mass = np.zeros(1), np.ones(1)  # before the first look all lies at 0
    before = so_far = 0.0
    for now in fractions:
        spend = max(spent(now) - so_far, 1e-12)
        so_far, step = spent(now), (now - before) ** 0.5
        limit = _limit(nodes, mass, step, now, spend)
        found.append(limit)
        fresh = np.linspace(-limit, limit, GRID) * now**0.5
        # (new nodes, old nodes): the normal step carries the mass over, then it is cut
        # at the limits by where `fresh` ends.
        gap = (fresh[:, None] - nodes) / step
        density = np.exp(-0.5 * gap**2) @ mass / (step * (2 * np.pi) ** 0.5)
        weight = np.full(GRID, fresh[1] - fresh[0])
        weight[[0, -1]] /= 2
        nodes, mass, before = fresh, density * weight, now
    return tuple(found)


def _limit(
    nodes: NDArray[np.float64],
    mass: NDArray[np.float64],
    step: float,
    now: float,
    spend: float,
) -> float:
    """Return the limit at which a look spends what it may."""

    def excess(limit: float) -> float:
        edge = limit * now**0.5
        above = normal_sf((edge - nodes) / step)
        below = normal_cdf((-edge - nodes) / step)
        return float((above + below) @ mass) - spend

    return float(optimize.brentq(excess, 0.1, 20.0, xtol=1e-6))


def nominal(cast: int, planned: int) -> float:
    """Return p up to which an answer is clear, with so many pours of a trial cast.

    Examples
    --------
    >>> nominal(8, 24) < 0.001, 0.03 < nominal(24, 24) < 0.05
    (True, True)
    """
    if planned <= FIRST_LOOK:
        return LEVEL
    looks = [*range(FIRST_LOOK, min(cast, planned), STEP), min(cast, planned)]
    if cast < FIRST_LOOK:
        looks = [cast]
    reach = limits(tuple(look / planned for look in looks))[-1]
    return 2 * float(normal_sf(reach))


def look_at(table: PieceTable, by: str) -> TrialLook | None:
    r"""Return the look that a table of one trial is; None without a planned size.

    A trial about another factor than the compared one is none here.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = [f"{n},{n},seal,16" for n in range(10)]
    >>> head = "piece,pour,trial,trial_pours"
    >>> look = look_at(read_table(chr(10).join([head, *rows])), "mix")
    >>> look.cast, look.planned
    (10, 16)
    """
    names, sizes = table.text.get("trial"), table.number.get("trial_pours")
    if names is None or sizes is None or not len(table):
        return None
    factors = table.text.get("trial_factor")
    if factors is not None and not np.isin(factors, names_of(by)).all():
        return None
    if len(np.unique(names)) != 1 or not names[0] or np.isnan(sizes).any():
        return None
    planned = int(sizes.max())
    cast = int(table.levels("pour").code.max()) + 1
    level = nominal(cast, planned) if cast < planned else _last(planned)
    return TrialLook(trial=str(names[0]), cast=cast, planned=planned, level=level)


def _last(planned: int) -> float:
    """Return p up to which a finished trial is clear."""
    return nominal(planned, planned)


def chance_in_the_end(
    look: TrialLook, log_ratio: float, error: float, hoped: float
) -> float:
    """Return the chance of a verdict in the end, if the ratio hoped for is true.

    Parameters
    ----------
    look : TrialLook
        Where the trial stands.
    log_ratio, error : float
        So far, with its standard error.
    hoped : float
        Log of the ratio the trial was planned to find.

    Examples
    --------
    >>> look = TrialLook(trial="seal", cast=12, planned=24, level=0.003)
    >>> chance_in_the_end(look, -0.7, 0.3, log(0.5)) > 0.8
    True
    >>> chance_in_the_end(look, 0.4, 0.3, log(0.5)) < 0.1
    True
    """
    fraction = look.cast / look.planned
    if fraction >= 1 or error <= 0:
        return 0.0
    # Given what was seen, the final estimate is normal: the seen part stays, the rest
    # comes in at the ratio hoped for, with the variance of that rest alone.
    final = error * fraction**0.5
    reach = float(normal_isf(_last(look.planned) / 2)) * final
    middle = fraction * log_ratio + (1 - fraction) * hoped
    spread = final * (1 - fraction) ** 0.5
    return float(
        normal_cdf((-reach - middle) / spread) + normal_sf((reach - middle) / spread)
    )


def advice(
    look: TrialLook, p_value: float | None, log_ratio: float, error: float, ratio: float
) -> Advice:
    """Tell whether to stop or to go on.

    Examples
    --------
    >>> look = TrialLook(trial="seal", cast=12, planned=24, level=0.003)
    >>> advice(look, 0.001, -0.9, 0.2, 0.5), advice(look, 0.9, 0.01, 0.1, 0.5)
    ('stop_clear', 'stop_forlorn')
    """
    if p_value is not None and p_value <= look.level:
        return "done" if look.cast >= look.planned else "stop_clear"
    if look.cast >= look.planned:
        return "done"
    if look.cast < FIRST_LOOK or error <= 0:
        return "go_on"
    away = abs(log(ratio))
    # What was hoped for, as far as what was seen still allows it.
    low, high = log_ratio - ALLOWED * error, log_ratio + ALLOWED * error
    chance = max(
        chance_in_the_end(look, log_ratio, error, min(max(hoped, low), high))
        for hoped in (-away, away)
    )
    return "stop_forlorn" if chance < FORLORN else "go_on"
