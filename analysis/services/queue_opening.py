"""A photo that waits as it will be measured: its cards, plane, scale and papers."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from analysis.errors import ScaleError
from analysis.services.cards import find_cards
from analysis.services.faces import find_face
from analysis.services.log import photo_bytes
from analysis.services.photos import read_photo
from analysis.services.sheets import (
    points_of,
    seen,
    straightened,
    to_view,
    with_lens_doubt,
)

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analysis.imaging.card import FoundCard
    from analysis.model.photo import Photo, Scale
    from analysis.model.points import Points
    from analysis.model.view import View
    from analysis.model.waiting import WaitingPhoto
    from analysis.services.log import Log

_SAME_PAPER = 0.1


class Opened(NamedTuple):
    """A waiting photo with its cards, and the view and scale they give."""

    photo: Photo
    cards: Sequence[FoundCard]
    view: View | None
    scale: Scale | None
    areas: tuple[Points, ...]


def opened(log: Log, waiting: WaitingPhoto) -> Opened:
    """Straighten by the first card that gives a plane; all of them are left out."""
    photo = read_photo(photo_bytes(log, waiting.sha256), waiting.name)
    cards = find_cards(photo.pixels, photo.lens_35mm)
    view = scale = None
    for card in cards:
        if card.plane is None:
            continue
        try:
            view, scale = straightened(card.plane, (photo.height_px, photo.width_px))
            scale = with_lens_doubt(photo, scale, card.area_px)
        except ScaleError:
            continue
        break
    found = find_face(seen(photo, view))
    printed = [to_view(view, card.area_px) for card in cards]
    others = [
        area
        for area in found.left_out_px
        if not any(_is_same(area, paper) for paper in printed)
    ]
    areas = tuple(points_of(area) for area in (*printed, *others))
    return Opened(photo, cards, view, scale, areas)


def _is_same(area: NDArray[np.float64], paper: NDArray[np.float64]) -> bool:
    """Tell whether two areas are of one paper, seen before and after straightening."""
    off = float(np.abs(area.mean(axis=0) - paper.mean(axis=0)).max())
    return off < _SAME_PAPER * float(np.ptp(paper, axis=0).max())
