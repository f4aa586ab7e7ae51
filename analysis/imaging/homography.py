"""Points of one plane seen on another."""

from __future__ import annotations

import cv2
import numpy as np
from numpy.typing import NDArray

from analysis.model.view import LARGEST_UNCERTAINTY

Points = NDArray[np.float64]
_TRIALS = 64

# Blur and print leave a printed corner sure to about this (own trial on drawn sheets).
CORNER_SD_PX = 0.25


def fitted(start: Points, end: Points) -> tuple[Points, float]:
    """Return the homography between points, and the largest distance it leaves.

    Parameters
    ----------
    start, end : ndarray of float64, (n, 2)
        (x, y), n of 4 or more.

    Returns
    -------
    matrix : ndarray of float64, (3, 3)
    off : float
        In units of `end`.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> matrix, left = fitted(square, 2 * square)
    >>> np.allclose(matrix, np.diag([2.0, 2.0, 1.0])), left < 1e-6
    (True, True)
    """
    # Method 0: least squares over all points. They are few, and one that lies wrong
    # must show in what is left, not be thrown out as by RANSAC.
    matrix = np.array(cv2.findHomography(start, end, 0)[0], dtype=np.float64)
    apart = moved(matrix, start) - end
    return matrix, float(np.hypot(apart[:, 0], apart[:, 1]).max())


def fitted_square(start: Points, end: Points) -> Points:
    """Return the matrix that turns, scales and shifts `start` onto `end` best.

    Parameters
    ----------
    start, end : ndarray of float64, (n, 2)
        (x, y), n of 2 or more.

    Returns
    -------
    ndarray of float64, (3, 3)

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> np.allclose(fitted_square(square, 2 * square + 1)[0], [2.0, 0.0, 1.0])
    True
    """
    # As complex numbers it is end = turn * start + shift, by least squares.
    here, there = (side[:, 0] + 1j * side[:, 1] for side in (start, end))
    off, to = here - here.mean(), there - there.mean()
    turn = np.vdot(off, to) / np.vdot(off, off)
    shift = there.mean() - turn * here.mean()
    return np.array(
        [
            [turn.real, -turn.imag, shift.real],
            [turn.imag, turn.real, shift.imag],
            [0.0, 0.0, 1.0],
        ]
    )


def moved(matrix: Points, points: Points) -> Points:
    """Map (x, y) points.

    Examples
    --------
    >>> moved(np.diag([2.0, 2.0, 1.0]), np.array([[1.0, 3.0]])).tolist()
    [[2.0, 6.0]]
    """
    mapped = np.column_stack([points, np.ones(len(points))]) @ matrix.T
    result: Points = mapped[:, :2] / mapped[:, 2:]
    return result


def slope(matrix: Points, at: Points) -> Points:
    """Return the (2, 2) derivative of a homography at (x, y).

    Examples
    --------
    >>> slope(np.diag([2.0, 3.0, 1.0]), np.array([5.0, 5.0])).tolist()
    [[2.0, 0.0], [0.0, 3.0]]
    """
    # Quotient rule on (x / weight, y / weight).
    x, y, weight = matrix @ np.array([at[0], at[1], 1.0])
    result: Points = (
        matrix[:2, :2] - np.outer([x / weight, y / weight], matrix[2, :2])
    ) / weight
    return result


def spread(start: Points, end: Points, sd: float) -> float:
    """Return how sure lengths in the middle are, given how sure `start` is.

    Parameters
    ----------
    start, end : ndarray of float64, (n, 2)
        (x, y).
    sd : float
        Standard uncertainty of `start`, its units.

    Returns
    -------
    float
        Standard uncertainty as a share, by 64 shaken fits (fixed seed).

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> spread(500 * square, square, 0.0) < 1e-9
    True
    """
    rng = np.random.default_rng(20260101)
    middle = start.mean(axis=0)
    lengths = []
    for _ in range(_TRIALS):
        matrix, _ = fitted(start + rng.normal(0, sd, start.shape), end)
        # The determinant is the ratio of small areas; its root that of lengths,
        # whatever their direction.
        lengths.append(np.sqrt(abs(np.linalg.det(slope(matrix, middle)))))
    found = np.array(lengths)
    return min(float(found.std() / found.mean()), LARGEST_UNCERTAINTY)
