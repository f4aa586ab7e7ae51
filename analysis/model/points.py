"""Points: (x, y) as screens give them, (row, col) as arrays hold them."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeAlias

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

# (x, y) px; comparable, so that a request for a reading is.
Points: TypeAlias = tuple[tuple[float, float], ...]


def xy(rows: NDArray[np.float64]) -> Points:
    """Turn (row, col) into (x, y).

    Parameters
    ----------
    rows : ndarray of float64, (n, 2)
        (row, col), px.

    Examples
    --------
    >>> xy(np.array([[1.0, 2.5]]))
    ((2.5, 1.0),)
    """
    return tuple((float(x), float(y)) for y, x in rows)


def row_col(points: Points) -> NDArray[np.float64]:
    """Turn (x, y) into (row, col).

    Parameters
    ----------
    points : Points
        At least one, px.

    Returns
    -------
    ndarray of float64, (n, 2)

    Examples
    --------
    >>> row_col(((2.5, 1.0),)).tolist()
    [[1.0, 2.5]]
    """
    return np.array(points, dtype=np.float64)[:, ::-1]
