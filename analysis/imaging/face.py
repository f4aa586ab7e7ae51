"""Which pixels are the face, and which lie near a joint."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import FaceError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.photo import Face, JointLine, Photo

SMALLEST_FACE_PX = 100
_MOST_CORNERS = 2000
_SMALLEST_POLYGON_PX2 = 1.0


def face_mask(photo: Photo, face: Face) -> NDArray[np.bool_]:
    """Mark the measured pixels.

    Parameters
    ----------
    photo : Photo
        Its transparent pixels are never face.
    face : Face
        Outline and left-out areas; parts outside the photo are cut off.

    Returns
    -------
    ndarray of bool, (rows, cols)
        True where the pixel's centre lies in the face outline and in no left-out
        area.

    Raises
    ------
    FaceError
        The outline crosses itself, has no area or lies outside the photo, or
        nothing is left to measure.

    Examples
    --------
    >>> import io
    >>> from PIL import Image
    >>> from analysis.imaging.photo import read_photo
    >>> from analysis.model.photo import Face
    >>> file = io.BytesIO()
    >>> Image.new("RGB", (40, 30)).save(file, "PNG")
    >>> outline = np.array([[4.5, 4.5], [4.5, 24.5], [24.5, 24.5], [24.5, 4.5]])
    >>> photo = read_photo(file.getvalue())
    >>> int(face_mask(photo, Face(outline_px=outline)).sum())
    400
    """
    shape = (photo.height_px, photo.width_px)
    if face.outline_px is None:
        mask = np.ones(shape, dtype=bool)
    else:
        _check_outline(face.outline_px)
        mask = polygon_mask(face.outline_px, shape)
        if not mask.any():
            msg = (
                f"The face outline lies outside the photo of {shape[1]} x {shape[0]} "
                "px: draw it inside."
            )
            raise FaceError(msg)
    for area in face.left_out_px:
        mask &= ~polygon_mask(area, shape)
    if photo.opaque is not None:
        mask &= photo.opaque
    left = int(np.count_nonzero(mask))
    if left < SMALLEST_FACE_PX:
        msg = (
            f"Only {left} px of the face are left to measure, at least "
            f"{SMALLEST_FACE_PX} are needed: outline a larger face."
        )
        raise FaceError(msg)
    return mask


def polygon_mask(
    polygon_px: NDArray[np.float64], shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """Mark the pixels whose centre lies inside a polygon (even-odd rule).

    Parameters
    ----------
    polygon_px : ndarray of float64, (n, 2)
        Corners, (row, col).
    shape : tuple of int
        Rows and columns of the mask.

    Returns
    -------
    ndarray of bool, (rows, cols)
        Half-open: a pixel on a shared edge belongs to one of two neighbours.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [0.0, 3.0], [2.0, 3.0], [2.0, 0.0]])
    >>> int(polygon_mask(square, (5, 5)).sum())
    6
    """
    rows, cols = shape
    toggles = np.zeros((rows, cols + 1), dtype=np.uint8)
    begins, ends = polygon_px, np.roll(polygon_px, -1, axis=0)
    for (row_a, col_a), (row_b, col_b) in zip(begins, ends, strict=True):
        if row_a == row_b:
            continue
        top, bottom = sorted((row_a, row_b))
        first = int(np.clip(np.ceil(top), 0, rows))
        last = int(np.clip(np.ceil(bottom), 0, rows))
        at = np.arange(first, last)
        crossing = col_a + (at - row_a) * ((col_b - col_a) / (row_b - row_a))
        toggles[at, np.clip(np.ceil(crossing), 0, cols).astype(np.intp)] ^= 1
    inside = np.bitwise_xor.accumulate(toggles, axis=1)[:, :cols]
    return inside.astype(bool)


def joint_band_mask(
    joints: tuple[JointLine, ...], band_px: float, shape: tuple[int, int]
) -> NDArray[np.bool_]:
    """Mark the pixels within `band_px` of a joint line.

    Parameters
    ----------
    joints : tuple of JointLine
        Joint lines; none gives an empty band.
    band_px : float
        Half-width of the band, px.
    shape : tuple of int
        Rows and columns of the mask.

    Returns
    -------
    ndarray of bool, (rows, cols)

    Examples
    --------
    >>> from analysis.model.photo import JointLine
    >>> line = JointLine(line_px=np.array([[5.0, 0.0], [5.0, 9.0]]))
    >>> int(joint_band_mask((line,), 2.0, (11, 10)).sum())
    50
    """
    band = np.zeros(shape, dtype=bool)
    if not joints:
        return band
    away = np.ones(shape, dtype=np.uint8)
    for joint in joints:
        line = np.round(joint.line_px[:, ::-1]).astype(np.int32)
        cv2.polylines(away, [line.reshape(-1, 1, 2)], isClosed=False, color=0)
    if away.all():
        return band
    distance = cv2.distanceTransform(away, cv2.DIST_L2, cv2.DIST_MASK_PRECISE)
    return np.asarray(distance <= band_px)


def _check_outline(outline: NDArray[np.float64]) -> None:
    if len(outline) > _MOST_CORNERS:
        msg = (
            f"The face outline has {len(outline)} corners, at most {_MOST_CORNERS} "
            "are taken: draw it with fewer."
        )
        raise FaceError(msg)
    following = np.roll(outline, -1, axis=0)
    doubled = outline[:, 0] * following[:, 1] - outline[:, 1] * following[:, 0]
    if not abs(float(doubled.sum())) / 2.0 > _SMALLEST_POLYGON_PX2:
        msg = "The face outline has no area: its corners lie on one line; draw it anew."
        raise FaceError(msg)
    if _crosses_itself(outline, following):
        msg = "The face outline crosses itself: mark the corners in order around it."
        raise FaceError(msg)


def _crosses_itself(begin: NDArray[np.float64], end: NDArray[np.float64]) -> bool:
    """Tell whether two sides of the closed polygon properly cross."""

    def side(
        a: NDArray[np.float64], b: NDArray[np.float64], c: NDArray[np.float64]
    ) -> NDArray[np.float64]:
        """Sign of the turn a, b, c for all pairs of sides."""
        ab, ac = b - a, c - a
        return np.sign(ab[..., 0] * ac[..., 1] - ab[..., 1] * ac[..., 0])

    p, q = begin[:, None], end[:, None]
    r, s = begin[None], end[None]
    crossing = (side(p, q, r) * side(p, q, s) < 0) & (side(r, s, p) * side(r, s, q) < 0)
    return bool(crossing.any())
