"""From tapped points to a share with its intervals.

Each field's share, their mean, their standard deviation and Student's t are those of
ASTM E562. Hits are rare on a good face: then fields mostly hold none, and that interval
is too narrow. Beside it stands the interval of Fay and Feuer (1997, Statistics in
Medicine 16, 791-801) for a weighted sum of rare events: a gamma law with the sum's
mean and variance, its upper end taken as if one more event of the heaviest kind had
been seen. With equal weights it is the exact Poisson interval (Garwood 1936).
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from analysis.distributions import chi2_ppf, t_ppf
from analysis.model.point_count import ANSWERS, CountFigure, checked_answers

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    from analysis.model.point_count import CountPlan

# From so many hits in each part on, neighbours as one, the standard's interval is used
# (results/point_count.md).
ENOUGH_HITS = 20
_LEVEL = 0.95
_TAIL = (1 - _LEVEL) / 2
_TWO = 2
# Neighbours on a grid lie one or the root of two spacings apart.
_NEIGHBOURS = 1.5


def few_hits_interval(
    weights: ArrayLike, heaviest_unseen: float
) -> tuple[float, float]:
    """95 % interval of a sum of rare events of unlike weight (Fay and Feuer 1997).

    Parameters
    ----------
    weights : array_like, (k,)
        What each event seen adds to the sum.
    heaviest_unseen : float
        What one event that was not seen could add.

    Examples
    --------
    >>> [round(end, 3) for end in few_hits_interval([], 1.0)]
    [0.0, 3.689]
    >>> [round(end, 3) for end in few_hits_interval([1.0] * 5, 1.0)]
    [1.623, 11.668]
    """
    each = np.asarray(weights, dtype=np.float64)
    total, square = float(each.sum()), float((each**2).sum())
    low = 0.0
    if total > 0:
        low = square / (2 * total) * _chi2(_TAIL, 2 * total**2 / square)
    above, wide = total + heaviest_unseen, square + heaviest_unseen**2
    return low, wide / (2 * above) * _chi2(1 - _TAIL, 2 * above**2 / wide)


def _chi2(part: float, degrees: float) -> float:
    return float(chi2_ppf(part, degrees))


def count_figure(plan: CountPlan, answers: str) -> CountFigure | None:
    """Return what a count says so far, from its whole fields; None before the first.

    Parameters
    ----------
    plan : CountPlan
    answers : str
        One sign a point, in the plan's order.

    Returns
    -------
    CountFigure or None
        None until each part of the face has a whole field.

    Examples
    --------
    >>> from analysis.point_count.drawing import draw_even
    >>> plan = draw_even(np.ones((300, 400), bool), 100, void_px2=0, seed=1)
    >>> figure = count_figure(plan, "v" + "s" * 99)
    >>> round(figure.share, 4), round(figure.few_high, 4)
    (0.01, 0.0557)
    """
    checked_answers(answers, plan)
    size = plan.points_per_field
    values = [
        np.array([ANSWERS[sign] for sign in part])
        for part in (answers[at : at + size] for at in range(0, len(answers), size))
        if set(part) <= set(ANSWERS)
    ]
    done = [
        at
        for at in range(len(plan.fields))
        if set(answers[at * size : (at + 1) * size]) <= set(ANSWERS)
    ]
    of = np.array([plan.fields[at].stratum for at in done], dtype=np.intp)
    counts = np.bincount(of, minlength=len(plan.strata))
    if not counts.all():
        return None
    shares = np.array([field.mean() for field in values])
    share, low, high = _standard(plan, of, shares)
    each = [
        (int(stratum), weight)
        for at, stratum, field in zip(done, of, values, strict=True)
        for weight in _events(plan, at, field, int(counts[stratum]) * size)
    ]
    voids_hit = np.bincount(
        np.array([part for part, _ in each], dtype=np.intp), minlength=len(counts)
    )
    # A void not hit could be of the heaviest kind: in the part where a point weighs
    # most, and as many points as a usual void covers.
    unseen = max(
        part.weight / (count * size) * max(1.0, plan.void_px2 / part.spacing_px**2)
        for part, count in zip(plan.strata, counts.tolist(), strict=True)
    )
    few_low, few_high = few_hits_interval([weight for _, weight in each], unseen)
    hits = float(sum(field.sum() for field in values))
    return CountFigure(
        share=share,
        standard_low=low,
        standard_high=high,
        relative_accuracy=None
        if high is None or share == 0
        else (high - share) / share,
        few_low=few_low,
        few_high=min(1.0, few_high),
        hits=hits,
        points=len(done) * size,
        fields=len(done),
        few=int(voids_hit.min()) < ENOUGH_HITS,
    )


def _standard(
    plan: CountPlan, of: NDArray[np.intp], shares: NDArray[np.float64]
) -> tuple[float, float | None, float | None]:
    """Estimate and interval by Student's t over fields, part by part.

    Parts add up with their weights; their degrees of freedom by Welch and
    Satterthwaite. With one part this is the standard's own formula.
    """
    share, variance, below = 0.0, 0.0, 0.0
    known = True
    for at, part in enumerate(plan.strata):
        mine = shares[of == at]
        share += part.weight * float(mine.mean())
        if len(mine) < _TWO:
            known = False
            continue
        term = part.weight**2 * float(mine.var(ddof=1)) / len(mine)
        variance += term
        below += term**2 / (len(mine) - 1)
    if not known:
        return share, None, None
    degrees = variance**2 / below if below else 1.0
    half = float(t_ppf(1 - _TAIL, degrees)) * math.sqrt(variance)
    return share, max(0.0, share - half), min(1.0, share + half)


def _events(
    plan: CountPlan, at: int, values: NDArray[np.float64], points: int
) -> Sequence[float]:
    """Weights of the voids that a field hit: neighbouring hits are one void."""
    hit = np.flatnonzero(values)
    if not len(hit):
        return []
    field = plan.fields[at]
    part = plan.strata[field.stratum]
    where = field.points_px[hit]
    apart = np.hypot(*(where[:, None] - where[None]).transpose(2, 0, 1))
    near = apart <= _NEIGHBOURS * part.spacing_px
    # A field holds few hits: what touches is joined by going on until nothing changes.
    group = np.arange(len(hit))
    for _ in hit:
        group = np.where(near, group[None], len(hit)).min(axis=1)
    sums = np.bincount(group, weights=values[hit])
    weight = part.weight / points
    return [float(one) * weight for one in sums if one > 0]
