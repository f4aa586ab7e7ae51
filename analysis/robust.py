"""Medians, and the spread that is told by them, which a few wild values do not move."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

# A normal law's deviation over its median absolute deviation: 1 / ndtri(0.75).
MAD_TO_SD: Final = 1.4826


def median(values: NDArray[np.floating[Any]]) -> np.floating[Any]:
    """Return the median, to the last bit as NumPy does in five times the time.

    NumPy looks for both middle ones of an even number at once, which costs it its fast
    way of looking for one; the other is the largest of those before it.

    Parameters
    ----------
    values : ndarray of float, any shape
        All finite; of none the median is not a number.

    Examples
    --------
    >>> float(median(np.array([4.0, 1.0, 3.0, 2.0])))
    2.5
    """
    if not values.size:
        return np.float64(np.nan)
    half = values.size // 2
    # Of more axes than one `partition` would go along the last.
    parted = np.partition(values.reshape(-1), half)
    if values.size % 2:
        return parted[half]  # type: ignore[no-any-return]
    return (parted[:half].max() + parted[half]) / 2  # type: ignore[no-any-return]


def row_medians(rows: NDArray[np.float32]) -> NDArray[np.float32]:
    """Return the median of each row of an even number, as `median` does of all.

    Parameters
    ----------
    rows : ndarray of float32, (n, even)
        All finite.

    Examples
    --------
    >>> row_medians(np.array([[4, 1, 3, 2]], np.float32)).tolist()
    [2.5]
    """
    half = rows.shape[1] // 2
    parted = np.partition(rows, half - 1, axis=1)
    middle = parted[:, half - 1] + parted[:, half:].min(axis=1)
    return np.asarray(middle / 2)


def robust_sd(values: NDArray[np.floating[Any]]) -> float:
    """Return the standard deviation of a normal law with the same middle half.

    Parameters
    ----------
    values : ndarray of float, any shape
        All finite.

    Examples
    --------
    >>> round(robust_sd(np.random.default_rng(1).normal(5.0, 2.0, 20_000)), 1)
    2.0
    """
    return MAD_TO_SD * float(median(np.abs(values - median(values))))
