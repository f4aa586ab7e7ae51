"""The printed scale sheet, or a card's marker, found in a photo."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.checks import number
from analysis.errors import ScaleError
from analysis.imaging.homography import (
    CORNER_SD_PX,
    fitted,
    fitted_square,
    moved,
    slope,
    spread,
)
from analysis.imaging.lens_bend import straight
from analysis.imaging.markers import Marker, find_markers
from analysis.imaging.pose import lens_of, posed, unseen_tilt_sd
from analysis.model.card import LAYOUT_OF, LAYOUTS, PAPER_MM
from analysis.model.sheet import (
    BELOW_MM,
    CHECK_MM,
    FRAME_MM,
    MARKER_MM,
    SHEET_MARKERS,
    WHITE_EDGE_MM,
    corners_mm,
)
from analysis.model.view import LARGEST_UNCERTAINTY, Plane

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from analysis.imaging.lens_bend import Bend
    from analysis.imaging.pose import Lens

    # Identity -> x, y and side of a marker, mm.
    Places = Mapping[int, tuple[float, float, float]]

# Printers keep lengths to a few parts in a thousand; a check length that was measured
# with a ruler leaves half a millimetre on it.
_PRINT_SD = 0.005
_CHECK_SD = 0.5 / CHECK_MM
_SMALLEST_CHECK_MM, _LARGEST_CHECK_MM = 100.0, 200.0
# A bent sheet lies this far off a plane, as a share of a marker's side.
_BENT = 0.03
# Two markers of one print do not differ by more in size.
_SAME_SIZE = 0.04
_PAPER_SLACK_MM = 2.0
# A card seen square on leaves its corners within this; more is tilt, and corrected.
_SQUARE_PX = 2 * CORNER_SD_PX


def find_sheet(
    pixels: NDArray[np.uint8],
    *,
    check_mm: float | None = None,
    lens_35mm: float | None = None,
    bend: Bend | None = None,
) -> tuple[Plane, tuple[Marker, ...]]:
    """Find the scale sheet, or a card, and the plane it lies in.

    Parameters
    ----------
    pixels : ndarray of uint8, (rows, cols, 3)
        sRGB, upright.
    check_mm : float, optional
        What a ruler says of the check length of 150 mm; corrects a printer that
        shrank or stretched the page.
    lens_35mm : float, optional
        The photo's; helps with a card seen askew.
    bend : Bend, optional
        What the lens did: the plane is then one of the picture without it.

    Returns
    -------
    plane : Plane
        Seen from the photo, with its uncertainty at the sheet.
    markers : tuple of Marker
        What it rests on.

    Raises
    ------
    ScaleError
        No sheet, a mirrored, cut, bent or doubled one, markers of different sizes,
        or an impossible check length.

    Examples
    --------
    >>> find_sheet(np.full((90, 120, 3), 150, np.uint8))
    Traceback (most recent call last):
    analysis.errors.ScaleError: No scale sheet was found in the photo of 120 x 90 px: \
lay all of it flat on the face, in the frame and out of glare.
    """
    stretch, stretch_sd = 1.0, _PRINT_SD
    if check_mm is not None:
        measured = number(
            check_mm,
            "The check length",
            low=_SMALLEST_CHECK_MM,
            high=_LARGEST_CHECK_MM,
            unit="mm",
            error=ScaleError,
        )
        stretch, stretch_sd = measured / CHECK_MM, _CHECK_SD
    markers = find_markers(pixels)
    if not markers:
        _refuse_none(pixels)
    _check_set(markers)
    own = _one_set(markers)
    lens = lens_of((pixels.shape[0], pixels.shape[1]), lens_35mm)
    if bend is not None:
        own, markers = (
            tuple(_unbent(one, bend) for one in of) for of in (own, markers)
        )
    plane = plane_of(own, lens=lens, stretch=stretch, stretch_sd=stretch_sd)
    _check_sizes(markers, plane.photo_to_mm, stretch)
    return plane, own


def places_of(marker: int) -> Places:
    """Return where the markers of the same sheet or card are.

    Examples
    --------
    >>> places_of(0)[1]
    (130.0, 0.0, 40.0)
    """
    if marker in SHEET_MARKERS:
        return {n: (*at, MARKER_MM) for n, at in SHEET_MARKERS.items()}
    layout = LAYOUTS[LAYOUT_OF[marker]]
    return {n: (*at, layout.marker_mm) for n, at in layout.markers.items()}


def plane_of(
    markers: Sequence[Marker],
    *,
    lens: Lens | None = None,
    stretch: float = 1.0,
    stretch_sd: float = _PRINT_SD,
) -> Plane:
    """Return the plane that markers of one sheet or card lie in.

    A card is small beside a face, and what its corners say of a tilt is carried on to
    the far end of the face. So a tilt they do not show is left alone, and one they do
    show is found as the pose of a card before a lens, which leaves less to chance than
    any plane at all.

    Parameters
    ----------
    markers : sequence of Marker
        All of one sheet or card.
    lens : Lens, optional
        What the photo was taken with, for cards.
    stretch : float
        What the printer made of 1 mm.
    stretch_sd : float
        Standard uncertainty of that.

    Raises
    ------
    ScaleError
        They do not lie in one plane.

    Examples
    --------
    >>> square = np.array([[0.0, 0.0], [0.0, 80.0], [80.0, 80.0], [80.0, 0.0]])
    >>> found = plane_of([Marker(number=8, corners_px=square)])
    >>> float(found.photo_to_mm[0, 0].round(6))
    0.3
    """
    places = places_of(markers[0].number)
    photo = np.concatenate([marker.corners_px[:, ::-1] for marker in markers])
    drawn = np.concatenate(
        [np.array(corners_mm(*places[marker.number])) for marker in markers]
    )
    drawn = drawn * stretch
    matrix, off_mm = fitted(photo, drawn)
    if off_mm > _BENT * max(side for _, _, side in places.values()):
        msg = (
            f"The scale sheet is bent: its markers lie {off_mm:.1f} mm off a plane; "
            "press it flat on the face."
        )
        raise ScaleError(msg)
    far_sd = 0.0
    if markers[0].number in LAYOUT_OF:
        # Back in px: what turn, scale and shift alone leave of the corners.
        square = fitted_square(photo, drawn)
        off_px = moved(np.linalg.inv(square).astype(np.float64), drawn) - photo
        if float(np.sqrt(np.mean(off_px**2))) < _SQUARE_PX:
            matrix, far_sd = square, unseen_tilt_sd(photo, _SQUARE_PX)
        elif lens is not None:
            matrix, far_sd = posed(photo, drawn, lens)
    off = moved(matrix, photo) - drawn
    # Root of the ratio of small areas at the middle of the markers. Where corners miss
    # the plane by more than usual, that is their sd.
    mm_per_px = float(np.sqrt(abs(np.linalg.det(slope(matrix, photo.mean(axis=0))))))
    sd_px = max(CORNER_SD_PX, float(np.sqrt(np.mean(off**2))) / mm_per_px)
    lengths_sd = spread(photo, drawn, sd_px)
    return Plane(
        photo_to_mm=matrix,
        centre_px=(float(photo[:, 1].mean()), float(photo[:, 0].mean())),
        relative_uncertainty=min(
            float(np.linalg.norm((lengths_sd, stretch_sd, far_sd))),
            LARGEST_UNCERTAINTY,
        ),
        method="sheet",
    )


def sheet_area(plane: Plane, *, card: str = "") -> NDArray[np.float64]:
    """Return the paper a sheet is printed on, to be left out of the face.

    Parameters
    ----------
    plane : Plane
        As `find_sheet` gave it.
    card : str
        A card's layout, empty for the sheet.

    Returns
    -------
    ndarray of float64, (4, 2)
        (row, col) px of the photo.

    Examples
    --------
    >>> flat = Plane(
    ...     photo_to_mm=np.eye(3),
    ...     centre_px=(0, 0),
    ...     relative_uncertainty=0,
    ...     method="sheet",
    ... )
    >>> sheet_area(flat)[0].tolist(), sheet_area(flat, card="A")[2].tolist()
    ([-10.0, -10.0], [103.0, 140.25])
    """
    if card:
        block, edges = LAYOUTS[card].block, PAPER_MM[card]
    else:
        block, edges = (0.0, 0.0, *FRAME_MM), (*(WHITE_EDGE_MM,) * 3, BELOW_MM)
    # White edges at the left, top, right and bottom of what is printed, mm, and a
    # little slack beyond the paper.
    left, top = (block[k] - edges[k] - _PAPER_SLACK_MM for k in (0, 1))
    right, below = (block[k] + edges[k] + _PAPER_SLACK_MM for k in (2, 3))
    area = np.array([[left, top], [right, top], [right, below], [left, below]])
    return moved(np.linalg.inv(plane.photo_to_mm).astype(np.float64), area)[:, ::-1]


def _refuse_none(pixels: NDArray[np.uint8]) -> None:
    if find_markers(np.ascontiguousarray(pixels[:, ::-1])):
        msg = (
            "The scale sheet is mirrored in this photo: switch off mirroring in the "
            "camera, or print the sheet the right way round."
        )
        raise ScaleError(msg)
    msg = (
        f"No scale sheet was found in the photo of {pixels.shape[1]} x "
        f"{pixels.shape[0]} px: lay all of it flat on the face, in the frame and out "
        "of glare."
    )
    raise ScaleError(msg)


def _check_set(markers: Sequence[Marker]) -> None:
    """Refuse doubled markers and a sheet with markers missing."""
    numbers = [marker.number for marker in markers]
    doubled = {number for number in numbers if numbers.count(number) > 1}
    if doubled:
        sides = [_side_px(marker) for marker in markers if marker.number in doubled]
        unlike = max(sides) > (1 + _SAME_SIZE) * min(sides)
        msg = (
            "Two scale sheets "
            + ("of different size " if unlike else "")
            + f"are in the photo ({len(numbers)} markers): leave only one on the face."
        )
        raise ScaleError(msg)
    of_sheet = [number for number in numbers if number in SHEET_MARKERS]
    if of_sheet and len(of_sheet) < len(SHEET_MARKERS):
        msg = (
            f"Only {len(of_sheet)} of the sheet's {len(SHEET_MARKERS)} markers can be "
            "seen: it is cut or covered, so photograph all of it."
        )
        raise ScaleError(msg)


def _one_set(markers: Sequence[Marker]) -> tuple[Marker, ...]:
    """Return the markers of the sheet, else of the card with most of them in sight."""
    sets = {id(marker): places_of(marker.number) for marker in markers}
    groups = [
        tuple(other for other in markers if other.number in sets[id(marker)])
        for marker in markers
    ]
    return max(groups, key=lambda one: (one[0].number in SHEET_MARKERS, len(one)))


def _check_sizes(
    markers: Sequence[Marker], matrix: NDArray[np.float64], stretch: float
) -> None:
    for marker in markers:
        corners = moved(matrix, marker.corners_px[:, ::-1])
        drawn = stretch * places_of(marker.number)[marker.number][2]
        side = float(np.mean(_sides(corners)))
        if abs(side / drawn - 1) > _SAME_SIZE:
            msg = (
                f"There are two markers of different size in the photo, {side:.0f} and "
                f"{drawn:.0f} mm: leave only the one whose size you know."
            )
            raise ScaleError(msg)


def _unbent(marker: Marker, bend: Bend) -> Marker:
    corners = straight(bend, marker.corners_px[:, ::-1])[:, ::-1]
    return replace(marker, corners_px=corners)


def _sides(corners: NDArray[np.float64]) -> NDArray[np.float64]:
    steps = corners - np.roll(corners, 1, axis=0)
    return np.hypot(steps[:, 0], steps[:, 1])


def _side_px(marker: Marker) -> float:
    return float(np.mean(_sides(marker.corners_px)))
