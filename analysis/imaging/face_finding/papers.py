"""Printed sheets and cards in a photo: the whole of their paper, by its layout."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import ScaleError
from analysis.imaging.homography import moved
from analysis.imaging.markers import find_markers
from analysis.imaging.pose import lens_of
from analysis.imaging.sheet import places_of, plane_of, sheet_area
from analysis.model.card import LAYOUT_OF
from analysis.model.sheet import corners_mm

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from analysis.imaging.markers import Marker
    from analysis.imaging.pose import Lens

# Two markers are of one print if each lies where the other says, to this share of the
# distance between them.
_OFF = 0.2


def papers_in(
    pixels: NDArray[np.uint8], lens_35mm: float | None = None
) -> tuple[NDArray[np.float64], ...]:
    """Find all printed sheets and cards, any number of each.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB, upright.
    lens_35mm : float, optional
        The photo's focal length as on 36 x 24 mm film.

    Returns
    -------
    tuple of ndarray of float64, (4, 2)
        (row, col) around each paper, a little beyond its edge; it may leave the photo.

    Examples
    --------
    >>> papers_in(np.full((90, 120, 3), 150, np.uint8))
    ()
    """
    lens = lens_of((pixels.shape[0], pixels.shape[1]), lens_35mm)
    return tuple(_paper(own, lens) for own in _prints(find_markers(pixels)))


def _prints(markers: Sequence[Marker]) -> Iterator[list[Marker]]:
    """Sort markers into the prints they belong to."""
    left = list(markers)
    while left:
        first = left.pop(0)
        own = [first]
        for other in list(left):
            taken = {marker.number for marker in own}
            if other.number not in taken and _is_beside(first, other):
                own.append(other)
                left.remove(other)
        yield own


def _is_beside(first: Marker, other: Marker) -> bool:
    """Tell whether a marker lies where the print of another has it."""
    places = places_of(first.number)
    if other.number not in places:
        return False
    # A fifth of the distance is allowed, so the plane of one marker will do.
    plane = plane_of([first])
    there = np.array(corners_mm(*places[other.number])).mean(axis=0)
    here = np.array(corners_mm(*places[first.number])).mean(axis=0)
    seen = moved(plane.photo_to_mm, other.corners_px[:, ::-1]).mean(axis=0)
    return bool(np.hypot(*(seen - there)) < _OFF * np.hypot(*(there - here)))


def _paper(own: list[Marker], lens: Lens | None) -> NDArray[np.float64]:
    try:
        plane = plane_of(own, lens=lens)
    except ScaleError:  # bent: one marker by itself is flat
        plane = plane_of(own[:1], lens=lens)
    return sheet_area(plane, card=LAYOUT_OF.get(own[0].number, ""))
