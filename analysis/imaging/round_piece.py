"""The strip of a round piece that faces the camera, unrolled.

The piece is a cylinder or a cone that stands upright in the photo. Its edges are where
lines of sight touch it; between them a place at angle t from the middle appears at
R sin t / (1 - R cos t / d) for a camera at distance d from the axis (R sin t for a far
one). Unrolling samples the photo evenly along R t, so that what is foreshortened gets
its true area again. Beyond 45 degrees too little is seen.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import number, points
from analysis.errors import FaceError, ScaleError
from analysis.model.photo import Scale
from analysis.model.view import View

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

_EDGES = 4
_LARGEST_MM = 20_000.0
_HALF_STRIP_RAD = np.pi / 4
_TAP_SD_PX = 2.0
_UNKNOWN_DISTANCE = 0.10  # of the scale: a camera five to ten radii away
_TYPED_SD = 0.005
_LEAST_PX = 20.0


def unrolled(
    edges_px: ArrayLike,
    diameters_mm: tuple[float, float],
    *,
    distance_mm: float | None = None,
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
        From the camera to the nearest side of the piece; without it the camera is
        taken as far away and the scale is less sure.

    Returns
    -------
    view : View
        Its numbers: columns and rows of the four edges (left and right at the top,
        left and right at the bottom), both radii and the camera's distance from the
        axis (0 for far), mm.
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
    radii = [
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
    far = 0.0
    if distance_mm is not None:
        far = max(radii) + number(
            distance_mm,
            "Distance of the camera",
            above=0,
            high=1_000_000,
            unit="mm",
            error=ScaleError,
        )
    by_row = edges[np.argsort(edges[:, 0], kind="stable")]
    upper = by_row[:2][np.argsort(by_row[:2, 1])]
    lower = by_row[2:][np.argsort(by_row[2:, 1])]
    wide = np.array([np.hypot(*(pair[1] - pair[0])) for pair in (upper, lower)])
    tall = float(np.hypot(*(lower.mean(axis=0) - upper.mean(axis=0))))
    if min(*wide, tall) < _LEAST_PX:
        msg = (
            f"Two edges are {min(*wide, tall):.0f} px apart, at least {_LEAST_PX:.0f} "
            f"are needed: mark left and right, at the top and at the bottom."
        )
        raise FaceError(msg)
    # mm per px at the middle of the strip, which is nearer than the edges.
    ratios = [
        2 * radius * _middle_over_edge(radius, far) / width
        for radius, width in zip(radii, wide, strict=True)
    ]
    mm_per_px = float(np.mean(ratios))
    arc = 2 * _HALF_STRIP_RAD * max(radii)
    sure = float(np.hypot(_TAP_SD_PX * np.sqrt(2) / wide.min(), _TYPED_SD))
    sure = float(np.hypot(sure, _uneven(max(radii), far)))
    height_mm = tall * mm_per_px
    view = View(
        kind="unrolled",
        height_px=max(int(height_mm / mm_per_px) + 1, 1),
        width_px=max(int(arc / mm_per_px) + 1, 1),
        mm_per_px=mm_per_px,
        numbers=tuple(
            float(value)
            for value in (*upper[:, ::-1].ravel(), *lower[:, ::-1].ravel(), *radii, far)
        ),
    )
    return view, Scale(mm_per_px=mm_per_px, relative_uncertainty=sure, method="corners")


def _middle_over_edge(radius: float, far: float) -> float:
    """Return mm per px in the middle over that of the edges' distance."""
    if far <= radius:
        return 1.0
    return float(np.sqrt((far - radius) / (far + radius)))


def _uneven(radius: float, far: float) -> float:
    """Return how unsure lengths are since the sides lie farther off than the middle.

    Heights there come out smaller; half of what the strip's area loses on average.
    """
    if not far:
        return _UNKNOWN_DISTANCE
    angle = np.linspace(0, _HALF_STRIP_RAD, 64)
    height = (far - radius) / (far - radius * np.cos(angle))
    return float(1 - height.mean()) / 2


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
    if far:
        # Edges are seen at R / sqrt(1 - (R / d)^2) for a camera at distance d.
        across = across / (1 - radius * np.cos(angle) / far)
        across = across * np.sqrt(1 - (radius / far) ** 2)
    left = top_left + (low_left - top_left) * down[..., None]
    right = top_right + (low_right - top_right) * down[..., None]
    place = (left + right) / 2 + (right - left) / 2 * across[..., None]
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
