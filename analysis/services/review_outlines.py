"""Outlines of a review: a missed void found or drawn, a wrong one put right."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError
from analysis.imaging.face import continue_outside
from analysis.imaging.photo import luminance
from analysis.model.review import Mark, Review
from analysis.services.review import spots
from analysis.voids.hit_test import covered_share
from analysis.voids.outline_edits import brushed, few_corners, joined, split
from analysis.voids.seeded_outline import drawn_outline, outline_around
from analysis.voids.settings import SETTINGS

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analysis.model.review import Outline
    from analysis.services.review import ReviewCase, Spot

__all__ = [
    "cut",
    "draw_missed",
    "few_corners",
    "find_missed",
    "join",
    "paint",
    "pull",
]

_SAME_SPOT = 0.3


def find_missed(
    case: ReviewCase, review: Review, at_px: tuple[float, float], reach_px: float
) -> Review:
    """Add the missed void at a point, its outline found by the boundary rule.

    Parameters
    ----------
    case : ReviewCase
    review : Review
    at_px : tuple of float
        (row, col) in the photo.
    reach_px : float
        How far off it may lie.

    Raises
    ------
    InputError
        Outside the face, nothing there, too small, or listed already.
    """
    light, inside, corner = _around(case, at_px)
    local = (at_px[0] - corner[0], at_px[1] - corner[1])
    found = outline_around(light, inside, local, reach_px)
    return _added(case, review, replace(found, line_px=found.line_px + corner))


def draw_missed(
    case: ReviewCase, review: Review, line_px: NDArray[np.float64]
) -> Review:
    """Add a missed void as a person drew it.

    Parameters
    ----------
    case : ReviewCase
    review : Review
    line_px : ndarray of float64, (n, 2)
        Corners, (row, col) in the photo.

    Raises
    ------
    InputError
        It encloses nothing, lies outside the face, is too small, or listed already.
    """
    return _added(case, review, _drawn(case, line_px))


def _drawn(case: ReviewCase, line_px: NDArray[np.float64]) -> Outline:
    """Take an outline as a person drew it, in px of the photo."""
    line = np.asarray(line_px, dtype=np.float64).reshape(-1, 2)
    middle = line.mean(axis=0) if len(line) else np.full(2, -1.0)
    light, _, corner = _around(case, (float(middle[0]), float(middle[1])))
    cells = case.seen.found.background.cells
    share = (middle - case.seen.origin) / case.seen.inside.shape
    at = np.clip(share * cells.shape, 0, np.array(cells.shape) - 1).astype(int)
    found = drawn_outline(light, line - corner, float(cells[at[0], at[1]]))
    return replace(found, line_px=line)


def pull(
    case: ReviewCase, review: Review, spot: Spot, line_px: NDArray[np.float64]
) -> Review:
    """Give a spot another outline, as it was pulled by its points.

    Raises
    ------
    InputError
        It encloses nothing, lies outside the face, or is too small.
    """
    return _replaced(case, review, (spot,), (line_px,))


def cut(
    case: ReviewCase, review: Review, spot: Spot, cut_px: NDArray[np.float64]
) -> Review:
    """Cut a spot in two along the line through two points.

    Raises
    ------
    InputError
        The cut misses it, or a piece is too small to count.
    """
    return _replaced(case, review, (spot,), split(spot.outline_px, cut_px))


def join(case: ReviewCase, review: Review, one: Spot, other: Spot) -> Review:
    """Make one void of two spots.

    Raises
    ------
    InputError
        They are the same, or lie too far apart.
    """
    if one.number == other.number:
        msg = "Tap another outline to join this one with."
        raise InputError(msg)
    line = joined([one.outline_px, other.outline_px])
    return _replaced(case, review, (one, other), (line,))


def paint(
    case: ReviewCase,
    review: Review,
    spot: Spot | None,
    stroke_px: NDArray[np.float64],
    radius_px: float,
    *,
    on: bool,
) -> Review:
    """Paint onto a spot or take off it; without one, paint a void that was missed.

    Raises
    ------
    InputError
        Nothing is left, or what is painted cannot be a void of its own.
    """
    if spot is None:
        if not on:
            msg = "Choose the outline that the brush is to take off from."
            raise InputError(msg)
        return draw_missed(case, review, brushed(None, stroke_px, radius_px, on=True))
    line = brushed(spot.outline_px, stroke_px, radius_px, on=on)
    return _replaced(case, review, (spot,), (line,))


def _replaced(
    case: ReviewCase,
    review: Review,
    gone: tuple[Spot, ...],
    lines_px: tuple[NDArray[np.float64], ...],
) -> Review:
    """Let outlines drawn by hand take the place of spots."""
    outlines = tuple(_drawn(case, line) for line in lines_px)
    for outline in outlines:
        _check_size(case, outline)
    count = len(spots(case, review))
    return review.done(
        Mark(
            action="replace",
            spot=count,
            gone=tuple(spot.number for spot in gone),
            outlines=outlines,
        )
    )


def _around(
    case: ReviewCase, at_px: tuple[float, float]
) -> tuple[NDArray[np.float32], NDArray[np.bool_], NDArray[np.float64]]:
    """Light and face around a point, and (row, col) of their first px."""
    inside, origin = case.seen.inside, case.seen.origin
    row, col = (int(at - start) for at, start in zip(at_px, origin, strict=True))
    rows, cols = inside.shape
    if not (0 <= row < rows and 0 <= col < cols and inside[row, col]):
        msg = "This is outside the measured face: tap inside its outline."
        raise InputError(msg)
    half = SETTINGS.seeded.half_window_px
    window = (
        slice(max(0, row - half), row + half),
        slice(max(0, col - half), col + half),
    )
    pixels = case.photo.pixels[case.seen.window][window]
    corner = origin + np.array([part.start for part in window])
    light = luminance(np.ascontiguousarray(pixels))
    continue_outside(light, inside[window])
    return light, inside[window], corner


def _check_size(case: ReviewCase, outline: Outline) -> None:
    """Refuse what is too small to count here."""
    seen = case.seen
    if outline.area_px < seen.smallest_px2:
        least = (
            f"{np.sqrt(4 * seen.smallest_px2 / np.pi):.1f} px"
            if seen.smallest_mm is None
            else f"{seen.smallest_mm:.2g} mm"
        )
        msg = (
            f"This void is smaller than {least}, the smallest counted here: "
            "leave it, or measure again with a smaller limit."
        )
        raise InputError(msg)


def _added(case: ReviewCase, review: Review, outline: Outline) -> Review:
    """Add a void unless it is too small or listed already."""
    _check_size(case, outline)
    seen = case.seen
    listed = spots(case, review)
    covered = covered_share(
        outline.line_px - seen.origin,
        [spot.outline_px - seen.origin for spot in listed if not spot.replaced],
        seen.inside.shape,
    )
    if covered > _SAME_SPOT:
        msg = "This spot has an outline already: tap it, then say whether it counts."
        raise InputError(msg)
    return review.done(Mark(action="add", spot=len(listed), outline=outline))
