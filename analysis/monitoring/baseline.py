"""The pours that limits come from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.monitoring.limits import Individuals, individuals
from analysis.monitoring.rules import broken

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import Rule

# Fewer pours leave the limits too uncertain to act on; common practice asks for 20
# to 25, and from 20 on a longer baseline changes the limits little.
FEWEST_POURS = 8
ENOUGH_POURS = 20


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Baseline:
    """Limits of one era, on the natural log of the share.

    Attributes
    ----------
    pours : ndarray of int64, (m,)
        Indices within the era.
    limits : Individuals
        From these pours.
    sigma : ndarray of float64, (n,)
        Standard deviation of each pour of the era: wider for few pieces.
    steady : bool
        Whether these pours show no signal against their own limits.
    """

    pours: NDArray[np.int64]
    limits: Individuals
    sigma: NDArray[np.float64]
    steady: bool


def first_stable(
    log_share: NDArray[np.float64],
    n_pieces: NDArray[np.int64],
    within_variance: float,
    rules: tuple[Rule, ...],
) -> Baseline | None:
    """Take the longest steady start of an era, of 8 to 20 pours.

    Parameters
    ----------
    log_share : ndarray of float64, (n,)
        Pours of the era in time order.
    n_pieces : ndarray of int64, (n,)
        Pieces of each.
    within_variance : float
        Variance of the log between pieces of one pour.
    rules : tuple of Rule
        Rules the start must pass.

    Returns
    -------
    Baseline or None
        None with fewer than 8 pours, or where all of them are the same to the last
        digit. The first 8, marked as not steady, where no start passes.

    Examples
    --------
    >>> from analysis.monitoring.rules import DEFAULT_RULES
    >>> x = np.tile([0.0, 0.1, 0.3, 0.2], 6)
    >>> found = first_stable(x, np.ones(24, dtype=int), 0.0, DEFAULT_RULES)
    >>> len(found.pours), found.steady
    (20, True)
    """
    found = None
    for m in range(min(ENOUGH_POURS, len(log_share)), FEWEST_POURS - 1, -1):
        chosen = np.arange(m)
        found = frozen(log_share, n_pieces, within_variance, rules, chosen)
        if found is not None and found.steady:
            return found
    return found


def frozen(
    log_share: NDArray[np.float64],
    n_pieces: NDArray[np.int64],
    within_variance: float,
    rules: tuple[Rule, ...],
    pours: NDArray[np.int64],
) -> Baseline | None:
    """Take limits from the pours given.

    Parameters
    ----------
    log_share, n_pieces, within_variance, rules
        As for `first_stable`.
    pours : ndarray of int64, (m,)
        Indices, in time order.

    Returns
    -------
    Baseline or None
        None with fewer than 8 pours, or where they are all the same.

    Examples
    --------
    >>> x = np.tile([0.0, 0.1], 4)
    >>> base = frozen(x, np.ones(8, dtype=int), 0.0, (), np.arange(8))
    >>> round(base.limits.sigma, 4)
    0.0887
    """
    if len(pours) < FEWEST_POURS:
        return None
    limits = individuals(log_share[pours])
    if not limits.sigma > 1e-9 * max(1.0, abs(limits.centre)):
        return None
    sigma = pour_sigma(limits.sigma, n_pieces, within_variance, n_pieces[pours])
    standard = (log_share[pours] - limits.centre) / sigma[pours]
    steady = not broken(standard, rules, centre_from=len(pours)).any()
    return Baseline(pours=pours, limits=limits, sigma=sigma, steady=steady)


def pour_sigma(
    sigma: float,
    n_pieces: NDArray[np.int64],
    within_variance: float,
    baseline_pieces: NDArray[np.int64],
) -> NDArray[np.float64]:
    """Give the standard deviation of each pour's mean, for its own number of pieces.

    Parameters
    ----------
    sigma : float
        Of the baseline pours.
    n_pieces : ndarray of int64, (n,)
        Pieces of each pour.
    within_variance : float
        Variance between pieces of one pour.
    baseline_pieces : ndarray of int64, (m,)
        Pieces of the baseline pours.

    Returns
    -------
    ndarray of float64, (n,)
        Equal to `sigma` where all pours have equally many pieces.

    Examples
    --------
    >>> pour_sigma(0.2, np.array([4, 4]), 0.04, np.array([4, 4])).tolist()
    [0.2, 0.2]
    >>> bool(pour_sigma(0.2, np.array([1]), 0.04, np.array([4]))[0] > 0.2)
    True
    """
    # The baseline's variance is between + within * typical; a pour of m pieces has
    # 1 / m in place of typical. What is inside pours cannot be more than all of it.
    typical = float((1.0 / baseline_pieces).mean())
    within = min(within_variance, sigma**2 / typical)
    spread = sigma**2 + within * (1.0 / n_pieces - typical)
    # Pours as large as the typical one get sigma itself, free of rounding.
    return np.where(n_pieces == 1.0 / typical, sigma, np.sqrt(spread))
