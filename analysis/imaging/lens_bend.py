"""How a lens bends straight lines: told by the printed sheet, else doubt of the scale.

One term of the radial model of Brown (1966), as OpenCV's ``k1``: a place seen at a
radius r of the straight picture lies at r (1 + bend r^2) of the photo. Radii are in
half-diagonals about the photo's middle, so that the bend is the share by which the
photo's corners are moved: less than 0 is a barrel, as wide lenses have it.

Phones straighten what they store; what is left is small where the sheet is small, and
cannot be told from noise. The bend is therefore fitted together with the plane under
what is usual for the lens, and used only where it stands out of its own uncertainty.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.optimize import least_squares

from analysis.imaging.homography import CORNER_SD_PX, fitted, moved

if TYPE_CHECKING:
    from numpy.typing import NDArray

# What phones leave at a photo's corners: common practice, from memory. An ultra-wide
# lens leaves more, and a file that tells no lens may be of either.
_USUAL_SD = 0.01
_WIDE_SD = 0.03
_UNTOLD_SD = 0.015
_WIDE_35MM = 20.0
_STANDS_OUT = 2.5
# Beyond, a place far outside the photo would have no place of the straight picture.
_MOST = 0.12
_STEPS = 6
_EDGE_POINTS = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class Bend:
    """What a lens does to straight lines.

    Attributes
    ----------
    bend : float
        By how much the photo's corners are moved outwards, as a share; 0 where no bend
        was found.
    sd : float
        Its standard uncertainty.
    middle_px : tuple of float
        (x, y) of the photo's middle.
    reach_px : float
        Half of the photo's diagonal.
    """

    bend: float
    sd: float
    middle_px: tuple[float, float]
    reach_px: float


def usual_bend(shape: tuple[int, int], lens_35mm: float | None = None) -> Bend:
    """Return what is known of the bend from the lens alone.

    Parameters
    ----------
    shape : tuple of int
        Rows and columns of the whole photo.
    lens_35mm : float, optional
        Focal length as on 36 x 24 mm film.

    Examples
    --------
    >>> usual_bend((3000, 4000), 13.0).sd, usual_bend((3000, 4000), 26.0).sd
    (0.03, 0.01)
    """
    if lens_35mm is None:
        sd = _UNTOLD_SD
    else:
        sd = _WIDE_SD if lens_35mm < _WIDE_35MM else _USUAL_SD
    rows, cols = shape
    return Bend(
        bend=0.0,
        sd=sd,
        middle_px=((cols - 1) / 2, (rows - 1) / 2),
        reach_px=float(np.hypot(rows, cols)) / 2,
    )


def straight(bend: Bend, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where places of the photo lie in the straight picture.

    Parameters
    ----------
    bend : Bend
    points_px : ndarray of float64, (n, 2)
        (x, y).

    Examples
    --------
    >>> barrel = Bend(bend=-0.02, sd=0.0, middle_px=(50.0, 50.0), reach_px=50.0)
    >>> straight(barrel, np.array([[99.0, 50.0]])).round(3).tolist()
    [[100.0, 50.0]]
    """
    if not bend.bend:
        return points_px
    off = (points_px - bend.middle_px) / bend.reach_px
    seen = np.hypot(off[:, 0], off[:, 1])
    radius = seen.copy()
    for _ in range(_STEPS):  # Newton's
        radius -= (radius + bend.bend * radius**3 - seen) / (
            1 + 3 * bend.bend * radius**2
        )
    grown = np.where(seen > 0, radius / np.maximum(seen, 1e-12), 1.0)
    return np.asarray(bend.middle_px + off * grown[:, None] * bend.reach_px)


def bent(bend: Bend, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return where places of the straight picture lie in the photo.

    Examples
    --------
    >>> barrel = Bend(bend=-0.02, sd=0.0, middle_px=(50.0, 50.0), reach_px=50.0)
    >>> bent(barrel, np.array([[100.0, 50.0]])).round(3).tolist()
    [[99.0, 50.0]]
    """
    if not bend.bend:
        return points_px
    off = (points_px - bend.middle_px) / bend.reach_px
    grown = 1 + bend.bend * (off**2).sum(axis=-1, keepdims=True)
    return np.asarray(bend.middle_px + off * grown * bend.reach_px)


def bend_by_plane(
    photo_px: NDArray[np.float64], plane_mm: NDArray[np.float64], usual: Bend
) -> Bend:
    """Return the bend by points of one plane, under what is usual for the lens.

    Parameters
    ----------
    photo_px : ndarray of float64, (n, 2)
        (x, y) of the points in the photo, n of 5 or more.
    plane_mm : ndarray of float64, (n, 2)
        The same points where they were printed.
    usual : Bend
        As `usual_bend` gives it: its `sd` is how far a bend may be from 0.

    Returns
    -------
    Bend
        With a `bend` of 0 where what was found does not stand out; its `sd` then holds
        what may be left.

    Examples
    --------
    >>> usual = usual_bend((1500, 2000))
    >>> grid = np.stack(np.meshgrid(np.arange(0, 2000, 90.0), np.arange(0, 1500, 90.0)))
    >>> grid = grid.reshape(2, -1).T
    >>> barrel = Bend(
    ...     bend=-0.02, sd=0.0, middle_px=usual.middle_px, reach_px=usual.reach_px
    ... )
    >>> round(bend_by_plane(bent(barrel, grid), grid / 4, usual).bend, 3)
    -0.02
    """
    to_photo, _ = fitted(plane_mm, photo_px)
    start = np.append((to_photo / to_photo[2, 2]).ravel()[:8], 0.0)
    # Entries differ by orders of magnitude: steps are in shares of each.
    size = np.maximum(np.abs(start), 1e-6)
    size[8] = usual.sd

    def off(scaled: NDArray[np.float64]) -> NDArray[np.float64]:
        *entries, share = scaled * size
        matrix = np.array([*entries, 1.0]).reshape(3, 3)
        found = bent(_with(usual, share), moved(matrix, plane_mm))
        apart = (found - photo_px).ravel() / CORNER_SD_PX
        # What is usual for the lens enters as one more residual in sd: a Gaussian
        # prior.
        return np.append(apart, share / usual.sd)

    done = least_squares(off, start / size, x_scale="jac", method="trf")
    # Covariance of the fit; the pseudo-inverse holds where points leave a direction
    # open. Entry 8 is in units of the usual sd.
    inverse = np.linalg.pinv(done.jac.T @ done.jac)
    # Markers that lie worse than usual tell less.
    spare = 2 * len(photo_px) - 8
    worse = max(1.0, float((done.fun[:-1] ** 2).sum()) / max(spare, 1))
    sd = min(float(np.sqrt(inverse[8, 8] * worse)), 1.0) * usual.sd
    share = float(done.x[8] * usual.sd)
    if abs(share) < _STANDS_OUT * sd or abs(share) > _MOST:
        return _with(usual, 0.0, float(np.hypot(sd, min(abs(share), 2 * usual.sd))))
    return _with(usual, share, sd)


def scale_doubt(
    bend: Bend,
    marks_px: NDArray[np.float64],
    face_px: NDArray[np.float64] | None = None,
) -> float:
    """Return how unsure lengths on the face are by what is not known of the bend.

    A scale is had from the distances between its marks and used for the areas of the
    face: lengths go wrong by how differently the two are stretched.

    Parameters
    ----------
    bend : Bend
        Its `sd` counts.
    marks_px : ndarray of float64, (n, 2)
        (x, y) that the scale was had from, n of 2 or more.
    face_px : ndarray of float64, (m, 2), optional
        Outline of what is measured; without one, the whole photo.

    Returns
    -------
    float
        Standard uncertainty, as a share.

    Examples
    --------
    >>> usual = usual_bend((3000, 4000), 26.0)
    >>> ruler = np.array([[1500.0, 1500.0], [2500.0, 1500.0]])
    >>> round(scale_doubt(usual, ruler), 4)
    0.0063
    """
    off = _with(bend, bend.sd)
    half = np.array(bend.middle_px)
    if face_px is None:
        corners = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
        face_px = corners * 2 * half
    # Sides are cut in parts, since they bend: (parts, corners, 2), then in their order
    # round the outline.
    share = np.linspace(0, 1, _EDGE_POINTS, endpoint=False)[:, None, None]
    edge = face_px + share * (np.roll(face_px, -1, axis=0) - face_px)
    outline = edge.transpose(1, 0, 2).reshape(-1, 2)
    on_face = np.sqrt(_area(bent(off, outline)) / max(_area(outline), 1e-9))
    # All pairs of marks: what lengths between them become, on the whole.
    first, second = np.triu_indices(len(marks_px), 1)
    apart = [
        float(np.hypot(*(at[first] - at[second]).T).sum())
        for at in (bent(off, marks_px), marks_px)
    ]
    return float(abs(on_face / (apart[0] / max(apart[1], 1e-9)) - 1))


def _with(bend: Bend, share: float, sd: float = 0.0) -> Bend:
    return Bend(
        bend=float(share), sd=sd, middle_px=bend.middle_px, reach_px=bend.reach_px
    )


def _area(outline: NDArray[np.float64]) -> float:
    # Shoelace formula without its half: only ratios of areas are used.
    after = np.roll(outline, -1, axis=0)
    return abs(float(np.sum(outline[:, 0] * after[:, 1] - outline[:, 1] * after[:, 0])))
