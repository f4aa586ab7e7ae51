"""The strip of a round piece that faces the camera, unrolled.

The piece is a cylinder or a cone that stands upright in the photo. Its edges are where
lines of sight touch it. A place at angle t from the middle, z above the camera's
height, appears at f R sin t / (d - R cos t) beside the axis and at f z / (d - R cos t)
along it, for a camera at distance d from the axis (R sin t and z for a far one): the
sides lie farther off, so both are seen smaller there. The edges of a cone lie at one
angle, whose cosine is its radius at the camera's height over d. Unrolling samples the
photo evenly along R t and along the piece's side, so that what is foreshortened gets
its true area again. Beyond 45 degrees too little is seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import number, points
from analysis.errors import FaceError, ScaleError
from analysis.model.photo import Scale
from analysis.model.view import LARGEST_UNCERTAINTY, View

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from analysis.imaging.pose import Lens

_EDGES = 4
_LARGEST_MM = 20_000.0
_HALF_STRIP_RAD = np.pi / 4
_TAP_SD_PX = 2.0
_UNKNOWN_DISTANCE = 0.10  # of the scale: a camera five to ten radii away
# Between the ends named there.
_USUAL_RADII = 7.5
_MOST_LEAN = 0.7  # sine: 45 degrees
_TYPED_SD = 0.005
_LEAST_PX = 20.0
# A tape held between a piece and a phone in the hand; common practice.
_DISTANCE_SD = 0.05
# Of the focal length that a file states, rounded and for the whole sensor; as `pose`.
_LENS_SD = 0.1
_OLDER_NUMBERS = 11  # of views whose heights were not corrected
_ROUNDS = 8  # a cone's edge settles to a millionth in as many
_STEEPEST = 0.99


def unrolled(
    edges_px: ArrayLike,
    diameters_mm: tuple[float, float],
    *,
    distance_mm: float | None = None,
    lens: Lens | None = None,
) -> tuple[View, Scale]:
    """Return the view that unrolls the strip facing the camera, and its scale.

    Parameters
    ----------
    edges_px : array_like of float, (4, 2)
        (row, col) of the left and right edge at the top and at the bottom, in any
        order.
    diameters_mm : tuple of float
        At the height of the upper and of the lower two edges.
    distance_mm : float, optional
        From the camera to the nearest side of the piece. Without it the distance
        follows from the lens; without both the camera is taken as far away and the
        scale is less sure.
    lens : Lens, optional
        As the file states it. It also tells the camera's height on the piece, taken
        as half-way between the edges where it is not known.

    Returns
    -------
    view : View
        Its numbers: columns and rows of the four edges (left and right at the top,
        left and right at the bottom), both radii and the camera's distance from the
        axis (0 for far), mm; where that is known, also the camera's height as a share
        of the way from the upper to the lower edges.
    scale : Scale

    Raises
    ------
    FaceError
        Not four edges, or too close together.
    ScaleError
        An impossible diameter or distance.

    Examples
    --------
    >>> view, scale = unrolled([[0, 0], [0, 200], [300, 0], [300, 200]], (100, 100))
    >>> view.kind, round(scale.mm_per_px, 3)
    ('unrolled', 0.5)
    """
    edges = np.asarray(points(edges_px, "Edges", least=_EDGES, error=FaceError))
    if len(edges) > _EDGES:
        msg = f"A round piece has four edges here, {len(edges)} were given: mark four."
        raise FaceError(msg)
    radii = np.array(
        [
            number(
                given,
                f"Diameter at the {name}",
                above=0,
                high=_LARGEST_MM,
                unit="mm",
                error=ScaleError,
            )
            / 2
            for given, name in zip(diameters_mm, ("top", "bottom"), strict=True)
        ]
    )
    by_row = edges[np.argsort(edges[:, 0], kind="stable")]
    upper = by_row[:2][np.argsort(by_row[:2, 1])]
    lower = by_row[2:][np.argsort(by_row[2:, 1])]
    wide = np.array([np.hypot(*(pair[1] - pair[0])) for pair in (upper, lower)])
    axis = lower.mean(axis=0) - upper.mean(axis=0)
    tall = float(np.hypot(*axis))
    if min(*wide, tall) < _LEAST_PX:
        msg = (
            f"Two edges are {min(*wide, tall):.0f} px apart, at least {_LEAST_PX:.0f} "
            f"are needed: mark left and right, at the top and at the bottom."
        )
        raise FaceError(msg)
    far, far_sd = _distance(radii, wide, distance_mm, lens)
    eye = 0.5
    if lens is not None:
        # Foot of the photo's middle on the axis, as a share of the way down it.
        eye = float((np.array(lens.middle_px)[::-1] - upper.mean(axis=0)) @ axis)
        eye /= tall**2
    if far:
        rim, ends = _rim(radii, far, eye)
        # Distance of the picture, px, by each width; mm times px over it is mm.
        focal = wide / 2 * (far / radii - rim) / np.sqrt(1 - rim**2)
        mm_per_px = float((far - radii.mean()) / focal.mean())
        height_mm = tall * (ends[1] - ends[0]) / float(focal.mean())
    else:
        focal = wide / radii
        mm_per_px = float(np.mean(2 / focal))
        height_mm = tall * mm_per_px
    height_mm = float(np.hypot(height_mm, radii[1] - radii[0]))  # along the side
    # Two widths that do not agree: a camera that looks up or down, or a wrong diameter.
    disagree = abs(float(np.log(focal[0] / focal[1])))
    # The truth lies somewhere between what both widths say: spread evenly over a range,
    # it has an sd of the range over the root of 12.
    uneven = float(
        np.hypot(
            disagree / np.sqrt(12),
            _leaning(disagree, height_mm, far or _USUAL_RADII * radii.max()),
        )
    )
    sure = float(
        np.hypot(np.hypot(_TAP_SD_PX * np.sqrt(2) / wide.min(), _TYPED_SD), uneven)
    )
    sure = min(float(np.hypot(sure, far_sd)), LARGEST_UNCERTAINTY)
    arc = 2 * _HALF_STRIP_RAD * float(radii.max())
    edges_xy = (*upper[:, ::-1].ravel(), *lower[:, ::-1].ravel())
    view = View(
        kind="unrolled",
        height_px=max(int(height_mm / mm_per_px) + 1, 1),
        width_px=max(int(arc / mm_per_px) + 1, 1),
        mm_per_px=mm_per_px,
        numbers=tuple(
            float(value) for value in (*edges_xy, *radii, far, *((eye,) if far else ()))
        ),
    )
    return view, Scale(mm_per_px=mm_per_px, relative_uncertainty=sure, method="corners")


def _leaning(disagree: float, height_mm: float, far_mm: float) -> float:
    """Return how unsure lengths are by a camera that looks up or down.

    One end of the piece is then nearer by its height times the sine of the lean, which
    the widths tell; along the piece all is shorter by the cosine, and lengths, whose
    square is an area, by its root. Which way it leans is not asked: it is not taken
    out, since a wrong diameter looks the same.
    """
    sine = min(disagree * far_mm / height_mm, _MOST_LEAN)
    return float(1 - (1 - sine**2) ** 0.25)


def _distance(
    radii: NDArray[np.float64],
    wide: NDArray[np.float64],
    distance_mm: float | None,
    lens: Lens | None,
) -> tuple[float, float]:
    """Return the camera's distance from the axis and how unsure lengths are by it.

    Lengths in the middle go with sqrt((d - R) / (d + R)), whose log changes by
    R d / (d^2 - R^2) of a change of the log of d.
    """
    radius = float(radii.max())
    if distance_mm is not None:
        nearest = number(
            distance_mm,
            "Distance of the camera",
            above=0,
            high=1_000_000,
            unit="mm",
            error=ScaleError,
        )
        return radius + nearest, _DISTANCE_SD * radius / (nearest + 2 * radius)
    if lens is None:
        return 0.0, _UNKNOWN_DISTANCE
    # An edge is seen at f R / sqrt(d^2 - R^2).
    seen = float(np.mean(radii * np.hypot(1, lens.focal_px / (wide / 2))))
    far = max(seen, radius / _STEEPEST)
    return far, _LENS_SD * radius / far


def _rim(
    radii: NDArray[np.float64], far: float, eye: float
) -> tuple[float, tuple[float, float]]:
    """Return the cosine of the edges' angle, and where both ends lie.

    The ends' heights over the camera are in shares of the way between the edges as
    seen, times the mm that they are away: over the distance of a place they are such
    shares again.
    """
    rim = float(radii.mean()) / far
    top = low = 0.0
    # The edges' angle follows from the radius at the camera's height, that from where
    # the ends lie, and these from the angle: settled by repetition.
    for _ in range(_ROUNDS):
        top, low = (
            (share - eye) * (far - radius * rim)
            for share, radius in zip((0.0, 1.0), radii, strict=True)
        )
        level = radii[0] - (radii[1] - radii[0]) * top / (low - top)
        rim = float(np.clip(level / far, 0.0, _STEEPEST))
    return rim, (top, low)


def photo_places(
    view: View, row: NDArray[np.float64], col: NDArray[np.float64]
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return where places of the unrolled strip lie in the photo.

    Parameters
    ----------
    view : View
        Of kind ``"unrolled"``.
    row, col : ndarray of float64
        Places of the strip, px, of one shape.

    Returns
    -------
    row, col : ndarray of float64
        Places of the photo, px.

    Examples
    --------
    >>> view, _ = unrolled([[0, 0], [0, 200], [300, 0], [300, 200]], (100, 100))
    >>> middle = np.array([(view.width_px - 1) / 2])
    >>> [float(one[0].round(1)) for one in photo_places(view, np.zeros(1), middle)]
    [0.0, 100.0]
    """
    numbers = np.array(view.numbers)
    top_left, top_right, low_left, low_right = numbers[:8].reshape(4, 2)
    radii, far = numbers[8:10], float(numbers[10])
    down = row / max(view.height_px - 1, 1)
    radius = radii[0] + (radii[1] - radii[0]) * down
    angle = (col - (view.width_px - 1) / 2) * view.mm_per_px / radius
    across = np.sin(angle)
    along = at_edge = down
    if far and len(numbers) == _OLDER_NUMBERS:
        # Readings of then are shown as they were measured: heights as at the edges,
        # which are seen at R / sqrt(1 - (R / d)^2).
        across = across / (1 - radius * np.cos(angle) / far)
        across = across * np.sqrt(1 - (radius / far) ** 2)
    elif far:
        eye = float(numbers[11])
        rim, (top, low) = _rim(radii, far, eye)
        height = top + (low - top) * down
        away = far - radius * np.cos(angle)
        edge_away = far - radius * rim
        # At the edge itself, where cos t is `rim`, this is 1: half a width as marked.
        across = across * edge_away / away / np.sqrt(1 - rim**2)
        along, at_edge = eye + height / away, eye + height / edge_away
    upper, lower = (top_left + top_right) / 2, (low_left + low_right) / 2
    half_upper, half_lower = (top_right - top_left) / 2, (low_right - low_left) / 2
    middle = upper + (lower - upper) * along[..., None]
    half = half_upper + (half_lower - half_upper) * at_edge[..., None]
    place = middle + half * across[..., None]
    return place[..., 1], place[..., 0]


def strip_of(view: View) -> NDArray[np.bool_]:
    """Return the usable cells of a strip: of a cone it narrows with the radius.

    Parameters
    ----------
    view : View
        Of kind ``"unrolled"``.

    Examples
    --------
    >>> view, _ = unrolled([[0, 0], [0, 200], [300, 50], [300, 150]], (100, 50))
    >>> strip = strip_of(view)
    >>> bool(strip[0].sum() > 1.8 * strip[-1].sum())
    True
    """
    radii = np.array(view.numbers)[8:10]
    down = np.arange(view.height_px) / max(view.height_px - 1, 1)
    radius = radii[0] + (radii[1] - radii[0]) * down
    off = np.abs(np.arange(view.width_px) - (view.width_px - 1) / 2) * view.mm_per_px
    return np.asarray(off[None, :] <= _HALF_STRIP_RAD * radius[:, None] + 1e-9)
