"""Chance that the next piece meets its finish target."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import scipy

from analysis.distributions import normal_cdf
from analysis.model.notes import note
from analysis.model.outlook import Chance
from analysis.monitoring.pours import log_shares

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.monitoring import PieceColumns, Track
    from analysis.model.outlook import TargetBand

FEWEST_POURS = 3
FEW_POURS = 8
NEWEST_POURS = 20
DRAWS = 4000
WORTH_NAMING = 0.02


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class _Spread:
    """Mean and variances of the log share: first the estimate, then draws.

    `between` may fall below 0 where it is not told from 0; the sum does not.
    """

    mean: NDArray[np.float64]
    between: NDArray[np.float64]
    within: NDArray[np.float64]

    def chance(self, target: TargetBand) -> NDArray[np.float64]:
        """Chance of each draw that a new piece of a new pour is in the target."""
        return _in_target(self.mean, self.between + self.within, target)


def chance_of_target(
    pieces: PieceColumns, target: TargetBand, *, seed: int = 0
) -> Chance:
    """Give the chance that the next piece, of a new pour, meets the finish target.

    Parameters
    ----------
    pieces : PieceColumns
        1 or more pieces of one kind and of steady pours, e.g. those of a chart
        since its last break.
    target : TargetBand
        Band of shares, both ends included.
    seed : int
        Of the draws, so that the same table gives the same figures.

    Returns
    -------
    Chance
        With fewer than 3 pours only the share of firsts so far.

    Notes
    -----
    Log shares with pours as random effects; the interval is by fiducial draws of the
    mean and of the variances between and within pours.

    Unweighted pour means for unequal numbers of pieces: J. D. Thomas and R. A.
    Hultquist, Annals of Statistics 6 (1978) 582-587. Fiducial (generalised)
    intervals: S. Weerahandi, Journal of the American Statistical Association 88
    (1993) 899-905. Share of firsts with pours as clusters: E. L. Korn and B. I.
    Graubard, Survey Methodology 24 (1998) 193-201. All three from memory.

    Examples
    --------
    >>> from analysis.model.outlook import TargetBand
    >>> from analysis.monitoring.made_pieces import pieces
    >>> shares = [0.004, 0.005, 0.003, 0.004, 0.006, 0.004, 0.005, 0.003]
    >>> found = chance_of_target(pieces(shares), TargetBand(low=0.0, high=0.01))
    >>> found.chance > 0.9, found.low < found.chance < found.high
    (True, True)
    """
    _, of_piece = np.unique(pieces.pour, return_inverse=True)
    n_pours = int(of_piece.max()) + 1
    inside = (pieces.void_share >= target.low) & (pieces.void_share <= target.high)
    firsts, firsts_low, firsts_high = _share_of_firsts(inside, of_piece, n_pours)
    chance = low = high = mended = None
    limited = "not_known"
    notes = []
    if n_pours < FEWEST_POURS:
        notes.append(note("too_early_to_say", pours=n_pours, fewest=FEWEST_POURS))
    else:
        rng = np.random.default_rng(seed)
        spread = _draws(log_shares(pieces), of_piece, n_pours, rng)
        chances = spread.chance(target)
        chance = float(chances[0])
        low, high = (float(x) for x in np.quantile(chances[1:], [0.025, 0.975]))
        low, high = min(low, chance), max(high, chance)
        limited, mended = _what_limits(spread, chance, target)
        if n_pours < FEW_POURS:
            notes.append(note("wide_interval", pours=n_pours))
    return Chance(
        chance=chance,
        low=low,
        high=high,
        firsts=firsts,
        firsts_low=firsts_low,
        firsts_high=firsts_high,
        n_pours=n_pours,
        n_pieces=len(pieces),
        limited_by=limited,
        if_mended=mended,
        notes=tuple(notes),
    )


def chance_now(pieces: PieceColumns, result: Track, target: TargetBand) -> Chance:
    """Give the chance from the newest pours of a chart.

    Parameters
    ----------
    pieces : PieceColumns
        The table the track was made from.
    result : Track
        From `analysis.monitoring.charts.track`.
    target : TargetBand
        Band of shares.

    Returns
    -------
    Chance
        From the pours since the last break, the newest 20 at most; a note says so
        where one of the newest 8 carries a signal.

    Examples
    --------
    >>> from analysis.model.outlook import TargetBand
    >>> from analysis.monitoring.charts import track
    >>> from analysis.monitoring.made_pieces import pieces
    >>> table = pieces([0.004, 0.005, 0.003, 0.004] * 10)
    >>> found = chance_now(table, track(table), TargetBand(low=0.0, high=0.01))
    >>> found.n_pours
    20
    """
    points = result.points
    newest = len(points) - NEWEST_POURS
    first = max(newest, int(np.flatnonzero(points.era == points.era[-1])[0]))
    rows = result.piece_rows[result.pour_of_piece >= first]
    found = chance_of_target(pieces.take(rows), target)
    late = slice(max(first, len(points) - FEW_POURS), None)
    if not points.signals[:, late].any():
        return found
    return replace(found, notes=(*found.notes, note("newest_stand_out")))


def _draws(
    logs: NDArray[np.float64],
    of_piece: NDArray[np.intp],
    n_pours: int,
    rng: np.random.Generator,
) -> _Spread:
    """Estimate, then draw, the mean and the variances of the log share."""
    n_pieces = np.bincount(of_piece, minlength=n_pours)
    means = np.bincount(of_piece, logs, n_pours) / n_pieces
    spare = len(logs) - n_pours
    # A mean of m pieces varies by between + within / m; over unweighted pours 1 / m has
    # the mean `typical`, whence between as a difference below.
    typical = float((1.0 / n_pieces).mean())
    of_means = float(means.var(ddof=1))
    squares = float(((logs - means[of_piece]) ** 2).sum())
    # Squares over a variance are chi-square: squares over draws of it are draws of the
    # variance. Place 0 holds the estimate itself.
    within = np.zeros(DRAWS + 1)
    if spare:
        within[0] = squares / spare
        within[1:] = squares / rng.chisquare(spare, DRAWS)
    pour_variance = np.empty(DRAWS + 1)
    pour_variance[0] = of_means
    pour_variance[1:] = of_means * (n_pours - 1) / rng.chisquare(n_pours - 1, DRAWS)
    error = np.r_[0.0, rng.standard_normal(DRAWS)]
    mean = means.mean() + error * np.sqrt(pour_variance / n_pours)
    between = pour_variance - typical * within
    return _Spread(mean=mean, between=between, within=within)


def _in_target(
    mean: NDArray[np.float64], variance: NDArray[np.float64], target: TargetBand
) -> NDArray[np.float64]:
    """Share of a lognormal inside the target; a variance of 0 is a point."""
    with np.errstate(divide="ignore"):
        low, high = np.log(target.low), np.log(target.high)
    sd = np.sqrt(np.maximum(variance, 1e-18))
    inside: NDArray[np.float64] = normal_cdf((high - mean) / sd) - normal_cdf(
        (low - mean) / sd
    )
    return inside


def _share_of_firsts(
    inside: NDArray[np.bool_], of_piece: NDArray[np.intp], n_pours: int
) -> tuple[float, float, float]:
    """Share of pieces in the target, with an exact interval for pours as clusters."""
    n = len(inside)
    share = float(inside.mean())
    size = float(n)
    if n_pours > 1 and 0.0 < share < 1.0:
        # Pieces of a pour are alike and count for less: the size at which a binomial
        # share would vary as that of these clusters does; then Clopper and Pearson.
        residual = np.bincount(of_piece, inside - share, n_pours)
        variance = n_pours / (n_pours - 1) * float((residual**2).sum()) / n**2
        if variance > 0:
            size = min(size, share * (1.0 - share) / variance)
    elif n_pours < n:
        # All in or all out: no spread to judge by, so the pours count, not the pieces.
        size = float(n_pours)
    hits = share * size
    low = float(scipy.stats.beta.ppf(0.025, hits, size - hits + 1)) if hits > 0 else 0.0
    high = (
        float(scipy.stats.beta.ppf(0.975, hits + 1, size - hits))
        if hits < size
        else 1.0
    )
    return share, low, high


def _what_limits(
    spread: _Spread, chance: float, target: TargetBand
) -> tuple[str, float | None]:
    """Name what would raise the chance most if it alone were put right."""
    mean, within = spread.mean[:1], spread.within[:1]
    total = spread.between[:1] + within
    between = np.maximum(spread.between[:1], 0.0)
    # A band with two ends has a best level: tried on a grid. Without a lower end less
    # is always better; half the voids stand for a level put right.
    steps = np.linspace(-6.0, 6.0, 241) * np.sqrt(total)
    if_mended = {
        "level": float(_in_target(mean + steps, total, target).max())
        if target.low > 0
        else float(_in_target(mean - np.log(2.0), total, target)[0]),
        "pour_to_pour": float(_in_target(mean, within, target)[0]),
        "piece_to_piece": float(_in_target(mean, between, target)[0]),
    }
    best = max(if_mended, key=if_mended.__getitem__)
    if if_mended[best] - chance < WORTH_NAMING:
        return "nothing", None
    return best, if_mended[best]
