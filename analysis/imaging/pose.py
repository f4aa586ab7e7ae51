"""A small flat thing before a lens: the plane it lies in, from few corners."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.imaging.homography import moved, slope

if TYPE_CHECKING:
    from numpy.typing import NDArray

# Main cameras of phones are 24 to 28 mm (from memory); being off by a tenth makes a
# tilt wrong by a tenth.
_USUAL_35MM = 26.0
_FILM_DIAGONAL_MM = float(np.hypot(36.0, 24.0))
# Seen in a mirror tilt, corners lie nearly alike; then which way it tilts is unknown.
_CLEARLY = 1.6
_UNSURE_PX = 0.1
_SAME_TILT = 0.02
# How far a face's parts lie from its card, rms, as a share of the focal length: a
# card in one corner of a face that fills a usual phone's photo.
_FAR = 0.35
_LENS_SD = 0.1


@dataclass(frozen=True, slots=True, kw_only=True)
class Lens:
    """A lens without distortion, looking through the middle of the photo.

    Attributes
    ----------
    focal_px : float
        Distance of the picture.
    middle_px : (float, float)
        (x, y) of the photo's middle.
    """

    focal_px: float
    middle_px: tuple[float, float]


def lens_of(shape: tuple[int, int], lens_35mm: float | None = None) -> Lens:
    """Return the lens of a photo; that of a usual phone where the file tells none.

    Parameters
    ----------
    shape : (int, int)
        Rows and columns of the whole photo.
    lens_35mm : float, optional
        Focal length as on 36 x 24 mm film, by the diagonal.

    Examples
    --------
    >>> round(lens_of((3000, 4000), 26.0).focal_px)
    3005
    """
    rows, cols = shape
    film = _USUAL_35MM if lens_35mm is None else lens_35mm
    return Lens(
        focal_px=film / _FILM_DIAGONAL_MM * float(np.hypot(rows, cols)),
        middle_px=((cols - 1) / 2, (rows - 1) / 2),
    )


def posed(
    photo: NDArray[np.float64], drawn: NDArray[np.float64], lens: Lens
) -> tuple[NDArray[np.float64], float]:
    """Return the homography from a photo to the plane of a small thing in it.

    The pose is found by infinitesimal plane-based pose estimation (Collins and Bartoli
    2014), which gives both tilts that a small thing may have; where the corners do not
    tell them apart, the tilt is kept and its perspective left out.

    Parameters
    ----------
    photo : ndarray of float64, (n, 2)
        (x, y) px, n of 4 or more.
    drawn : ndarray of float64, (n, 2)
        The same points, (x, y) mm.
    lens : Lens

    Returns
    -------
    matrix : ndarray of float64, (3, 3)
        From (x, y, 1) px to mm.
    far_sd : float
        Standard uncertainty of lengths far off, as a share, from the tilt alone.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [40.0, 0.0], [40.0, 40.0], [0.0, 40.0]])
    >>> found, _ = posed(2 * square + 900, square, lens_of((1500, 2000)))
    >>> moved(found, np.array([[940.0, 900.0]])).round(3).tolist()
    [[20.0, 0.0]]
    """
    col, row = lens.middle_px
    camera = np.array(
        [[lens.focal_px, 0.0, col], [0.0, lens.focal_px, row], [0.0, 0.0, 1.0]]
    )
    middle = drawn.mean(axis=0)
    flat = np.column_stack([drawn - middle, np.zeros(len(drawn))])
    _, turns, shifts, _ = cv2.solvePnPGeneric(
        flat, photo, camera, None, flags=cv2.SOLVEPNP_IPPE
    )
    found = []
    for turn, shift in zip(turns, shifts, strict=True):
        fine_turn, fine_shift = cv2.solvePnPRefineLM(
            flat, photo, camera, None, turn.copy(), shift.copy()
        )
        axes = cv2.Rodrigues(fine_turn)[0]
        to_photo = camera @ np.column_stack([axes[:, 0], axes[:, 1], fine_shift])
        off = moved(to_photo, flat[:, :2]) - photo
        found.append((float(np.sqrt(np.mean(off**2))), to_photo, axes))
    (best, to_photo, axes), *others = sorted(found, key=lambda one: one[0])
    # Refining may have brought both to the same tilt.
    others = [one for one in others if np.abs(one[2] - axes).max() > _SAME_TILT]
    # A tilt shortens lengths across its axis by about its cosine: the ratio of both
    # stretches in the middle gives its tangent.
    stretches = np.linalg.svd(slope(to_photo, np.zeros(2)), compute_uv=False)
    tangent = float(np.sqrt(max((stretches[0] / stretches[1]) ** 2 - 1, 0.0)))
    far_sd = _FAR * _LENS_SD * tangent
    if others and others[0][0] < _CLEARLY * best + _UNSURE_PX:
        to_photo, far_sd = _without_perspective(flat[:, :2], photo), _FAR * tangent
    shifted = np.array([[1.0, 0.0, -middle[0]], [0.0, 1.0, -middle[1]], [0, 0, 1.0]])
    back = np.linalg.inv(to_photo @ shifted)
    return np.asarray(back / back[2, 2], dtype=np.float64), far_sd


def unseen_tilt_sd(photo: NDArray[np.float64], hidden_px: float) -> float:
    """Return how unsure lengths far off are where corners show no tilt.

    A tilt foreshortens; turned and scaled to fit best, corners are then off by half of
    what it takes away. What stays below `hidden_px` may be there, either way.

    Parameters
    ----------
    photo : ndarray of float64, (n, 2)
        Corners, px.
    hidden_px : float
        Below this, rms, nothing was corrected.

    Returns
    -------
    float
        Standard uncertainty, as a share.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    >>> round(unseen_tilt_sd(400 * square, 0.5), 3)
    0.017
    """
    # Root mean square distance of the corners from their middle.
    size = float(np.sqrt(np.mean((photo - photo.mean(axis=0)) ** 2) * 2))
    kept = max(1 - 2 * hidden_px / size, 0.5)
    # Anything up to this bound is taken as equally likely, either way: an even spread
    # has an sd of the bound over the root of 3.
    return _FAR * float(np.sqrt(1 / kept**2 - 1)) / float(np.sqrt(3))


def _without_perspective(
    drawn: NDArray[np.float64], photo: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Fit stretch, turn and shift alone."""
    terms = np.column_stack([drawn, np.ones(len(drawn))])
    linear = np.linalg.lstsq(terms, photo, rcond=None)[0]
    return np.vstack([linear.T, [0.0, 0.0, 1.0]])
