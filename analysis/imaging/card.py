"""Printed cards found in a photo: whose they are, and the scale beside them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import cv2
import numpy as np

from analysis.errors import ScaleError
from analysis.imaging.homography import moved
from analysis.imaging.markers import find_markers
from analysis.imaging.pose import lens_of
from analysis.imaging.qr import codes_in, texts_at
from analysis.imaging.sheet import plane_of, sheet_area
from analysis.model.card import LAYOUT_OF, LAYOUTS, code_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from analysis.imaging.markers import Marker
    from analysis.imaging.pose import Lens
    from analysis.model.card import Code, Layout
    from analysis.model.view import Plane

# The code is looked at this large, whatever its size in the photo.
_CODE_PX = 300
_EDGE_PX = 60
_CODE_CORNERS = np.array([(0, 0), (0, 1), (1, 1), (1, 0)]) * _CODE_PX + _EDGE_PX - 0.5
# A code whose card's markers are hidden is searched no larger than this.
_SEARCHED_PX = 2400


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class FoundCard:
    """A card in a photo.

    Attributes
    ----------
    code : Code or None
        None where it cannot be read, for glare, blur or dirt.
    plane : Plane or None
        The plane the card lies in; None where its markers are hidden.
    area_px : ndarray of float64, (n, 2)
        (row, col) around what is printed for the camera; to be left out of the face.
    """

    code: Code | None
    plane: Plane | None
    area_px: NDArray[np.float64]


def find_cards(
    pixels: NDArray[np.uint8], lens_35mm: float | None = None
) -> tuple[FoundCard, ...]:
    """Find the cards in a photo.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB, upright.
    lens_35mm : float, optional
        The photo's focal length as on 36 x 24 mm film.

    Returns
    -------
    tuple of FoundCard
        Each card once; those whose code was read first.

    Examples
    --------
    >>> find_cards(np.full((90, 120, 3), 150, np.uint8))
    ()
    """
    grey = np.asarray(cv2.cvtColor(pixels, cv2.COLOR_RGB2GRAY), np.uint8)
    lens = lens_of((grey.shape[0], grey.shape[1]), lens_35mm)
    read: dict[str, list[Marker]] = {}
    unread: list[Marker] = []
    for marker in find_markers(pixels):
        if marker.number in LAYOUT_OF:
            code = _code_beside(grey, marker, lens)
            beside = unread if code is None else read.setdefault(code.text, [])
            beside.append(marker)
    found = [_card(code_of(text), beside, lens) for text, beside in read.items()]
    # The second marker of a card whose code was read beside the first.
    unread = [marker for marker in unread if not any(_on(one, marker) for one in found)]
    if unread or not found:
        unread = _read_afar(grey, lens, found, unread)
    layouts = sorted({LAYOUT_OF[marker.number] for marker in unread})
    nameless = [
        _card(None, [one for one in unread if LAYOUT_OF[one.number] == layout], lens)
        for layout in layouts
    ]
    return (*found, *nameless)


def _read_afar(
    grey: NDArray[np.uint8], lens: Lens, found: list[FoundCard], unread: list[Marker]
) -> list[Marker]:
    """Add cards whose code is found by itself; return the markers still unread."""
    for card in _codes_alone(grey):
        own = [
            marker
            for marker in unread
            if card.code is not None
            and LAYOUT_OF[marker.number] == card.code.layout
            and _on(card, marker)
        ]
        if own:
            unread = [marker for marker in unread if marker not in own]
            found.append(_card(card.code, own, lens))
        elif not any(one.code == card.code for one in found):
            found.append(card)
    return unread


def _card(code: Code | None, markers: list[Marker], lens: Lens) -> FoundCard:
    """Return the card of these markers; of two prints of it, the first."""
    # Later entries of a dict win, hence the reversal.
    own = list({marker.number: marker for marker in reversed(markers)}.values())
    try:
        plane = plane_of(own, lens=lens)
    except ScaleError:
        # Bent, or two prints: one marker by itself is flat.
        plane = plane_of(own[:1], lens=lens)
    area = sheet_area(plane, card=LAYOUT_OF[own[0].number])
    return FoundCard(code=code, plane=plane, area_px=area)


def _on(card: FoundCard, marker: Marker) -> bool:
    """Tell whether a marker lies on a card."""
    area = card.area_px[:, ::-1].astype(np.float32)
    row, col = marker.corners_px.mean(axis=0)
    return bool(cv2.pointPolygonTest(area, (float(col), float(row)), False) >= 0)


def _code_beside(grey: NDArray[np.uint8], marker: Marker, lens: Lens) -> Code | None:
    """Read the code where a marker says that it is."""
    name = LAYOUT_OF[marker.number]
    plane = plane_of([marker], lens=lens)
    for picture in _looks(grey, LAYOUTS[name], plane):
        for text in texts_at(picture, _CODE_CORNERS):
            code = code_of(text)
            if code is not None and code.layout == name:
                return code
    return None


def _looks(
    grey: NDArray[np.uint8], layout: Layout, plane: Plane
) -> Iterator[NDArray[Any]]:
    """Show the code square on, plainly first, then made clearer."""
    x, y = layout.code_at
    px_per_mm = _CODE_PX / layout.code_mm
    side = _CODE_PX + 2 * _EDGE_PX
    to_picture = np.array(
        [
            [px_per_mm, 0.0, _EDGE_PX - 0.5 - x * px_per_mm],
            [0.0, px_per_mm, _EDGE_PX - 0.5 - y * px_per_mm],
            [0.0, 0.0, 1.0],
        ]
    )
    plain = cv2.warpPerspective(
        grey,
        to_picture @ plane.photo_to_mm,
        (side, side),
        flags=cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REPLICATE,
    )
    # Each look is worked out only if the one before could not be read: sharpened, local
    # contrast evened (CLAHE), then black and white by Otsu's threshold.
    yield plain
    soft = cv2.GaussianBlur(plain, (0, 0), _CODE_PX / 60)
    yield cv2.addWeighted(plain, 2.5, soft, -1.5, 0)
    even = cv2.createCLAHE(clipLimit=3.0, tileGridSize=(4, 4)).apply(plain)
    yield even
    yield cv2.threshold(soft, 0, 255, cv2.THRESH_BINARY + cv2.THRESH_OTSU)[1]


def _codes_alone(grey: NDArray[np.uint8]) -> Iterator[FoundCard]:
    """Find codes whose markers are hidden: they say whose, but give no scale."""
    step = max(1.0, max(grey.shape) / _SEARCHED_PX)
    small: Any = grey
    if step > 1:
        size = (round(grey.shape[1] / step), round(grey.shape[0] / step))
        small = cv2.resize(grey, size, interpolation=cv2.INTER_AREA)
    for text, corner in codes_in(small):
        code = code_of(text)
        if code is not None:
            at = (corner + 0.5) * step - 0.5
            yield FoundCard(code=code, plane=None, area_px=_printed(code, at))


def _printed(code: Code, corners_px: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return the printed part round a code found by itself."""
    layout = LAYOUTS[code.layout]
    x, y = layout.code_at
    ends = np.array([(0, 0), (1, 0), (1, 1), (0, 1)]) * layout.code_mm + (x, y)
    matrix = cv2.getPerspectiveTransform(
        ends.astype(np.float32), corners_px[:, ::-1].astype(np.float32)
    )
    left, top, right, below = layout.block
    block = np.array([(left, top), (right, top), (right, below), (left, below)])
    return moved(np.asarray(matrix, np.float64), block)[:, ::-1]
