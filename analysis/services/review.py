"""A person's last word on a reading: open it, decide spot by spot, keep it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError
from analysis.flags import Flag
from analysis.imaging.face import continue_outside
from analysis.imaging.photo import luminance
from analysis.imaging.viewing import seen as seen_as
from analysis.model.method import newest_name
from analysis.model.reading import Share
from analysis.model.review import REASON_KINDS, Mark, Review, decided, seen_all
from analysis.services.measuring import examined
from analysis.storage.drafts import drop_draft, load_draft, save_draft
from analysis.storage.readings import load_reading
from analysis.storage.reviews import (
    last_signature,
    marks_of_review,
    pack_marks,
    reviewed_share,
    save_review,
    unpack_marks,
)
from analysis.voids.hit_test import covered_share, outline_at
from analysis.voids.measurement import measured_interval
from analysis.voids.outline_edits import brushed, few_corners, joined, split
from analysis.voids.review import decided_interval, reviewed
from analysis.voids.seeded_outline import drawn_outline, outline_around
from analysis.voids.settings import METHOD_VERSION, SETTINGS

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analysis.model.log_views import ReadingLine
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading, Summary
    from analysis.model.review import Outline
    from analysis.services.log import Log
    from analysis.services.measuring import Examined
    from analysis.voids.segmentation import Segmentation

__all__ = [
    "Case",
    "Spot",
    "begun",
    "cut",
    "decide",
    "draw_missed",
    "drop_begun",
    "few_corners",
    "find_missed",
    "join",
    "keep_begun",
    "last_signature",
    "marks_of_review",
    "open_case",
    "paint",
    "pull",
    "reviewed_reading",
    "reviewed_share",
    "save_review",
    "say_seen",
    "seen_all",
    "spot_at",
    "spots",
]

# A new outline that lies on a listed spot for more than this part of it is that spot.
_SAME_SPOT = 0.3


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """An automatic reading opened for review.

    Attributes
    ----------
    reading_id : int
        Of the automatic reading; 0 where it is in no log.
    reading : Reading
        As stored.
    photo : Photo
    seen : Examined
        The same face, examined again.
    draft : str
        Under what unsaved decisions are kept; empty takes the reading's own key.
    """

    reading_id: int
    reading: Reading
    photo: Photo
    seen: Examined
    draft: str = ""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Spot:
    """A spot as the reviewer sees it.

    Attributes
    ----------
    number : int
        As decisions name it.
    counted, added, by_hand : bool
    replaced : bool
        Whether other outlines took its place; it is not shown any more.
    words : str
        Why it is not counted; empty for a counted void.
    outline_px : ndarray of float64, (n, 2)
        (row, col) in the photo.
    diameter_mm : float or None
        None without a scale.
    diameter_px : float
    """

    number: int
    counted: bool
    added: bool
    by_hand: bool
    words: str
    outline_px: NDArray[np.float64]
    diameter_mm: float | None
    diameter_px: float
    replaced: bool = False


def open_case(
    log: Log,
    line: ReadingLine,
    photo: Photo,
    progress: Callable[[float, str], None] | None = None,
) -> Case:
    """Open a reading, or the reading a review rests on.

    Parameters
    ----------
    log : Log
    line : ReadingLine
        An automatic reading or a review of one.
    photo : Photo
        Of that reading.
    progress : callable, optional
        Told the part done, 0..1, and what is being done.

    Returns
    -------
    Case

    Raises
    ------
    InputError
        It was measured by another version of the steps: measure again first.
    """
    reading_id = line.id if line.reviews_id is None else line.reviews_id
    reading = load_reading(log, reading_id)
    if newest_name(reading.method_version) != METHOD_VERSION:
        msg = (
            f"This reading was made by version {reading.method_version} of the method, "
            f"and now it is {METHOD_VERSION}: measure the photo again, then review it."
        )
        raise InputError(msg)
    photo = seen_as(photo, reading.face.view)
    seen = examined(
        photo,
        scale=reading.scale,
        face=reading.face,
        settings=reading.settings,
        tell=progress or (lambda _part, _what: None),
    )
    return Case(reading_id=reading_id, reading=reading, photo=photo, seen=seen)


def reviewed_reading(case: Case, review: Review) -> Reading:
    """Return the reading as decided, its share and intervals taken anew.

    Parameters
    ----------
    case : Case
    review : Review

    Returns
    -------
    Reading
        Without decisions, the figures of the automatic one.
    """
    seen, origin = case.seen, case.seen.origin
    scale = case.reading.scale
    found = reviewed(
        seen.found,
        [_moved(mark, -origin) for mark in review.marks],
        seen.inside,
        mm_per_px=None if scale is None else scale.mm_per_px,
    )
    flags = case.reading.flags - {Flag.NOTHING_FOUND}
    if len(found.voids) == 0:
        flags |= {Flag.NOTHING_FOUND}
    summary = seen.summary(found)
    if seen_all(review.marks):
        summary = _decided_by_eye(case, found, summary)
    return replace(
        case.reading,
        summary=summary,
        voids=found.voids.moved(origin),
        rejected=found.rejected.moved(origin),
        flags=flags,
    )


def _decided_by_eye(case: Case, found: Segmentation, summary: Summary) -> Summary:
    """Put the interval of a face that was looked at as a whole in place.

    What sampling adds to the second interval stays.
    """
    was, sampled = summary.void_share, summary.sampled_share
    ends = decided_interval(found) if len(found.voids) else (0.0, 0.0)
    one = case.seen.smallest_px2 / summary.face_area_px
    low, high = measured_interval(was.value, ends, one)

    def of_sampling(end: float, measured: float) -> float:
        squares = (end - was.value) ** 2 - (measured - was.value) ** 2
        return math.sqrt(max(0.0, squares))

    below = of_sampling(sampled.low, was.low)
    above = of_sampling(sampled.high, was.high)
    return replace(
        summary,
        void_share=Share(value=was.value, low=low, high=high),
        sampled_share=Share(
            value=was.value,
            low=max(0.0, was.value - math.hypot(below, was.value - low)),
            high=min(1.0, was.value + math.hypot(above, high - was.value)),
        ),
    )


def spots(case: Case, review: Review) -> tuple[Spot, ...]:
    """Return all spots with where the decisions leave them, by number."""
    seen, origin = case.seen, case.seen.origin
    found = seen.found
    states, added = decided(review.marks, len(found.voids), len(found.rejected))
    lines = [line + origin for line in found.voids.outline_px]
    lines += [line + origin for line in found.rejected.outline_px]
    lines += [outline.line_px for outline in added]
    areas = np.concatenate(
        [
            found.voids.area_px,
            found.rejected.area_px,
            [outline.area_px for outline in added],
        ]
    )
    words = [""] * len(found.voids) + [*found.rejected.reason] + [""] * len(added)
    first_added = len(found.voids) + len(found.rejected)
    mm_per_px = None if case.reading.scale is None else case.reading.scale.mm_per_px
    across = np.sqrt(4 * areas / np.pi)
    return tuple(
        Spot(
            number=at,
            counted=state.counted,
            added=at >= first_added,
            by_hand=state.by_hand,
            words=""
            if state.counted
            else REASON_KINDS.get(state.reason, ("", words[at]))[1],
            outline_px=lines[at],
            diameter_mm=None if mm_per_px is None else float(across[at]) * mm_per_px,
            diameter_px=float(across[at]),
            replaced=state.reason == "replaced",
        )
        for at, state in enumerate(states)
    )


def spot_at(
    listed: tuple[Spot, ...], at_px: tuple[float, float], reach_px: float
) -> Spot | None:
    """Return the spot a finger meant: the one it is in, else the nearest in reach.

    Parameters
    ----------
    listed : tuple of Spot
    at_px : tuple of float
        (row, col) in the photo.
    reach_px : float
        How far beside a spot still means it, px of the photo.

    Returns
    -------
    Spot or None
    """
    shown = [spot for spot in listed if not spot.replaced]
    place = outline_at([spot.outline_px for spot in shown], at_px, reach_px)
    return None if place is None else shown[place]


def find_missed(
    case: Case, review: Review, at_px: tuple[float, float], reach_px: float
) -> Review:
    """Add the missed void at a point, its outline found by the boundary rule.

    Parameters
    ----------
    case : Case
    review : Review
    at_px : tuple of float
        (row, col) in the photo.
    reach_px : float
        How far off it may lie.

    Returns
    -------
    Review

    Raises
    ------
    InputError
        Outside the face, nothing there, too small, or listed already.
    """
    light, inside, corner = _around(case, at_px)
    local = (at_px[0] - corner[0], at_px[1] - corner[1])
    found = outline_around(light, inside, local, reach_px)
    return _added(case, review, replace(found, line_px=found.line_px + corner))


def draw_missed(case: Case, review: Review, line_px: NDArray[np.float64]) -> Review:
    """Add a missed void as a person drew it.

    Parameters
    ----------
    case : Case
    review : Review
    line_px : ndarray of float64, (n, 2)
        Corners, (row, col) in the photo.

    Returns
    -------
    Review

    Raises
    ------
    InputError
        It encloses nothing, lies outside the face, is too small, or listed already.
    """
    return _added(case, review, _drawn(case, line_px))


def _drawn(case: Case, line_px: NDArray[np.float64]) -> Outline:
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
    case: Case, review: Review, spot: Spot, line_px: NDArray[np.float64]
) -> Review:
    """Give a spot another outline, as it was pulled by its points.

    Raises
    ------
    InputError
        It encloses nothing, lies outside the face, or is too small.
    """
    return _replaced(case, review, (spot,), (line_px,))


def cut(case: Case, review: Review, spot: Spot, cut_px: NDArray[np.float64]) -> Review:
    """Cut a spot in two along the line through two points.

    Raises
    ------
    InputError
        The cut misses it, or a piece is too small to count.
    """
    return _replaced(case, review, (spot,), split(spot.outline_px, cut_px))


def join(case: Case, review: Review, one: Spot, other: Spot) -> Review:
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
    case: Case,
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


def say_seen(review: Review, *, seen: bool) -> Review:
    """Say that the whole face was looked at, or take that back."""
    if seen == seen_all(review.marks):
        return review
    if seen:
        return review.done(Mark(action="seen_all", spot=0))
    return Review(
        marks=tuple(mark for mark in review.marks if mark.action != "seen_all")
    )


def _replaced(
    case: Case,
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


def decide(review: Review, spot: Spot, reason: str | None) -> Review:
    """Turn a spot down for a reason, or count it where no reason is given."""
    if reason is None:
        return review.done(Mark(action="bring_back", spot=spot.number))
    return review.done(Mark(action="reject", spot=spot.number, reason=reason))


def begun(log: Log, case: Case, line: ReadingLine | None) -> Review:
    """Return the review as it was left: what was not saved yet, else what was.

    Parameters
    ----------
    log : Log
    case : Case
        The reading opened.
    line : ReadingLine or None
        What it was opened from; of a review its decisions are taken up. None for a
        case of no stored reading.

    Returns
    -------
    Review
    """
    draft = load_draft(log, _draft_key(case))
    if draft is None:
        return Review() if line is None else Review(marks=marks_of_review(log, line.id))
    return Review(
        marks=unpack_marks(draft["marks"]), undone=unpack_marks(draft["undone"])
    )


def keep_begun(log: Log, case: Case, review: Review) -> None:
    """Keep a review that is not saved yet; a closed browser loses nothing."""
    content = {
        "marks": pack_marks(review.marks),
        "undone": pack_marks(review.undone),
    }
    save_draft(log, _draft_key(case), content)


def drop_begun(log: Log, case: Case) -> None:
    """Forget what was not saved."""
    drop_draft(log, _draft_key(case))


def _draft_key(case: Case) -> str:
    return case.draft or f"review {case.reading_id}"


def _moved(mark: Mark, by_px: NDArray[np.float64]) -> Mark:
    """Return a decision with its outline in the px of the window."""

    def moved(outline: Outline) -> Outline:
        return replace(outline, line_px=outline.line_px + by_px)

    return replace(
        mark,
        outline=None if mark.outline is None else moved(mark.outline),
        outlines=tuple(moved(one) for one in mark.outlines),
    )


def _around(
    case: Case, at_px: tuple[float, float]
) -> tuple[NDArray[np.float32], NDArray[np.bool_], NDArray[np.float64]]:
    """Light and face around a point, and (row, col) of their first px."""
    inside, origin = case.seen.inside, case.seen.origin
    row, col = (int(at - start) for at, start in zip(at_px, origin, strict=True))
    rows, cols = inside.shape
    if not (0 <= row < rows and 0 <= col < cols and inside[row, col]):
        msg = "This is outside the measured face: tap inside its outline."
        raise InputError(msg)
    window = (
        slice(
            max(0, row - SETTINGS.seeded.half_window_px),
            row + SETTINGS.seeded.half_window_px,
        ),
        slice(
            max(0, col - SETTINGS.seeded.half_window_px),
            col + SETTINGS.seeded.half_window_px,
        ),
    )
    pixels = case.photo.pixels[case.seen.window][window]
    corner = origin + np.array([part.start for part in window])
    light = luminance(np.ascontiguousarray(pixels))
    continue_outside(light, inside[window])
    return light, inside[window], corner


def _check_size(case: Case, outline: Outline) -> None:
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


def _added(case: Case, review: Review, outline: Outline) -> Review:
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
