"""Run rules: which pours stand out from chance."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from analysis.checks import one_of
from analysis.model.monitoring import Rule
from analysis.monitoring.limits import (
    EWMA_SIGMAS,
    EWMA_WEIGHT,
    SIGMAS,
    ewma,
    ewma_half_width,
)

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

HANDBOOK = "Western Electric, Statistical Quality Control Handbook, 1956"
BEYOND = Rule(
    name="beyond the limits",
    source=f"W. A. Shewhart, 1931; {HANDBOOK}",
)
TWO_OF_THREE = Rule(
    name="two of three pours in the outer third of the way to a limit",
    source=HANDBOOK,
)
FOUR_OF_FIVE = Rule(
    name="four of five pours more than a third of the way to one limit",
    source=HANDBOOK,
)
EIGHT_ON_ONE_SIDE = Rule(
    name="eight pours on one side of the centre",
    source=HANDBOOK,
)
SIX_IN_A_ROW = Rule(
    name="six pours in a row rising or falling",
    source="L. S. Nelson, Journal of Quality Technology 16 (1984) 237-239",
)
SMOOTHED = Rule(
    name="smoothed mean beyond its limits",
    source="S. W. Roberts, Technometrics 1 (1959) 239-250; weight and width after "
    "J. M. Lucas and M. S. Saccucci, Technometrics 32 (1990) 1-12",
)
ALL_RULES = (
    BEYOND,
    TWO_OF_THREE,
    FOUR_OF_FIVE,
    EIGHT_ON_ONE_SIDE,
    SIX_IN_A_ROW,
    SMOOTHED,
)
DEFAULT_RULES = (BEYOND, EIGHT_ON_ONE_SIDE, SMOOTHED)


def named(names: Iterable[str] | None) -> tuple[Rule, ...]:
    """Return the rules of these names, or those on by default.

    Raises
    ------
    InputError
        A name that is none of the rules.

    Examples
    --------
    >>> [rule.name for rule in named(["beyond the limits"])]
    ['beyond the limits']
    """
    if names is None:
        return DEFAULT_RULES
    by_name = {rule.name: rule for rule in ALL_RULES}
    return tuple(by_name[one_of(name, "A rule", by_name)] for name in names)


def broken(
    standard: NDArray[np.float64],
    rules: tuple[Rule, ...],
    *,
    centre_from: int | None,
) -> NDArray[np.bool_]:
    """Tell which rule is broken at which pour.

    Parameters
    ----------
    standard : ndarray of float64, (n,)
        Pours in time order: distance from the centre in standard deviations.
    rules : tuple of Rule
        Rules to look for.
    centre_from : int or None
        Pours the centre was estimated from; None where it is known.

    Returns
    -------
    ndarray of bool, (rules, n)
        True at the pour that completes the pattern.

    Examples
    --------
    >>> z = np.array([0.1, -0.2, 3.4])
    >>> broken(z, (BEYOND, EIGHT_ON_ONE_SIDE), centre_from=None).tolist()
    [[False, False, True], [False, False, False]]
    """
    found = np.zeros((len(rules), len(standard)), dtype=bool)
    for row, rule in zip(found, rules, strict=True):
        if rule == BEYOND:
            row[:] = np.abs(standard) > SIGMAS
        elif rule == TWO_OF_THREE:
            row[:] = _some_of(standard, 2, 3, 2.0)
        elif rule == FOUR_OF_FIVE:
            row[:] = _some_of(standard, 4, 5, 1.0)
        elif rule == EIGHT_ON_ONE_SIDE:
            row[:] = _some_of(standard, 8, 8, 0.0)
        elif rule == SIX_IN_A_ROW:
            row[:] = _rising_or_falling(standard, 6)
        else:
            width = smoothed_half_width(len(standard), centre_from)
            row[:] = np.abs(ewma(standard, 0.0, EWMA_WEIGHT)) > width
    return found


def smoothed_half_width(n: int, centre_from: int | None) -> NDArray[np.float64]:
    """Half-width of the limits of the smoothed mean, in standard deviations.

    Examples
    --------
    >>> smoothed_half_width(1, None).round(4).tolist()
    [0.5924]
    """
    return ewma_half_width(
        n, 1.0, weight=EWMA_WEIGHT, sigmas=EWMA_SIGMAS, centre_from=centre_from
    )


def _some_of(
    standard: NDArray[np.float64], least: int, of: int, beyond: float
) -> NDArray[np.bool_]:
    """Pours closing `of` pours with `least` beyond a line on one side, itself too."""
    out = np.zeros(len(standard), dtype=bool)
    if len(standard) < of:
        return out
    for side in (standard, -standard):
        # Each window is a row of `of` pours and belongs to the last of them.
        past = side > beyond
        full = sliding_window_view(past, of).sum(axis=1) >= least
        out[of - 1 :] |= full & past[of - 1 :]
    return out


def _rising_or_falling(standard: NDArray[np.float64], run: int) -> NDArray[np.bool_]:
    out = np.zeros(len(standard), dtype=bool)
    if len(standard) < run:
        return out
    # All steps of a window one way: their signs add up to its length; a tie adds 0.
    steps = np.sign(np.diff(standard))
    out[run - 1 :] = np.abs(sliding_window_view(steps, run - 1).sum(axis=1)) == run - 1
    return out
