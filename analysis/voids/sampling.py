"""How far the share of a face may be off because the photo shows a part of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SET = SETTINGS.interval


def tile_sums(
    mask: NDArray[np.bool_], face: NDArray[np.bool_]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sum void and face pixels over about 8 tiles along the longer side.

    Parameters
    ----------
    mask, face : ndarray of bool, (rows, cols)
        Counted voids; measured pixels.

    Returns
    -------
    voids, faces : ndarray of float64, (n,)
        Tiles without face are left out.

    Examples
    --------
    >>> voids, faces = tile_sums(np.zeros((80, 80), bool), np.ones((80, 80), bool))
    >>> len(faces), float(faces.sum())
    (64, 6400.0)
    """
    rows, cols = face.shape
    side = max(1, -(-max(rows, cols) // _SET.tiles_across))

    def summed(array: NDArray[np.bool_]) -> NDArray[np.float64]:
        down = [array[top : top + side].sum(axis=0) for top in range(0, rows, side)]
        tiles = np.add.reduceat(np.stack(down), np.arange(0, cols, side), axis=1)
        return tiles.ravel().astype(np.float64)

    faces = summed(face)
    inside = faces > 0
    return summed(mask & face)[inside], faces[inside]


def sampled_interval(
    voids: NDArray[np.float64],
    faces: NDArray[np.float64],
    areas: NDArray[np.float64] | None = None,
) -> tuple[float, float]:
    """95 % interval of the share of the face as cast, by block bootstrap.

    Tiles are drawn anew with replacement; the ends are percentiles of the ratio of
    sums, widened for few tiles as Student's t widens a normal interval. Few voids give
    few different sums: where their areas are known, the ends are at least those of a
    gamma law with the spread of that many voids, as Garwood's are for a count (1936).

    Parameters
    ----------
    voids, faces : ndarray of float64, (n,)
        Void and face area of each tile, n of 1 or more.
    areas : ndarray of float64, (m,), optional
        Area of each void.

    Returns
    -------
    low, high : float
        Shares, 0..1.

    Examples
    --------
    >>> sampled_interval(np.array([2.0, 2.0]), np.array([100.0, 100.0]))
    (0.02, 0.02)
    """
    share = float(voids.sum() / faces.sum())
    tiles = len(voids)
    if tiles == 1:
        return 0.0, 1.0
    rng = np.random.default_rng(_SET.seed)
    drawn = rng.multinomial(tiles, np.full(tiles, 1.0 / tiles), size=_SET.draws)
    ratios = (drawn @ voids) / np.maximum(drawn @ faces, 1e-9)
    low, high = np.percentile(ratios, [2.5, 97.5])
    wider = float(special.stdtrit(tiles - 1, 0.975) / special.ndtri(0.975))
    low = max(0.0, share - (share - float(low)) * wider)
    high = min(1.0, share + (float(high) - share) * wider)
    if areas is None or len(areas) == 0 or share == 0.0:
        return low, high
    spread = max(
        float((areas**2).sum() / areas.sum() ** 2),
        (float(ratios.std()) / share * wider) ** 2,
    )
    alike = 1.0 / spread  # so many voids of one size would spread as much
    return (
        min(low, share * float(special.gammaincinv(alike, 0.025)) / alike),
        min(
            1.0, max(high, share * float(special.gammaincinv(alike + 1, 0.975)) / alike)
        ),
    )
