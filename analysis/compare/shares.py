"""The ratio of area-weighted means, with zeros as zeros.

Void area is taken as a mean rate times the face's area, multiplied by the level and by
what is taken out: Poisson's score equations with blocks conditioned on, which for two
plain groups give the ratio of total void area over total face area. They need no
Poisson counts (Gourieroux, Monfort and Trognon 1984, Econometrica 52:701); the standard
error comes from the units themselves, each weighed by what its leverage leaves of it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from analysis.compare.design import codes

if TYPE_CHECKING:
    from numpy.typing import NDArray

STEPS = 50
CLOSE = 1e-10
FARTHEST = 30.0  # log ratio beyond which one side is as good as empty


class MeanRatio(NamedTuple):
    """Log of the ratio of area-weighted means, and its standard error."""

    log_ratio: float
    standard_error: float


def mean_ratio(
    share: NDArray[np.float64],
    area: NDArray[np.float64],
    x: NDArray[np.float64],
    block: NDArray[np.int64],
    unit: NDArray[np.int64],
    columns: NDArray[np.float64] | None = None,
) -> MeanRatio | None:
    """Estimate the ratio of the first level's mean share to the second's.

    Parameters
    ----------
    share : ndarray of float64, (n,)
        Void share in any unit, zeros as zeros.
    area : ndarray of float64, (n,)
        Face area; alike where it is not known.
    x : ndarray of float64, (n,)
        1 for the first level.
    block : ndarray of int64, (n,)
        Pieces are compared inside blocks: pours that hold both levels, or strata.
    unit : ndarray of int64, (n,)
        What counts as one for the standard error.
    columns : ndarray of float64, (n, k), optional
        What is taken out.

    Returns
    -------
    MeanRatio or None
        None where a side holds no void, or the ratio cannot be told.

    Examples
    --------
    >>> share = np.array([0.0, 0.4, 0.6, 1.0])
    >>> area = np.array([1.0, 1, 1, 3])
    >>> zeros = np.zeros(4, dtype=np.int64)
    >>> found = mean_ratio(share, area, np.array([1.0, 1, 0, 0]), zeros, np.arange(4))
    >>> round(float(np.exp(found.log_ratio)), 4)
    0.2222
    """
    given = x[:, None] if columns is None else np.column_stack([x, columns])
    # Newton's steps on a score that is monotone in the effect; a step is cut at 2 on
    # the log scale, since the first one may overshoot far.
    amount = np.asarray(share * area, dtype=np.float64)
    if min(amount[x > 0].sum(), amount[x == 0].sum()) <= 0:
        return None
    block = codes(block)
    total = np.asarray(np.bincount(block, amount), dtype=np.float64)
    effect = np.zeros(given.shape[1])
    for _ in range(STEPS):
        expected, centred, score, information = _step(
            amount, area, given, block, total, effect
        )
        inverse = np.asarray(
            np.linalg.pinv(information, rcond=1e-9, hermitian=True), dtype=np.float64
        )
        move = inverse @ score
        move *= min(1.0, 2.0 / max(float(np.abs(move).max()), 1e-300))
        effect = effect + move
        if float(np.abs(move).max()) < CLOSE:
            break
    if abs(effect[0]) > FARTHEST or information[0, 0] <= 0:
        return None
    return MeanRatio(
        float(effect[0]),
        _error(amount, expected, centred, inverse, total, block, codes(unit)),
    )


def _step(
    amount: NDArray[np.float64],
    area: NDArray[np.float64],
    given: NDArray[np.float64],
    block: NDArray[np.int64],
    total: NDArray[np.float64],
    effect: NDArray[np.float64],
) -> tuple[
    NDArray[np.float64], NDArray[np.float64], NDArray[np.float64], NDArray[np.float64]
]:
    """Return expected void area, centred columns, score and information."""
    # Given its block's total, a piece expects a part in proportion to its weight: the
    # block's own level cancels (a Poisson model conditioned on totals is multinomial).
    weight = area * np.exp(np.clip(given @ effect, -FARTHEST, FARTHEST))
    share = weight / np.bincount(block, weight)[block]
    expected = share * total[block]
    middle = np.column_stack([np.bincount(block, share * c) for c in given.T])
    centred = given - middle[block]
    score = centred.T @ (amount - expected)
    information = (centred * expected[:, None]).T @ centred
    return expected, centred, score, information


def _error(
    amount: NDArray[np.float64],
    expected: NDArray[np.float64],
    centred: NDArray[np.float64],
    inverse: NDArray[np.float64],
    total: NDArray[np.float64],
    block: NDArray[np.int64],
    unit: NDArray[np.int64],
) -> float:
    """Return the standard error from the units, blown up by their leverage."""
    units = int(unit.max()) + 1
    # Sandwich with HC2-like leverage: residuals are summed inside units before
    # squaring, and the leverage has a part for the columns and one for the block's
    # total. It is capped, so that a unit that fits itself does not count without bound.
    own = centred @ inverse[:, 0]
    added = np.bincount(unit, own * (amount - expected), units)
    spread = expected * ((centred @ inverse) * centred).sum(axis=1)
    leverage = np.bincount(
        unit, spread + expected / np.maximum(total, 1e-300)[block], units
    )
    return float((added**2 / np.clip(1 - leverage, 0.05, None)).sum() ** 0.5)
