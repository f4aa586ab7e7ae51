"""A flat face seen askew, made square to the camera."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import number, points
from analysis.errors import FaceError, ScaleError
from analysis.imaging.homography import fitted, moved, slope, spread
from analysis.imaging.lens_bend import straight
from analysis.model.photo import Scale
from analysis.model.view import Plane, View

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from analysis.imaging.lens_bend import Bend

# A tap or click on a corner is good to about this (own trial on drawn corners).
_CLICK_SD_PX = 1.5
_TYPED_SD = 0.005
_LARGEST_SIDE_MM = 100_000
_SMALLEST_SIDE_PX = 40.0
_CORNERS = 4
# Parts of the photo shown this much coarser than its middle are left away: they lie
# towards the horizon, and would make the picture endless.
_COARSEST = 2.5
_GRID = 64


def plane_from_corners(
    corners_px: ArrayLike, width_mm: float, height_mm: float
) -> Plane:
    """Return the plane of a rectangular face by its four corners.

    Parameters
    ----------
    corners_px : array_like of float, (4, 2)
        (row, col) in any order: which is which follows from where they lie.
    width_mm, height_mm : float
        Of the face; its width is the side that lies across the photo.

    Returns
    -------
    Plane
        mm from the top left corner, to the right and down.

    Raises
    ------
    FaceError
        Not four corners, or one lies inside the others' triangle, or they are too
        close together.
    ScaleError
        An impossible width or height.

    Examples
    --------
    >>> plane = plane_from_corners([[0, 0], [0, 200], [100, 200], [100, 0]], 400, 200)
    >>> float(plane.photo_to_mm[0, 0].round(6))
    2.0
    """
    corners = points(corners_px, "Corners", least=_CORNERS, error=FaceError)
    if len(corners) > _CORNERS:
        msg = f"A face has four corners here, {len(corners)} were given: mark four."
        raise FaceError(msg)
    size = [
        number(
            side,
            f"The face's {name}",
            above=0,
            high=_LARGEST_SIDE_MM,
            unit="mm",
            error=ScaleError,
        )
        for side, name in ((width_mm, "width"), (height_mm, "height"))
    ]
    photo = _in_order(np.asarray(corners)[:, ::-1])
    drawn = np.array([[0, 0], [size[0], 0], size, [0, size[1]]], dtype=np.float64)
    matrix, _ = fitted(photo, drawn)
    middle = photo.mean(axis=0)
    return Plane(
        photo_to_mm=matrix,
        centre_px=(float(middle[1]), float(middle[0])),
        relative_uncertainty=float(
            np.hypot(spread(photo, drawn, _CLICK_SD_PX), _TYPED_SD)
        ),
        method="corners",
    )


def straightened(
    plane: Plane, shape: tuple[int, int], bend: Bend | None = None
) -> tuple[View, Scale]:
    """Return the view that shows a plane square on, and its scale.

    Parameters
    ----------
    plane : Plane
        Where the face lies.
    shape : tuple of int
        Rows and columns of the upright photo.
    bend : Bend, optional
        What the lens did: the plane is then one of the picture without it.

    Returns
    -------
    view : View
        As fine as the photo in the middle of what was marked; the photo's up stays
        up.
    scale : Scale

    Raises
    ------
    ScaleError
        The face is seen too flat along it.

    Examples
    --------
    >>> plane = plane_from_corners([[0, 0], [0, 200], [100, 200], [100, 0]], 400, 200)
    >>> view, scale = straightened(plane, (101, 201))
    >>> view.height_px, view.width_px, round(scale.mm_per_px, 6)
    (101, 201, 2.0)
    """
    middle = np.array(plane.centre_px[::-1])
    at_middle = slope(plane.photo_to_mm, middle)
    mm_per_px = float(np.sqrt(abs(np.linalg.det(at_middle))))
    if not 0 < mm_per_px < np.inf or np.linalg.cond(at_middle) > _COARSEST**2:
        msg = (
            "The photo looks along the face too much to be straightened "
            f"({np.linalg.cond(at_middle):.1f} times shorter one way): photograph it "
            "more squarely."
        )
        raise ScaleError(msg)
    turn = np.eye(3)
    if plane.method == "sheet":
        # A sheet may lie any way round; the picture keeps the photo's up.
        # left @ right is the rotation nearest to the map at the middle (its polar
        # part): its inverse undoes the turn and leaves tilt and scale.
        left, _, right = np.linalg.svd(at_middle)
        turn[:2, :2] = (left @ right).T
    to_mm = turn @ plane.photo_to_mm
    corner, far = _box(to_mm, shape, middle, mm_per_px, bend)
    size = np.floor((far - corner) / mm_per_px + 1e-6).astype(int) + 1
    to_px = np.array(
        [
            [1 / mm_per_px, 0, -corner[0] / mm_per_px],
            [0, 1 / mm_per_px, -corner[1] / mm_per_px],
            [0, 0, 1],
        ]
    )
    back = np.linalg.inv(to_px @ to_mm)
    view = View(
        kind="straightened",
        height_px=int(size[1]),
        width_px=int(size[0]),
        mm_per_px=mm_per_px,
        numbers=tuple(float(value) for value in (back / back[2, 2]).ravel())
        + (() if bend is None else (bend.bend, *bend.middle_px, bend.reach_px)),
    )
    return view, Scale(
        mm_per_px=mm_per_px,
        relative_uncertainty=plane.relative_uncertainty,
        method=plane.method,
    )


def in_order(corners_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return four corners clockwise from the top left one.

    Parameters
    ----------
    corners_px : ndarray of float64, (4, 2)
        (row, col) in any order.

    Raises
    ------
    FaceError
        They are no face.

    Examples
    --------
    >>> corners = np.array([[90.0, 0.0], [0.0, 90.0], [0.0, 0.0], [90.0, 90.0]])
    >>> in_order(corners).tolist()
    [[0.0, 0.0], [0.0, 90.0], [90.0, 90.0], [90.0, 0.0]]
    """
    return _in_order(corners_px[:, ::-1])[:, ::-1]


def _in_order(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    """Order corners (x, y) clockwise from the top left one; refuse what is no face."""
    off = corners - corners.mean(axis=0)
    # With y downwards, growing angles run clockwise; the least x + y is top left.
    round_it = corners[np.argsort(np.arctan2(off[:, 1], off[:, 0]))]
    first = int(np.argmin(round_it.sum(axis=1)))
    ordered: NDArray[np.float64] = np.roll(round_it, -first, axis=0)
    steps = np.roll(ordered, -1, axis=0) - ordered
    sides = np.hypot(steps[:, 0], steps[:, 1])
    if sides.min() < _SMALLEST_SIDE_PX:
        msg = (
            f"Two corners are {sides.min():.0f} px apart, at least "
            f"{_SMALLEST_SIDE_PX:.0f} are needed: mark the four corners of the face."
        )
        raise FaceError(msg)
    after = np.roll(steps, -1, axis=0)
    # Sine of each turn: all above 0 for a convex outline that runs clockwise.
    turns = (steps[:, 0] * after[:, 1] - steps[:, 1] * after[:, 0]) / (
        sides * np.roll(sides, -1)
    )
    if turns.min() < np.sin(np.radians(5)):
        msg = (
            "One of the four corners lies inside or on the line of the others: mark "
            "the outer corners of the face."
        )
        raise FaceError(msg)
    return ordered


def _box(
    to_mm: NDArray[np.float64],
    shape: tuple[int, int],
    middle: NDArray[np.float64],
    mm_per_px: float,
    bend: Bend | None,
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the corners, in mm, of what of the photo is fine enough to show."""
    rows, cols = (np.linspace(0, side - 1, _GRID) for side in shape)
    grid = np.stack(np.meshgrid(cols, rows), axis=-1).reshape(-1, 2)
    if bend is not None:
        grid = straight(bend, grid)
    weight = np.column_stack([grid, np.ones(len(grid))]) @ to_mm[2]
    # Weight 0 is the horizon: a px beyond it does not see the plane at all.
    ahead = np.sign(to_mm[2] @ np.array([*middle, 1.0])) * weight > 0
    # The Jacobian determinant of a homography is its own over the weight cubed: mm2 to
    # a px, which grow towards the horizon.
    area = np.full(len(grid), np.inf)
    area[ahead] = abs(np.linalg.det(to_mm)) / np.abs(weight[ahead]) ** 3
    fine = area <= (_COARSEST * mm_per_px) ** 2
    shown = moved(to_mm, grid[fine])
    return shown.min(axis=0), shown.max(axis=0)
