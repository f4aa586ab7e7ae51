"""Pictures made from a photo by its view, and points carried over."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import PhotoError
from analysis.imaging.homography import moved
from analysis.imaging.lens_bend import Bend, bent, straight
from analysis.imaging.round_piece import photo_places, strip_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Photo
    from analysis.model.view import View


def seen(photo: Photo, view: View | None) -> Photo:
    """Return the photo as a view shows it; what lies outside is transparent.

    Parameters
    ----------
    photo : Photo
        Upright.
    view : View or None
        None gives the photo back.

    Returns
    -------
    Photo
        With the same `sha256`: it is of the same file.

    Raises
    ------
    PhotoError
        The photo is a view already, of another kind.

    Examples
    --------
    >>> from analysis.model.photo import Photo
    >>> from analysis.model.view import View
    >>> pixels = np.full((4, 6, 3), 9, np.uint8)
    >>> photo = Photo(pixels=pixels, opaque=None, sha256="", name="", file_format="PNG")
    >>> twice = (0.5, 0, -0.25, 0, 0.5, -0.25, 0, 0, 1)
    >>> view = View(
    ...     kind="straightened", height_px=8, width_px=12, mm_per_px=1, numbers=twice
    ... )
    >>> seen(photo, view).pixels.shape
    (8, 12, 3)
    """
    if photo.view == view:
        return photo
    if view is None or photo.view is not None:
        msg = "A view can be made from the photo only: open the photo again."
        raise PhotoError(msg)
    if view.kind == "unrolled" or _bend(view) is not None:
        return _place_by_place(photo, view)
    size = (view.width_px, view.height_px)
    matrix = _matrix(view)
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    pixels = np.asarray(
        cv2.warpPerspective(
            photo.pixels, matrix, size, flags=flags, borderMode=cv2.BORDER_REPLICATE
        ),
        dtype=np.uint8,
    )
    given = np.full((photo.height_px, photo.width_px), 255, np.uint8)
    if photo.opaque is not None:
        given[~photo.opaque] = 0
    inside = cv2.warpPerspective(
        given, matrix, size, flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    )
    # Only px blended of opaque ones alone keep the full value; outside the photo is 0.
    opaque = np.asarray(np.asarray(inside) == given.max(), dtype=bool)
    pixels.flags.writeable = False
    opaque.flags.writeable = False
    return replace(
        photo, pixels=pixels, opaque=None if opaque.all() else opaque, view=view
    )


def _place_by_place(photo: Photo, view: View) -> Photo:
    # No one matrix maps a strip or a bent lens: the place of each px is worked out.
    row, col = np.mgrid[: view.height_px, : view.width_px].astype(np.float64)
    if view.kind == "unrolled":
        rows, cols = photo_places(view, row, col)
        inside = strip_of(view)
    else:
        at = to_photo(view, np.column_stack([row.ravel(), col.ravel()]))
        rows, cols = at.T.reshape(2, *row.shape)
        inside = np.ones(row.shape, dtype=bool)
    maps = (cols.astype(np.float32), rows.astype(np.float32))
    pixels = np.asarray(
        cv2.remap(
            photo.pixels, *maps, cv2.INTER_CUBIC, borderMode=cv2.BORDER_REPLICATE
        ),
        dtype=np.uint8,
    )
    inside &= (rows >= 0) & (rows <= photo.height_px - 1)
    inside &= (cols >= 0) & (cols <= photo.width_px - 1)
    if photo.opaque is not None:
        given = photo.opaque.astype(np.uint8)
        inside &= np.asarray(cv2.remap(given, *maps, cv2.INTER_NEAREST)) > 0
    pixels.flags.writeable = False
    inside.flags.writeable = False
    return replace(
        photo, pixels=pixels, opaque=None if inside.all() else inside, view=view
    )


def to_photo(view: View | None, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Carry points of a view over to the photo.

    Parameters
    ----------
    view : View or None
    points_px : ndarray of float64, (n, 2)
        (row, col) of the view.

    Returns
    -------
    ndarray of float64, (n, 2)
        (row, col) of the upright photo.

    Examples
    --------
    >>> to_photo(None, np.array([[1.0, 2.0]])).tolist()
    [[1.0, 2.0]]
    """
    if view is None or not len(points_px):
        return points_px
    if view.kind == "unrolled":
        return np.column_stack(photo_places(view, points_px[:, 0], points_px[:, 1]))
    there = moved(_matrix(view), points_px[:, ::-1])
    bend = _bend(view)
    return (there if bend is None else bent(bend, there))[:, ::-1]


def is_shown(
    view: View, points_px: NDArray[np.float64], photo_px: tuple[int, int]
) -> NDArray[np.bool_]:
    """Tell which points of a view lie on the photo and, unrolled, on the usable strip.

    Parameters
    ----------
    view : View
    points_px : ndarray of float64, (n, 2)
        (row, col) of the view.
    photo_px : tuple of int
        (rows, columns) of the photo.

    Examples
    --------
    >>> from analysis.model.view import View
    >>> right = (1, 0, 4, 0, 1, 0, 0, 0, 1)
    >>> view = View(
    ...     kind="straightened", height_px=4, width_px=6, mm_per_px=1, numbers=right
    ... )
    >>> is_shown(view, np.array([[0.0, 1.0], [0.0, 3.0]]), (4, 6)).tolist()
    [True, False]
    """
    at = to_photo(view, points_px)
    last = np.array(photo_px) - 1
    shown = ((at >= 0) & (at <= last)).all(axis=1)
    if view.kind == "unrolled":
        strip = strip_of(view)
        cell = np.clip(np.round(points_px).astype(int), 0, np.array(strip.shape) - 1)
        shown &= strip[cell[:, 0], cell[:, 1]]
    return np.asarray(shown)


def to_view(view: View | None, points_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Carry points of the photo over to a view.

    Examples
    --------
    >>> to_view(None, np.array([[1.0, 2.0]])).tolist()
    [[1.0, 2.0]]
    """
    if view is None or not len(points_px):
        return points_px
    bend = _bend(view)
    there = points_px[:, ::-1]
    there = there if bend is None else straight(bend, there)
    return moved(np.linalg.inv(_matrix(view)).astype(np.float64), there)[:, ::-1]


def _matrix(view: View) -> NDArray[np.float64]:
    return np.array(view.numbers[:9], dtype=np.float64).reshape(3, 3)


def _bend(view: View) -> Bend | None:
    """Return the lens's bend that a straightened view corrects."""
    if view.kind == "unrolled" or not view.numbers[9:]:
        return None
    # Behind the nine of the matrix, as `straightened` writes them.
    share, col, row, reach = view.numbers[9:]
    return Bend(bend=share, sd=0.0, middle_px=(col, row), reach_px=reach)
