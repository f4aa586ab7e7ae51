"""How far the share of a face may be off because the photo shows a part of it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np
from scipy import special

from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

_SET = SETTINGS.interval


def tile_sums(
    mask: NDArray[np.bool_], face: NDArray[np.bool_], across: int
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Sum void and face pixels over tiles, so many along the longer side.

    Parameters
    ----------
    mask, face : ndarray of bool, (rows, cols)
        Counted voids; measured pixels.
    across : int

    Returns
    -------
    voids, faces : ndarray of float64, (n,)
        Tiles without face are left out.

    Examples
    --------
    >>> none = np.zeros((80, 80), bool)
    >>> voids, faces = tile_sums(none, ~none, 8)
    >>> len(faces), float(faces.sum())
    (64, 6400.0)
    """
    rows, cols = face.shape
    side = max(1, -(-max(rows, cols) // across))

    def summed(array: NDArray[np.bool_]) -> NDArray[np.float64]:
        # Rows of each strip first, then columns: numbers are held for strips alone,
        # never for the whole photo.
        # OpenCV adds bytes up many at a time.
        down = [
            cv2.reduce(
                array[top : top + side].view(np.uint8),
                0,
                cv2.REDUCE_SUM,
                dtype=cv2.CV_32S,
            )
            for top in range(0, rows, side)
        ]
        tiles = np.add.reduceat(np.concatenate(down), np.arange(0, cols, side), axis=1)
        return tiles.ravel().astype(np.float64)

    faces = summed(face)
    inside = faces > 0
    return summed(mask & face)[inside], faces[inside]


def tile_variance(voids: NDArray[np.float64], faces: NDArray[np.float64]) -> float:
    """Variance of the share over its square, from how it differs between tiles.

    That of a ratio of sums (Cochran, Sampling Techniques, 3rd ed. 1977, 6.4), as much
    larger as Student's interval is wider than the normal one, squared.

    Parameters
    ----------
    voids, faces : ndarray of float64, (n,)
        Void and face area of each tile, n of 2 or more; some void in all.

    Returns
    -------
    float

    Examples
    --------
    >>> tile_variance(np.array([2.0, 2.0]), np.array([100.0, 100.0]))
    0.0
    """
    tiles = len(voids)
    # What each tile has beyond its face times the share of all.
    off = voids - voids.sum() / faces.sum() * faces
    variance = tiles / (tiles - 1) * float((off**2).sum()) / float(voids.sum()) ** 2
    wider = float(special.stdtrit(tiles - 1, 0.975) / special.ndtri(0.975))
    return variance * wider**2


def gamma_ends(share: float, relative_variance: float) -> tuple[float, float]:
    """95 % ends of a share whose void area follows a gamma law.

    The sum of voids of any sizes is nearly so (a compound Poisson sum); for voids of
    one size the ends are those of Garwood (1936) for a count.

    Parameters
    ----------
    share : float
        0..1.
    relative_variance : float
        Above 0.

    Returns
    -------
    low, high : float
        0..1.

    Examples
    --------
    >>> low, high = gamma_ends(0.05, 1 / 5)  # five voids of one size
    >>> round(100 * low, 2), round(100 * high, 2)
    (1.62, 11.67)
    """
    alike = 1.0 / relative_variance  # so many voids of one size would spread as much
    low = share * float(special.gammaincinv(alike, 0.025)) / alike
    high = share * float(special.gammaincinv(alike + 1, 0.975)) / alike
    return low, min(1.0, high)


def sampled_interval(
    mask: NDArray[np.bool_], face: NDArray[np.bool_], areas: NDArray[np.float64]
) -> tuple[float, float]:
    """95 % interval of the share of the face as cast, of which a photo is a sample.

    The spread is the largest of three: between small tiles, between larger ones (voids
    come in clouds larger than a small tile), and of that many voids of such sizes; all
    a little larger where few voids tell it. What differs over more than the photo
    shows, such as a slope along the face, no single photo tells.

    Parameters
    ----------
    mask, face : ndarray of bool, (rows, cols)
        Counted voids; measured pixels.
    areas : ndarray of float64, (n,)
        Area of each void.

    Returns
    -------
    low, high : float
        Shares, 0..1; both 0 without a void.

    Examples
    --------
    >>> mask = np.zeros((80, 80), bool)
    >>> mask[::10, ::10] = True
    >>> low, high = sampled_interval(mask, np.ones_like(mask), np.ones(64))
    >>> round(100 * low, 2), round(100 * high, 2)
    (0.77, 1.28)
    """
    counted = mask & face
    if len(areas) == 0 or not counted.any():
        return 0.0, 0.0
    share = float(np.count_nonzero(counted) / np.count_nonzero(face))
    # Relative variance of a sum of voids that came by chance (a compound Poisson sum).
    spreads = [float((areas**2).sum() / areas.sum() ** 2)]
    for across in (_SET.tiles_across, _SET.large_tiles_across):
        voids, faces = tile_sums(counted, face, across)
        if len(voids) > 1:
            spreads.append(tile_variance(voids, faces))
    few = 1.0 + _SET.few_voids / len(areas)
    return gamma_ends(share, max(spreads) * few)
