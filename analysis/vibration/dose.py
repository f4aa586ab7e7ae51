"""A curve of the log share over vibration time that may bend either way.

The log share of a piece is the sum of a level, settings that are adjusted for, a curve
over the logarithm of the seconds, its pour and itself. The curve is a Gaussian process
with a straight part (Rasmussen and Williams, Gaussian Processes for Machine Learning,
2006, chapter 2): it follows what was cast, may bend back, and grows unsure beyond the
longest and below the shortest time tried. What is adjusted for has a prior as wide as
such settings act in practice; where it always went along with the seconds, the curve
stays as unsure as that. The two spreads, between pours and between pieces, are not
estimated but averaged over a grid, so that few pours give wide intervals.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

BEND_LENGTH = np.log(3.0)  # in log seconds: what tripling the time can undo
BENDS = np.array([0.02, 0.3, 0.7, 1.4])  # SD of the log share about the straight part
SLOPE_SD = 0.8  # of the straight part, per unit of log seconds
LEVEL_SD = 2.0
BETWEEN = np.array([0.04, 0.12, 0.2, 0.3, 0.4, 0.5, 0.65, 0.8, 1.0])  # even: flat prior
WITHIN = np.geomspace(0.04, 1.5, 12)
DRAWS = 4000
SMALL = 1e-6


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Doses:
    """Pieces with their seconds, ready for the curve.

    Attributes
    ----------
    y : ndarray of float64, (n,)
        Natural log of the share.
    u : ndarray of float64, (n,)
        Log seconds, see `log_seconds`.
    pour : ndarray of int64, (n,)
        Numbered from 0.
    covariates : ndarray of float64, (n, q)
        Settings adjusted for.
    covariate_sd : ndarray of float64, (q,)
        How far each may act, SD of the log share.
    """

    y: NDArray[np.float64]
    u: NDArray[np.float64]
    pour: NDArray[np.int64]
    covariates: NDArray[np.float64]
    covariate_sd: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draws:
    """What the curve and the settings may be, given the pieces.

    Attributes
    ----------
    level : ndarray of float64, (d,)
        Log share with every covariate at 0, without the curve.
    curve : ndarray of float64, (d, m)
        To be added at each time asked for.
    covariates : ndarray of float64, (d, q)
        Effects of the settings adjusted for.
    between, within : float
        Expected spread of log shares between pours and between pieces of one.
    """

    level: NDArray[np.float64]
    curve: NDArray[np.float64]
    covariates: NDArray[np.float64]
    between: float
    within: float


def log_seconds(
    seconds: NDArray[np.float64], tried: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Return log seconds on a scale that holds 0 s.

    Parameters
    ----------
    seconds : ndarray of float64
        Times, s.
    tried : ndarray of float64
        All times tried; a tenth of their median is added before the logarithm.

    Examples
    --------
    >>> log_seconds(np.array([0.0, 30.0]), np.array([30.0])).round(2).tolist()
    [1.1, 3.5]
    """
    positive = tried[tried > 0]
    start = 0.1 * float(np.median(positive)) if len(positive) else 1.0
    return np.asarray(np.log(seconds + start))


def _features(
    u: NDArray[np.float64], at: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return columns whose weights are independent and give the bent part."""
    # A process with covariance K is V root(L) w of independent w, from K = V L V'. One
    # node for each time; directions of next to no variance are dropped.
    nodes, place = np.unique(np.concatenate([u, at]).round(3), return_inverse=True)
    gap = (nodes[:, None] - nodes) / BEND_LENGTH
    values, vectors = np.linalg.eigh(np.exp(-0.5 * gap**2))
    keep = values > SMALL * values[-1]
    columns = (vectors[:, keep] * np.sqrt(values[keep]))[place.reshape(-1)]
    return columns[: len(u)], columns[len(u) :]


def draw_curves(
    doses: Doses, at: NDArray[np.float64], *, draws: int = DRAWS, seed: int = 20_017
) -> Draws:
    """Draw curves that the pieces allow.

    Parameters
    ----------
    doses : Doses
        Pieces; one at least.
    at : ndarray of float64, (m,)
        Log seconds at which the curve is wanted.
    draws : int
        How many, about.
    seed : int
        Of the draws.

    Examples
    --------
    >>> u = np.repeat(np.log([10.0, 20.0, 40.0]), 8)
    >>> pour = np.repeat(np.arange(12), 2)
    >>> random = np.random.default_rng(1)
    >>> y = -0.7 * u + random.normal(0, 0.1, 12)[pour] + random.normal(0, 0.1, 24)
    >>> doses = Doses(y=y, u=u, pour=pour, covariates=np.empty((24, 0)),
    ...               covariate_sd=np.empty(0))
    >>> found = draw_curves(doses, np.log([10.0, 40.0]))
    >>> gained = found.curve[:, 1] - found.curve[:, 0]
    >>> bool(np.percentile(gained, 97.5) < np.log(0.6))
    True
    """
    bent, bent_at = _features(doses.u, at)
    centre = float(doses.u.mean())
    count, adjusted = doses.covariates.shape
    x = np.column_stack([np.ones(count), doses.covariates, doses.u - centre, bent])
    x_at = np.column_stack([at - centre, bent_at])
    base = float(doses.y.mean())
    posterior = _posterior(doses, x, doses.y - base)
    weight = posterior.weight
    random = np.random.default_rng(seed)
    # Draws shared out over the spreads by their weight, rounded up or down by lot so
    # that small weights get theirs on average.
    counts = np.floor(weight * draws + random.random(len(weight))).astype(np.int64)
    parts = []
    for cell in np.flatnonzero(counts):
        noise = random.standard_normal((counts[cell], x.shape[1]))
        # The precision is R R': the draws need its inverse's root, R^-T times noise.
        root = posterior.root[cell]
        parts.append(posterior.mean[cell] + np.linalg.solve(root.T, noise.T).T)
    drawn = np.concatenate(parts)
    return Draws(
        level=base + drawn[:, 0],
        curve=drawn[:, 1 + adjusted :] @ x_at.T,
        covariates=drawn[:, 1 : 1 + adjusted],
        between=float(weight @ posterior.between),
        within=float(weight @ posterior.within),
    )


class _Posterior(NamedTuple):
    """The weights' distribution for each pair of spreads and each bend."""

    weight: NDArray[np.float64]
    mean: NDArray[np.float64]
    root: NDArray[np.float64]  # lower Cholesky factor of the precision
    between: NDArray[np.float64]
    within: NDArray[np.float64]


def _posterior(
    doses: Doses, x: NDArray[np.float64], y: NDArray[np.float64]
) -> _Posterior:
    within, between, bend = (
        part.reshape(-1) for part in np.meshgrid(WITHIN, BETWEEN, BENDS, indexing="ij")
    )
    size = np.bincount(doses.pour).astype(np.float64)
    pours, columns = len(size), x.shape[1]
    summed = np.column_stack([np.bincount(doses.pour, one, pours) for one in x.T])
    y_summed = np.bincount(doses.pour, y)
    # V = within^2 I + between^2 on the block of each pour; inverted in closed form.
    # Pours of as many pieces are shrunk alike, so theirs are added up first: `blocks`
    # is (sizes, columns * columns), `shrink` (spreads, sizes).
    size, alike, times = np.unique(size, return_inverse=True, return_counts=True)
    blocks, sides, squares = (
        np.zeros((len(size), columns * columns)),
        np.zeros((len(size), columns)),
        np.bincount(alike, y_summed**2),
    )
    for n in range(len(size)):
        mine = summed[alike == n]
        blocks[n] = (mine.T @ mine).reshape(-1)
        sides[n] = y_summed[alike == n] @ mine
    # (I + ratio J)^-1 = I - shrink J for n pieces, shrink = ratio / (1 + n ratio).
    ratio = (between / within)[:, None] ** 2
    shrink = ratio / (1 + ratio * size)
    unit = within**2
    # In place: over four hundred spreads times a hundred forms squared.
    precision = (shrink @ blocks).reshape(-1, columns, columns)
    np.subtract(x.T @ x, precision, out=precision)
    precision /= unit[:, None, None]
    side = (x.T @ y - shrink @ sides) / unit[:, None]
    left = (y @ y - shrink @ squares) / unit
    adjusted = len(doses.covariate_sd) + 2
    fixed = np.concatenate([[LEVEL_SD**2], doses.covariate_sd**2, [SLOPE_SD**2]])
    variance = np.ones((len(unit), columns))
    variance[:, :adjusted] = fixed
    variance[:, adjusted:] = bend[:, None] ** 2
    at = np.arange(columns)
    precision[:, at, at] += 1 / variance
    root = np.linalg.cholesky(precision)
    mean = np.linalg.solve(precision, side[:, :, None])[:, :, 0]
    # Log of the evidence up to a constant, weights integrated out: determinants of V
    # (first two terms), of the posterior precision and of the prior, then the squares
    # left at the posterior mean.
    log_weight = -0.5 * (
        len(y) * np.log(unit)
        + np.log1p(ratio * size) @ times
        + 2 * np.log(root[:, at, at]).sum(axis=1)
        + np.log(variance).sum(axis=1)
        + left
        - (side * mean).sum(axis=1)
    )
    weight = np.exp(log_weight - log_weight.max())
    return _Posterior(weight / weight.sum(), mean, root, between, within)
