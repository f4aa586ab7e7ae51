"""Repeatability and reproducibility from faces measured by several people.

The balanced two-way model with random parts, operators and their interaction, as of any
gauge study: the analysis of variance gives the components, and the intervals are those
of the modified large-sample method (Graybill and Wang 1980, Journal of the American
Statistical Association 75, 869; Burdick, Borror and Montgomery 2003, Journal of Quality
Technology 35, 342). Values are natural logarithms of void shares, so that a standard
deviation of 0.05 is about 5 % of a share.
"""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
import scipy

from analysis.distributions import chi2_ppf
from analysis.errors import InputError
from analysis.model.gauge import Component, GaugeAnswer

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

_TAIL = 0.025
_TWO = 2
_AXES = 3


def components(values: ArrayLike) -> GaugeAnswer:
    """Split the variance of a balanced study.

    Parameters
    ----------
    values : array_like, (parts, operators, repeats)
        Two parts, two operators and two repeats at least.

    Returns
    -------
    GaugeAnswer
        Negative estimates are told as 0, as is usual.

    Raises
    ------
    InputError
        Another shape, or a value that is no number.

    Examples
    --------
    >>> answer = components([[[1, 2], [3, 4]], [[5, 6], [9, 8]]])
    >>> answer.repeatability.variance
    0.5
    """
    table = np.asarray(values, dtype=np.float64)
    if table.ndim != _AXES or min(table.shape) < _TWO or not np.isfinite(table).all():
        msg = (
            "A study needs two faces, two people and two repeats or more, all "
            f"measured; an array of shape {table.shape} was given: measure the rest."
        )
        raise InputError(msg)
    parts, people, repeats = table.shape
    squares, degrees = _mean_squares(table)
    part, person, both, error = squares
    # Expected mean squares with e, b, o, p for repeats, both together, people and
    # parts: error e; both e + r b; person e + r b + p r o; part e + r b + o r p. Each
    # component is the difference that leaves it alone.
    repeatability = _combined((error,), (degrees[3],), (1.0,))
    reproducibility = _combined(
        (person, both, error),
        (degrees[1], degrees[2], degrees[3]),
        (1 / (parts * repeats), (parts - 1) / (parts * repeats), -1 / repeats),
    )
    together = _combined(
        (person, both, error),
        (degrees[1], degrees[2], degrees[3]),
        (
            1 / (parts * repeats),
            (parts - 1) / (parts * repeats),
            (repeats - 1) / repeats,
        ),
    )
    of_part = 1 / (people * repeats)
    each = _combined((part, both), (degrees[0], degrees[2]), (of_part, -of_part))
    return GaugeAnswer(
        parts=parts,
        people=people,
        repeats=repeats,
        repeatability=repeatability,
        reproducibility=reproducibility,
        person=_combined(
            (person, both),
            (degrees[1], degrees[2]),
            (1 / (parts * repeats), -1 / (parts * repeats)),
        ),
        interaction=_combined(
            (both, error), (degrees[2], degrees[3]), (1 / repeats, -1 / repeats)
        ),
        gauge=together,
        part=each,
        person_means=tuple(float(one) for one in table.mean(axis=(0, 2))),
    )


def _mean_squares(
    table: NDArray[np.float64],
) -> tuple[tuple[float, float, float, float], tuple[int, int, int, int]]:
    """Mean squares of parts, people, both together and repeats, with their degrees."""
    parts, people, repeats = table.shape
    mean = table.mean()
    of_part, of_person = table.mean(axis=(1, 2)), table.mean(axis=(0, 2))
    cell = table.mean(axis=2)
    both = cell - of_part[:, None] - of_person + mean
    degrees = (parts - 1, people - 1, (parts - 1) * (people - 1))
    inside = parts * people * (repeats - 1)
    return (
        float(people * repeats * ((of_part - mean) ** 2).sum() / degrees[0]),
        float(parts * repeats * ((of_person - mean) ** 2).sum() / degrees[1]),
        float(repeats * (both**2).sum() / degrees[2]),
        float(((table - cell[..., None]) ** 2).sum() / inside),
    ), (*degrees, inside)


def _combined(
    squares: Sequence[float], degrees: Sequence[int], weights: Sequence[float]
) -> Component:
    """Return a sum of weighted mean squares with its modified large-sample interval.

    With one mean square it is the exact chi-square interval. Cross terms between
    squares of unlike sign follow Ting, Burdick, Graybill, Jeyaratnam and Lu (1990).
    """
    terms = np.array(squares) * np.array(weights)
    value = float(terms.sum())
    plus = [at for at, weight in enumerate(weights) if weight > 0]
    minus = [at for at, weight in enumerate(weights) if weight < 0]
    # Each square alone errs by g down and by h up, as its exact chi-square interval
    # does; their squares add up. A square taken away errs the other way round.
    low = high = 0.0
    for at in plus:
        low += (_g(degrees[at]) * terms[at]) ** 2
        high += (_h(degrees[at]) * terms[at]) ** 2
    for at in minus:
        low += (_h(degrees[at]) * terms[at]) ** 2
        high += (_g(degrees[at]) * terms[at]) ** 2
    for one in plus:
        for other in minus:
            cross = terms[one] * -terms[other]
            low += _cross_low(degrees[one], degrees[other]) * cross
            high += _cross_high(degrees[one], degrees[other]) * cross
    return Component(
        variance=max(0.0, value),
        low=max(0.0, value - math.sqrt(max(0.0, low))),
        high=max(0.0, value + math.sqrt(max(0.0, high))),
    )


@cache
def _g(degrees: int) -> float:
    return 1 - degrees / float(chi2_ppf(1 - _TAIL, degrees))


@cache
def _h(degrees: int) -> float:
    return degrees / float(chi2_ppf(_TAIL, degrees)) - 1


@cache
def _cross_low(one: int, other: int) -> float:
    """Correct the lower end for a square that is taken away."""
    ratio = float(scipy.stats.f.ppf(1 - _TAIL, one, other))
    return ((ratio - 1) ** 2 - (_g(one) * ratio) ** 2 - _h(other) ** 2) / ratio


@cache
def _cross_high(one: int, other: int) -> float:
    """Correct the upper end for a square that is taken away."""
    ratio = float(scipy.stats.f.ppf(_TAIL, one, other))
    return ((1 - ratio) ** 2 - (_h(one) * ratio) ** 2 - _g(other) ** 2) / ratio
