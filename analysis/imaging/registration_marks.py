"""A first guess of how two photos of one face lie on each other, from its mottling."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Plane = NDArray[np.float32]
    Points = NDArray[np.float64]

# Mottling this far from the local light is kept; pits and grains are far beyond and
# are cut off, so that a shadow that changes sides says little.
_KEPT_LOG, _FULL_LOG = 0.24, (0.12, 0.08)
# Px of the smoothing, and the reduction, of the two looks: fine and coarse mottling.
_LOOKS = ((1.6, 1.0), (2.6, 2.0))
_SEARCHED_PX = 640
_FEATURES, _CONTRAST, _EDGE = 1200, 0.01, 20.0
# Lowe's ratio (2004, Int. J. Computer Vision 60) set wide: RANSAC sorts out the rest.
_RATIO = 0.85
_COARSE_PX, _FINE_PX, _NEAR_PX = 6.0, 3.0, 15.0
_FEWEST, _FEWEST_FOR_PLANE = 10, 24
# So many marks of the coarse look agree that the fine one, three times as slow, would
# add nothing: blocks refine the guess.
_ENOUGH = 400
_TRIALS = 4000


def guessed(
    first: Plane, second: Plane, inside: NDArray[np.bool_]
) -> tuple[Points | None, int]:
    """Match marks of two levelled photos.

    Parameters
    ----------
    first, second : ndarray of float32, (rows, cols)
        Log of the light over the local light.
    inside : ndarray of bool, (rows, cols)
        Where `first` shows the face.

    Returns
    -------
    matrix : ndarray of float64, (3, 3), or None
        From (x, y, 1) px of the first to the second; None when too few agree.
    count : int
        Marks that agree on it.

    Examples
    --------
    >>> rng = np.random.default_rng(1)
    >>> rough = rng.normal(0, 1, (400, 500)).astype(np.float32)
    >>> face = cv2.GaussianBlur(rough, (0, 0), 4)
    >>> matrix, _ = guessed(face, np.roll(face, 7, 1), np.ones(face.shape, bool))
    >>> (matrix.round()[:2] + 0.0).tolist()
    [[1.0, 0.0, 7.0], [0.0, 1.0, 0.0]]
    """
    coarse = _matched(first, second, inside, 1)
    matrix, count = _agreed(*coarse)
    if count >= _ENOUGH:
        return matrix, count
    fine = _matched(first, second, inside, 0)
    start, end = (np.concatenate(sides) for sides in zip(fine, coarse, strict=True))
    return _agreed(start, end)


def _agreed(start: Points, end: Points) -> tuple[Points | None, int]:
    """Fit what most of the marks agree on, and count those."""
    cv2.setRNGSeed(20260101)  # the trials of RANSAC must be the same each time
    if len(start) < _FEWEST:
        return None, 0
    turn: Any
    # Four parameters first: two pairs fix them, so RANSAC finds them among many wrong
    # pairs. Eight are fitted only to the pairs near that.
    turn, agree = cv2.estimateAffinePartial2D(
        start,
        end,
        method=cv2.RANSAC,
        ransacReprojThreshold=_COARSE_PX,
        maxIters=_TRIALS,
        confidence=0.999,
    )
    count = 0 if turn is None else int(np.count_nonzero(agree))
    if turn is None or count < _FEWEST:
        return None, count
    coarse = np.vstack([turn, [0.0, 0.0, 1.0]]).astype(np.float64)
    off = start @ coarse[:2, :2].T + coarse[:2, 2] - end
    near = np.hypot(off[:, 0], off[:, 1]) < _NEAR_PX
    if np.count_nonzero(near) < _FEWEST_FOR_PLANE:
        return coarse, count
    plane: Any
    plane, agree = cv2.findHomography(
        start[near], end[near], cv2.RANSAC, _FINE_PX, maxIters=_TRIALS
    )
    fine = 0 if plane is None else int(np.count_nonzero(agree))
    if plane is None or fine < max(_FEWEST_FOR_PLANE, count // 2):
        return coarse, count
    return np.asarray(plane, dtype=np.float64), fine


def _matched(
    first: Plane, second: Plane, inside: NDArray[np.bool_], look: int
) -> tuple[Points, Points]:
    """Return marks of one look that look alike, (x, y) px in both photos."""
    zoom = min(1.0, _SEARCHED_PX / max(first.shape))
    finder = cv2.SIFT.create(
        nfeatures=_FEATURES, contrastThreshold=_CONTRAST, edgeThreshold=_EDGE
    )
    (smooth, step), full = _LOOKS[look], _FULL_LOG[look]
    (here, what), (there, like) = (
        _marks(plane, smooth, zoom / step, full, finder) for plane in (first, second)
    )
    none = np.empty((0, 2)), np.empty((0, 2))
    if min(len(here), len(there)) < _FEWEST:
        return none
    # Only marks of the first photo can be told to lie on the face; those of the second
    # are then held to it by the fit.
    at = np.clip(np.rint(here).astype(int), 0, np.array(first.shape)[::-1] - 1)
    own = inside[at[:, 1], at[:, 0]]
    here, what = here[own], what[own]
    if len(here) < _FEWEST:
        return none
    pairs = cv2.BFMatcher().knnMatch(what, like, k=2)
    best = [two[0] for two in pairs if two[0].distance < _RATIO * two[1].distance]
    return (
        here[[one.queryIdx for one in best]],
        there[[one.trainIdx for one in best]],
    )


def _marks(
    plane: Plane, smooth_px: float, scale: float, full_log: float, finder: cv2.SIFT
) -> tuple[Points, NDArray[np.float32]]:
    """Places (x, y) in px of the plane and descriptions of the marks of one look."""
    kept = np.clip(plane, -_KEPT_LOG, _KEPT_LOG)
    calm = cv2.GaussianBlur(kept, (0, 0), smooth_px / scale**0.5)
    small = cv2.resize(calm, None, fx=scale, fy=scale, interpolation=cv2.INTER_AREA)
    # SIFT of OpenCV takes 8 bits: the log is spread over them, 0 in the middle.
    codes = 127.5 + 127.5 * np.clip(small / full_log, -1.0, 1.0)
    found, described = finder.detectAndCompute(codes.astype(np.uint8), None)
    if described is None:
        return np.empty((0, 2)), np.empty((0, 128), np.float32)
    at = np.array([mark.pt for mark in found], dtype=np.float64)
    grow = np.array(plane.shape[::-1]) / np.array(small.shape[::-1])
    return (at + 0.5) * grow - 0.5, np.asarray(described, dtype=np.float32)
