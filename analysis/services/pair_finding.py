"""The voids of a face in two photos: reduced, lined up, read, and brought back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import PairError
from analysis.imaging.face import continue_outside
from analysis.imaging.photo import luminance
from analysis.imaging.registration import OTHER_FACE
from analysis.pairs.doubts import refuse_same_noise
from analysis.pairs.finding import PairFound, find_in_pair
from analysis.pairs.lights import Lights
from analysis.pairs.reduction import as_taken, reduced, reduced_face, steps_of
from analysis.services.lining_up import lined_up, refuse_unlike_spots
from analysis.voids.segmentation import segment

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analysis.imaging.registration import Registration
    from analysis.model.photo import Photo
    from analysis.voids.segmentation import Segmentation


def found_in_both(
    first: Photo,
    second: Photo,
    pixels: NDArray[np.uint8],
    inside: NDArray[np.bool_],
    *,
    shot: Photo,
    corner_px: tuple[int, int],
    outline_px: NDArray[np.float64] | None,
    limits: tuple[float, float | None],
    tell: Callable[[float, str], None],
) -> tuple[PairFound, Registration | None]:
    """Find the voids that both photos of a face show.

    Parameters
    ----------
    first, second : Photo
        The first as the face is marked in it.
    pixels : ndarray of uint8, (rows, cols, 3)
        The window of the first round the face.
    inside : ndarray of bool, (rows, cols)
        The face in it.
    shot : Photo
        The first as it was taken.
    corner_px : tuple of int
        (row, col) of the window's corner in the first.
    outline_px : ndarray of float64, (n, 2), or None
        (row, col) round the face, where it is marked.
    limits : tuple
        Smallest counted area, px², and scale, mm per px or None, of the first.
    tell : callable
        Told the part done and what is being done.

    Returns
    -------
    pair : PairFound
        In px of the window.
    lying : Registration or None
        From the window to the second photo; None where neither shows anything to
        line up by.

    Raises
    ------
    PairError
        No pair, or one that cannot be measured.
    """
    shape = (inside.shape[0], inside.shape[1])
    photos = [(one.height_px, one.width_px) for one in (first, second)]
    steps = steps_of(limits[0], shape, *photos)
    here = _reduced_light(pixels, steps.first)
    there = _reduced_light(second.pixels, steps.second)
    face = reduced_face(inside, steps.first)
    tell(0.15, "Lining up the photos")
    small_lying, by_marks_alone = lined_up(
        first,
        second,
        (here, there),
        face,
        corner_px=corner_px,
        outline_px=outline_px,
        steps=steps,
    )
    continue_outside(here, face)
    tell(0.4, "Finding voids")
    if small_lying is None or by_marks_alone:
        refuse_same_noise(luminance(shot.pixels), luminance(second.pixels))
        beside = _apart(pixels, inside, second.pixels, limits)
    if small_lying is None:
        return _found_bare(*beside, inside), None
    lying = as_taken(small_lying, steps, shape, photos[1])
    if by_marks_alone:
        refuse_unlike_spots(*beside, lying.to_second, inside)
    pair = find_in_pair(
        np.asarray(reduced(pixels, steps.first), dtype=np.uint8),
        here,
        there,
        face,
        small_lying,
        smallest_px2=limits[0],
        mm_per_px=limits[1],
        step=steps.first,
        window_px=shape,
    )
    return pair, lying


def _reduced_light(pixels: NDArray[np.uint8], step: int) -> NDArray[np.float32]:
    """Linear light, reduced; the mean of light, not of codes."""
    return np.asarray(reduced(luminance(pixels), step), dtype=np.float32)


def _apart(
    first: NDArray[np.uint8],
    inside: NDArray[np.bool_],
    second: NDArray[np.uint8],
    limits: tuple[float, float | None],
) -> tuple[Segmentation, Segmentation]:
    """Find dark spots in each photo by itself, as it was taken."""
    here = luminance(first)
    continue_outside(here, inside)
    whole = np.ones(second.shape[:2], dtype=bool)
    found, beside = (
        segment(*photo, smallest_px2=limits[0], mm_per_px=limits[1])
        for photo in ((first, here, inside), (second, luminance(second), whole))
    )
    return found, beside


def _found_bare(
    found: Segmentation, beside: Segmentation, inside: NDArray[np.bool_]
) -> PairFound:
    """Find nothing on a face that shows nothing in either light, else refuse.

    Where neither photo has a dark spot, no way of lying can make one of them.
    """
    if sum(map(len, (found.voids, found.rejected, beside.voids, beside.rejected))):
        raise PairError(OTHER_FACE.format(why="no marks in common"))
    lights = Lights(first_rad=None, second_rad=None, sure=False)
    return PairFound(found=found, inside=inside, lights=lights, doubtful_px2=0.0)
