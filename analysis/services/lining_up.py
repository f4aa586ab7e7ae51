"""How two photos of one face lie: by its mottling, else by cards and edges."""

from __future__ import annotations

from typing import TYPE_CHECKING

import cv2
import numpy as np

from analysis.errors import PairError
from analysis.imaging.face_finding.finding import find_face
from analysis.imaging.homography import moved
from analysis.imaging.photo import luminance
from analysis.imaging.registration import OTHER_FACE, register
from analysis.imaging.registration_blocks import laid_on
from analysis.imaging.registration_known import Known, by_markers, by_outline
from analysis.pairs.doubts import is_bare, refuse_blurred, refuse_same_photo
from analysis.pairs.reduction import AS_TAKEN, grown

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from analysis.imaging.registration import Registration
    from analysis.model.photo import Photo
    from analysis.pairs.reduction import Steps
    from analysis.voids.segmentation import Segmentation

    Plane = NDArray[np.float32]
    Points = NDArray[np.float64]

_CORNERS, _STRAIGHTENED = 4, 0.02
# A spot lies on its own again this near, as a part of its diameter; and so much of the
# dark area must.
_NEAR, _LEAST_AGAIN = 1.5, 0.5


def lined_up(
    first: Photo,
    second: Photo,
    lights: tuple[Plane, Plane],
    inside: NDArray[np.bool_],
    *,
    corner_px: tuple[int, int],
    outline_px: Points | None,
    steps: Steps = AS_TAKEN,
) -> tuple[Registration | None, bool]:
    """Line up two photos; a blurred one is named before anything else is blamed.

    Parameters
    ----------
    first, second : Photo
        The first as the face is marked in it.
    lights : tuple of two ndarrays of float32
        Linear light of the window round the face in the first, and of the second, each
        reduced by its step.
    inside : ndarray of bool
        The face in that window, reduced alike.
    corner_px : tuple of int
        (row, col) of the window's corner in the first photo.
    outline_px : ndarray of float64, (n, 2), or None
        (row, col) round the face in the first photo, where it is marked.
    steps : Steps, optional
        How far both are reduced (`pairs.reduction`).

    Returns
    -------
    lying : Registration or None
        From the window to the second, both reduced; None where neither shows anything
        to line up by.
    by_marks_alone : bool
        Nothing of the face itself confirms it.

    Raises
    ------
    PairError
        Nothing lines up, one photo is blurred, or both are one shot.
    """
    here, there = lights
    lying, alone = None, False
    try:
        lying = register(here, there, inside, step=steps.first)
    except PairError:
        smooth = is_bare(here, inside)
        bare = smooth and is_bare(there, np.ones(there.shape, bool))
        size = (here.shape[0], here.shape[1])
        for known in _known(first, second, outline_px, corner_px, inside, steps):
            laid, shown = laid_on(there, known.to_second, size)
            both_smooth = smooth and is_bare(laid, inside & shown)
            try:
                lying = register(
                    here,
                    there,
                    inside,
                    known,
                    trust_known=both_smooth,
                    step=steps.first,
                )
            except PairError:
                continue
            alone = both_smooth
            break
        if lying is None:
            if bare:
                return None, False
            refuse_blurred(here, there)
            raise
    laid, shown = laid_on(there, lying.to_second, (here.shape[0], here.shape[1]))
    if not alone:  # without texture there is none to compare
        refuse_same_photo(here, laid, inside & shown, lying)
        refuse_blurred(here, laid, inside & shown)
    return lying, alone


def _known(
    first: Photo,
    second: Photo,
    outline_px: Points | None,
    corner_px: tuple[int, int],
    inside: NDArray[np.bool_],
    steps: Steps,
) -> Iterator[Known]:
    """How the photos lie by what no lamp changes, the surest way first."""
    face = np.array([[0.0, 0.0], [inside.shape[1] - 1.0, inside.shape[0] - 1.0]])
    face = moved(grown(steps.first), face) + np.array(corner_px[::-1])
    shrunk = np.linalg.inv(grown(steps.second))
    window = np.array([[1.0, 0, corner_px[1]], [0, 1.0, corner_px[0]], [0, 0, 1.0]])
    for find in (_by_markers, _by_outline):
        known = find(first, second, outline_px, face)
        if known is not None:
            matrix = shrunk @ known.to_second @ window @ grown(steps.first)
            yield Known(to_second=matrix, off_px=known.off_px / steps.first)


def _by_markers(
    first: Photo, second: Photo, _outline_px: Points | None, face: Points
) -> Known | None:
    return by_markers(first.pixels, second.pixels, face)


def _by_outline(
    first: Photo, second: Photo, outline_px: Points | None, face: Points
) -> Known | None:
    corners = []
    for photo, line in ((first, outline_px), (second, None)):
        if line is None:
            found = find_face(photo)
            line = None if found.whole else found.outline_px  # noqa: PLW2901
        four = None if line is None else _four(line)
        if four is None:
            return None
        corners.append(four)
    return by_outline(luminance(first.pixels), luminance(second.pixels), corners, face)


def _four(outline_px: Points) -> Points | None:
    """Corners of an outline of four sides; None for another one."""
    if len(outline_px) == _CORNERS:
        return np.asarray(outline_px, dtype=np.float64)
    line = np.asarray(outline_px, dtype=np.float32)[:, None]
    near = cv2.approxPolyDP(line, _STRAIGHTENED * cv2.arcLength(line, True), True)
    if len(near) != _CORNERS:
        return None
    return np.asarray(near, dtype=np.float64).reshape(-1, 2)


def refuse_unlike_spots(
    first: Segmentation,
    second: Segmentation,
    to_second: Points,
    inside: NDArray[np.bool_],
) -> None:
    """Refuse two bare faces that a card lines up, but whose dark spots differ.

    A pit is dark in any light, if not in the same half of it.

    Parameters
    ----------
    first, second : Segmentation
        Of each photo by itself.
    to_second : ndarray of float64, (3, 3)
    inside : ndarray of bool, (rows, cols)
        The face in the first photo; what the second shows beside it is left out.

    Raises
    ------
    PairError
        Most of the dark area of one photo is even in the other.
    """
    here, (there_at, there_area) = _spots(first), _spots(second)
    back = np.asarray(np.linalg.inv(to_second), dtype=np.float64)
    there_at = moved(back, there_at)
    x, y = np.rint(there_at).astype(np.intp).T
    own = (x >= 0) & (y >= 0) & (x < inside.shape[1]) & (y < inside.shape[0])
    own[own] = inside[y[own], x[own]]
    there = there_at[own], there_area[own]
    for (at, area), (other_at, _) in ((here, there), (there, here)):
        if not len(at):
            continue
        apart = np.hypot(*(at[:, None] - other_at).transpose(2, 0, 1))
        reach = _NEAR * 2 * np.sqrt(area / np.pi)
        again = (apart < reach[:, None]).any(axis=1)
        if not area[again].sum() >= _LEAST_AGAIN * area.sum():
            raise PairError(OTHER_FACE.format(why="its dark spots differ"))


def _spots(found: Segmentation) -> tuple[Points, Points]:
    """Middles (x, y) and areas of all dark spots."""
    both = (found.voids, found.rejected)
    x, y, area = (
        np.concatenate([getattr(part, name) for part in both])
        for name in ("col_px", "row_px", "area_px")
    )
    return np.column_stack([x, y]).astype(np.float64), area
