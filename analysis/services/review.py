"""A person's last word on a reading: open it, decide spot by spot, keep it."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from analysis.errors import InputError
from analysis.flags import Flag
from analysis.imaging.viewing import seen as seen_as
from analysis.model.method import newest_name
from analysis.model.reading import Share
from analysis.model.review import REASON_KINDS, Mark, Review, decided, seen_all
from analysis.pieces.standing import REPRESENTATIVE
from analysis.services.measuring import examined
from analysis.services.ribbed import ALONG_FLUTES
from analysis.services.turns import turn
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
from analysis.voids.hit_test import outline_at
from analysis.voids.measurement import measured_interval
from analysis.voids.segmentation_review import decided_interval, reviewed
from analysis.voids.settings import METHOD_VERSION

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analysis.model.log_views import ReadingLine
    from analysis.model.photo import Photo
    from analysis.model.reading import Reading, Summary
    from analysis.model.review import Outline
    from analysis.services.log import Log
    from analysis.services.measuring import ExaminedFace
    from analysis.voids.segmentation import Segmentation

__all__ = [
    "ReviewCase",
    "Spot",
    "begun",
    "decide",
    "drop_begun",
    "keep_begun",
    "last_signature",
    "marks_of_review",
    "open_case",
    "reviewed_reading",
    "reviewed_share",
    "save_review",
    "say_seen",
    "seen_all",
    "spot_at",
    "spots",
]

# A new outline that lies on a listed spot for more than this part of it is that spot.


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ReviewCase:
    """An automatic reading opened for review.

    Attributes
    ----------
    reading_id : int
        Of the automatic reading; 0 where it is in no log.
    reading : Reading
        As stored.
    photo : Photo
    seen : ExaminedFace
        The same face, examined again.
    draft : str
        Under what unsaved decisions are kept; empty takes the reading's own key.
    stands_for_all : bool
        The photo shows an ordinary part, from which the rest can be told.
    """

    reading_id: int
    reading: Reading
    photo: Photo
    seen: ExaminedFace
    draft: str = ""
    stands_for_all: bool = True


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
) -> ReviewCase:
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

    Raises
    ------
    InputError
        It was measured by another version of the steps: measure again first.
    BusyError
        Too many photos wait already.
    """
    reading_id = line.id if line.reviews_id is None else line.reviews_id
    reading = load_reading(log, reading_id)
    _refuse_other_method(reading, {METHOD_VERSION, METHOD_VERSION + ALONG_FLUTES})
    photo = seen_as(photo, reading.face.view)
    with turn(photo.height_px * photo.width_px / 1e6, progress):
        seen = examined(
            photo,
            scale=reading.scale,
            face=reading.face,
            settings=reading.settings,
            tell=progress or (lambda _part, _what: None),
        )
    # A face once taken for flat may show its flutes now: those are other spots.
    _refuse_other_method(reading, {METHOD_VERSION + seen.levelling.variant})
    return ReviewCase(
        reading_id=reading_id,
        reading=reading,
        photo=photo,
        seen=seen,
        stands_for_all=line.use.purpose == REPRESENTATIVE,
    )


def _refuse_other_method(reading: Reading, now: set[str]) -> None:
    if newest_name(reading.method_version) not in now:
        msg = (
            f"This reading was made by version {reading.method_version} of the method, "
            f"and now it is {min(now)}: measure the photo again, then review it."
        )
        raise InputError(msg)


def reviewed_reading(case: ReviewCase, review: Review) -> Reading:
    """Return the reading as decided, its share and intervals taken anew.

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


def _decided_by_eye(case: ReviewCase, found: Segmentation, summary: Summary) -> Summary:
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


def spots(case: ReviewCase, review: Review) -> tuple[Spot, ...]:
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
    """
    shown = [spot for spot in listed if not spot.replaced]
    place = outline_at([spot.outline_px for spot in shown], at_px, reach_px)
    return None if place is None else shown[place]


def say_seen(review: Review, *, seen: bool) -> Review:
    """Say that the whole face was looked at, or take that back."""
    if seen == seen_all(review.marks):
        return review
    if seen:
        return review.done(Mark(action="seen_all", spot=0))
    return Review(
        marks=tuple(mark for mark in review.marks if mark.action != "seen_all")
    )


def decide(review: Review, spot: Spot, reason: str | None) -> Review:
    """Turn a spot down for a reason, or count it where no reason is given."""
    if reason is None:
        return review.done(Mark(action="bring_back", spot=spot.number))
    return review.done(Mark(action="reject", spot=spot.number, reason=reason))


def begun(log: Log, case: ReviewCase, line: ReadingLine | None) -> Review:
    """Return the review as it was left: what was not saved yet, else what was.

    Parameters
    ----------
    log : Log
    case : ReviewCase
        The reading opened.
    line : ReadingLine or None
        What it was opened from; of a review its decisions are taken up. None for a
        case of no stored reading.
    """
    draft = load_draft(log, _draft_key(case))
    if draft is None:
        return Review() if line is None else Review(marks=marks_of_review(log, line.id))
    return Review(
        marks=unpack_marks(draft["marks"]), undone=unpack_marks(draft["undone"])
    )


def keep_begun(log: Log, case: ReviewCase, review: Review) -> None:
    """Keep a review that is not saved yet; a closed browser loses nothing."""
    content = {
        "marks": pack_marks(review.marks),
        "undone": pack_marks(review.undone),
    }
    save_draft(log, _draft_key(case), content)


def drop_begun(log: Log, case: ReviewCase) -> None:
    """Forget what was not saved."""
    drop_draft(log, _draft_key(case))


def _draft_key(case: ReviewCase) -> str:
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
