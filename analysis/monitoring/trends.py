"""Fits of void share against form use."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.distributions import t_ppf
from analysis.model.outlook import Trend

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import PieceColumns

# Seven castings have 5040 orders, enough for a permutation test at 1 %, but a slope
# from so few is worth little: common practice starts a trend at eight.
FEWEST_CASTINGS = 8
SHUFFLES = 1999
SHUFFLES_A_LOOK = 100  # where shuffling ends once no rise is sure
MOST_KNEES = 40
MOST_POINTS = 200
EDGE = 3
# One steady form in a hundred is called worn at each look; looks are many.
SIGNIFICANT = 0.01
DRAWS = 4000
FAR_USES = 10_000.0


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Castings:
    """Castings of one form or form type in order of use; columns of one length n.

    Attributes
    ----------
    form : ndarray of int, (n,)
        Which form.
    use : ndarray of float64, (n,)
        Form use.
    log_share : ndarray of float64, (n,)
        Mean natural log of the pieces' shares.
    """

    form: NDArray[np.intp]
    use: NDArray[np.float64]
    log_share: NDArray[np.float64]


def castings_of(pieces: PieceColumns, logs: NDArray[np.float64]) -> Castings:
    """Average the pieces of each casting.

    Parameters
    ----------
    pieces : PieceColumns
        All with a form and a form use.
    logs : ndarray of float64, (n,)
        Natural log of the share to fit, a value per piece.

    Returns
    -------
    Castings
        In order of use.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> table = pieces([0.01, 0.04], form=["a", "a"], form_use=[1.0, 1.0])
    >>> castings_of(table, np.log2([2.0, 8.0])).log_share.tolist()
    [2.0]
    """
    _, form = np.unique(pieces.form, return_inverse=True)
    keys, of_piece = np.unique(
        np.column_stack([pieces.form_use, form]), axis=0, return_inverse=True
    )
    n = len(keys)
    mean = np.bincount(of_piece, logs, n) / np.bincount(of_piece, minlength=n)
    return Castings(form=keys[:, 1].astype(np.intp), use=keys[:, 0], log_share=mean)


def _within(form: NDArray[np.intp], values: NDArray[np.float64]) -> NDArray[np.float64]:
    """Take the mean of each form off, along the last axis."""
    # A product with (n, forms) columns of ones serves one series (n,) and a stack of
    # them (k, n) alike.
    onto = (form[:, None] == np.unique(form)).astype(np.float64)
    mean = values @ (onto / onto.sum(axis=0))
    return np.asarray(values - mean @ onto.T)


def trend(
    castings: Castings, rng: np.random.Generator, *, signs_only: bool = False
) -> Trend | None:
    """Fit void share against use.

    Parameters
    ----------
    castings : Castings
        Of one form, or of the forms of one type.
    rng : numpy.random.Generator
        For the shuffles.
    signs_only : bool
        Whether there is a rise is all that is asked: once it is sure that none will be
        called, shuffling ends, and p is that of the shuffles made (Besag and Clifford
        1991, Biometrika 78:301). The shape is the same.

    Returns
    -------
    Trend or None
        None with fewer than 8 castings, or all at one use.

    Examples
    --------
    >>> use = np.arange(1.0, 13.0)
    >>> flat = Castings(form=np.zeros(12, dtype=np.intp), use=use,
    ...     log_share=np.tile([0.1, 0.0, 0.2, 0.1], 3))
    >>> trend(flat, np.random.default_rng(0)).shape
    'none'
    """
    form, use = castings.form, castings.use
    n = len(use)
    spare = n - len(np.unique(form)) - 1
    if n < FEWEST_CASTINGS or spare < EDGE:
        return None
    x = _within(form, use)
    squares = float(x @ x)
    if squares <= 0:
        return None
    y = _within(form, castings.log_share)
    slope = float(x @ y) / squares
    residual = y - slope * x
    error = np.sqrt(float(residual @ residual) / spare / squares)
    reach = float(t_ppf(0.975, spare)) * error
    p_value, shape, change = _shape(_binned(castings), rng, signs_only=signs_only)
    ratio, low, high = np.exp(
        np.clip(10.0 * np.array([slope, slope - reach, slope + reach]), -50, 50)
    )
    return Trend(
        n_castings=n,
        ratio_per_10_uses=float(ratio),
        ratio_low=float(low),
        ratio_high=float(high),
        p_value=p_value,
        shape=shape if p_value <= SIGNIFICANT else "none",
        change_at_use=change if p_value <= SIGNIFICANT else None,
    )


def _binned(castings: Castings) -> Castings:
    """Average neighbouring castings of a form where there are very many."""
    per_bin = -(-len(castings.use) // MOST_POINTS)
    if per_bin == 1:
        return castings
    order = np.lexsort((castings.use, castings.form))
    form = castings.form[order]
    # In sorted forms the place where a casting's form begins; what lies before it is
    # the casting's number in its form.
    start = np.searchsorted(form, form)
    place = (np.arange(len(form)) - start) // per_bin
    _, bins = np.unique(form * (place.max() + 1) + place, return_inverse=True)
    count = np.bincount(bins)
    use = np.bincount(bins, castings.use[order]) / count
    logs = np.bincount(bins, castings.log_share[order]) / count
    of_form = np.zeros(len(count), dtype=np.intp)
    of_form[bins] = form
    # Back to order of use, as `castings_of` gives it.
    again = np.argsort(use, kind="stable")
    return Castings(form=of_form[again], use=use[again], log_share=logs[again])


def _shape(
    castings: Castings, rng: np.random.Generator, *, signs_only: bool
) -> tuple[float, str, float | None]:
    """Test for any rise by permutation and name the shape that fits best."""
    form, use = castings.form, castings.use
    y = _within(form, castings.log_share)
    if not float(y @ y) > 0.0:
        return 1.0, "steady_rise", None  # all castings alike
    # A knee needs castings on both sides.
    knees = np.unique(use)[EDGE - 1 : -(EDGE - 1)]
    if len(knees) > MOST_KNEES:
        knees = knees[np.linspace(0, len(knees) - 1, MOST_KNEES).astype(int)]
    # (1 + 2 k, n): the line, a bend at each knee, a step after each knee.
    shapes = np.vstack(
        [use[None], np.maximum(use - knees[:, None], 0.0), use > knees[:, None]]
    )
    shapes = _within(form, shapes)
    # At length 1 the product with y is the fit: its square is what the shape explains,
    # and its sign tells a rise from a fall.
    length = np.sqrt((shapes**2).sum(axis=1))
    usable = length > 0
    unit = np.where(usable[:, None], shapes / np.where(usable, length, 1.0)[:, None], 0)
    fit = unit @ y
    best = float(fit.max())
    p_value = _p_of(best, unit, form, y, rng, signs_only=signs_only)
    # A knee or step costs a second parameter: it must beat the line by the
    # Bayesian information criterion.
    n, total = len(y), float(y @ y)
    left = np.maximum(total - np.maximum(fit, 0.0) ** 2, 1e-12 * total)
    cost = n * np.log(left) + np.log(n) * np.r_[1.0, np.full(2 * len(knees), 2.0)]
    cost = np.where(fit > 0, cost, np.inf)
    chosen = int(cost.argmin())
    if chosen == 0 or not np.isfinite(cost[chosen]):
        return p_value, "steady_rise", None
    if chosen <= len(knees):
        return p_value, "rise_after", float(knees[chosen - 1])
    knee = knees[chosen - 1 - len(knees)]
    return p_value, "step_at", float(use[use > knee].min())


def _p_of(
    best: float,
    unit: NDArray[np.float64],
    form: NDArray[np.intp],
    y: NDArray[np.float64],
    rng: np.random.Generator,
    *,
    signs_only: bool,
) -> float:
    """Return p of the best fit among shuffled castings.

    `unit` are the shapes, (k, n), each of length 1.
    """
    at_a_time = SHUFFLES
    if signs_only and not form.any():  # of several, each draws all of its shuffles
        at_a_time = SHUFFLES_A_LOOK
    # Once so many shuffles reach the fit that p cannot be SIGNIFICANT any more, more of
    # them only make p more exact.
    made = reached = 0
    while made < SHUFFLES and 1 + reached <= SIGNIFICANT * (1 + SHUFFLES):
        shuffled = _shuffled(form, y, rng, min(at_a_time, SHUFFLES - made))
        at_least = (shuffled @ unit.T).max(axis=1) >= best * (1 - 1e-12)
        made += len(shuffled)
        reached += int(at_least.sum())
    return (1 + reached) / (1 + made)


def _shuffled(
    form: NDArray[np.intp],
    y: NDArray[np.float64],
    rng: np.random.Generator,
    shuffles: int,
) -> NDArray[np.float64]:
    """Shuffle the castings of each form among themselves, (shuffles, n)."""
    out = np.tile(y, (shuffles, 1))
    forms = np.unique(form)
    if len(forms) == 1:  # the same shuffles, in place
        return rng.permuted(out, axis=1, out=out)
    for one in forms:
        columns = np.flatnonzero(form == one)
        out[:, columns] = rng.permuted(out[:, columns], axis=1)
    return out


def remaining(
    castings: Castings, uses: float, high: float, rng: np.random.Generator
) -> tuple[float | None, float | None, float | None]:
    """Castings until the fitted line leaves the target; None where not carried.

    Parameters
    ----------
    castings : Castings
        Of one form.
    uses : float
        Highest form use seen.
    high : float
        Upper end of the target, 0..1.
    rng : numpy.random.Generator
        For the draws.

    Returns
    -------
    tuple of float or None
        Low, best, high; 0 is 'outside already', high None 'no end in sight'.

    Notes
    -----
    The data carry it when the 95 % interval of the slope lies above 0. The interval
    comes from draws of line and residual variance given the data (flat prior),
    which for a straight line are the usual t distributions.

    Examples
    --------
    >>> use = np.arange(1.0, 13.0)
    >>> rising = Castings(form=np.zeros(12, dtype=np.intp), use=use,
    ...     log_share=np.log(0.001) + 0.1 * use + np.tile([0.01, -0.01], 6))
    >>> low, best, high = remaining(rising, 12.0, 0.01, np.random.default_rng(0))
    >>> round(best)
    11
    """
    n = len(castings.use)
    x = castings.use - castings.use.mean()
    y = castings.log_share
    squares = float(x @ x)
    slope = float(x @ y) / squares
    residual = y - y.mean() - slope * x
    rest = float(residual @ residual)
    error = np.sqrt(rest / (n - 2) / squares)
    if slope - float(t_ppf(0.975, n - 2)) * error <= 0:
        return None, None, None
    # Given sigma, slope and level at the mean use are independent: two plain draws.
    sigma = np.sqrt(rest / rng.chisquare(n - 2, DRAWS))
    slopes = slope + sigma * rng.standard_normal(DRAWS) / np.sqrt(squares)
    levels = y.mean() + sigma * rng.standard_normal(DRAWS) / np.sqrt(n)
    now = uses - castings.use.mean()
    ahead = np.log(high) - levels - slopes * now
    with np.errstate(divide="ignore", invalid="ignore"):
        draws = np.where(ahead <= 0, 0.0, np.where(slopes > 0, ahead / slopes, np.inf))
    # No interpolation: between two draws that never end it would not be a number.
    low, top = np.quantile(draws, [0.025, 0.975], method="inverted_cdf")
    best = max(0.0, float(np.log(high) - y.mean() - slope * now) / slope)
    return float(low), best, float(top) if top < FAR_USES else None
