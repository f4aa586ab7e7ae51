"""Studies of the gauge: draw the order, measure blind, read what it says."""

from __future__ import annotations

import math
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from analysis.errors import InputError
from analysis.gauge.answers import (
    gauge_answer,
    log_share,
    repeats_by_set_up,
    usual_from_repeats,
    usual_from_study,
)
from analysis.gauge.drawing import draw_study
from analysis.imaging.viewing import seen as seen_as
from analysis.model.gauge import Measured, usual_range
from analysis.model.method import newest_name
from analysis.model.reading import Share
from analysis.services.measuring import examined, measure
from analysis.services.review import ReviewCase, reviewed_reading
from analysis.storage.gauge_studies import (
    begin_study,
    delete_study,
    finish_study,
    keep_measured,
    load_study,
    studies,
)
from analysis.storage.packing import pack_face
from analysis.storage.reviews import pack_marks
from analysis.storage.usual import (
    drop_usual,
    keep_usual,
    repeated_readings,
    usual_in_force,
)

if TYPE_CHECKING:
    from collections.abc import Callable

    from analysis.model.gauge import Cell, Study, UsualSpread
    from analysis.model.log_views import Saved
    from analysis.model.photo import Face, Photo, Scale
    from analysis.model.reading import MeasureSettings, Reading
    from analysis.model.review import Review
    from analysis.services.log import Log

__all__ = [
    "begin_study",
    "delete_study",
    "draw_study",
    "drop_usual",
    "finish_study",
    "gauge_answer",
    "keep_cell",
    "keep_usual",
    "left_for",
    "load_study",
    "measured_again",
    "next_cell",
    "one_a_line",
    "studies",
    "usual_from_log",
    "usual_from_study",
    "usual_in_force",
    "with_usual",
]


def next_cell(study: Study, who: str) -> Cell | None:
    """Return what a person measures next, in the order drawn; None when done."""
    done = {one.cell for one in study.measured}
    return next(
        (cell for cell in study.plan.order if cell.who == who and cell not in done),
        None,
    )


def left_for(study: Study, who: str) -> tuple[int, int]:
    """Count what a person has measured, and has to measure in all."""
    mine = [cell for cell in study.plan.order if cell.who == who]
    done = sum(one.cell.who == who for one in study.measured)
    return done, len(mine)


def measured_again(
    photo: Photo,
    *,
    scale: Scale | None,
    face: Face,
    settings: MeasureSettings,
    draft: str,
    progress: Callable[[float, str], None] | None = None,
) -> ReviewCase:
    """Measure a face and open it for review, beside nothing that was found before.

    Parameters
    ----------
    photo : Photo
    scale : Scale or None
    face : Face
    settings : MeasureSettings
    draft : str
        Under what the decisions are kept until they are saved.
    progress : callable, optional
        Told the part done, 0..1, and what is being done.

    Returns
    -------
    ReviewCase
        Of no stored reading; its `reading_id` is 0.

    Raises
    ------
    FaceError
        The face cannot be measured.
    """
    tell = progress or (lambda _part, _what: None)
    reading, _ = measure(
        photo, scale=scale, face=face, settings=settings, progress=progress
    )
    seen = examined(photo, scale=scale, face=face, settings=settings, tell=tell)
    return ReviewCase(
        reading_id=0,
        reading=reading,
        photo=seen_as(photo, face.view),
        seen=seen,
        draft=draft,
    )


def keep_cell(
    log: Log,
    study: Study,
    cell: Cell,
    case: ReviewCase,
    review: Review,
    *,
    photo_bytes: bytes,
    photo: Photo,
) -> Saved:
    """Keep what a person made of a face; shown to nobody before the study ends.

    Raises
    ------
    InputError
        The study is finished, or this one was measured before.
    """
    reading = reviewed_reading(case, review)
    share = reading.summary.void_share
    detail = {
        "face": pack_face(reading.face),
        "mm_per_px": None if reading.scale is None else reading.scale.mm_per_px,
        "marks": pack_marks(review.marks),
        "photo_sha256": photo.sha256,
        "void_count": reading.summary.void_count,
    }
    return keep_measured(
        log,
        study.id,
        Measured(
            cell=cell,
            share=share.value,
            low=share.low,
            high=share.high,
            smallest_share=min(1.0, _smallest_share(reading)),
            method_version=reading.method_version,
            detail=detail,
            measured_at=datetime.now(UTC),
        ),
        photo_bytes=photo_bytes,
        photo=photo,
        save_token=f"study {study.id} {study.plan.order.index(cell)}",
    )


def _smallest_share(reading: Reading) -> float:
    """Share of one void of the smallest counted size."""
    summary = reading.summary
    return math.pi / 4 * summary.smallest_counted_px**2 / summary.face_area_px


def usual_from_log(log: Log) -> tuple[UsualSpread, ...]:
    """Return the spreads that the log's own repeated photos give, by set-up.

    Only of the version of the method that the latest of them were measured with.

    Returns
    -------
    tuple of UsualSpread
        Empty with fewer than six repeats in every set-up.
    """
    rows = [
        (set_up, newest_name(version), piece, log_share(share, smallest))
        for set_up, version, piece, share, smallest in repeated_readings(log)
    ]
    latest = {set_up: version for set_up, version, _, _ in rows}
    found = (
        usual_from_repeats(set_up, version, pieces)
        for (set_up, version), pieces in repeats_by_set_up(rows).items()
        if latest[set_up] == version
    )
    return tuple(one for one in found if one is not None)


def with_usual(log: Log, reading: Reading, set_up: str) -> Reading:
    """Return a reading with what the log knows of that set-up, saved or not.

    Parameters
    ----------
    log : Log
    reading : Reading
    set_up : str
        Place and light, as the log names it; case and blanks around do not matter.

    Returns
    -------
    Reading
        With `usual_share`, or as it was where nothing is in force there.
    """
    wanted = " ".join(set_up.split()).casefold()
    share = reading.summary.void_share.value
    for one in usual_in_force(log):
        alike = one.set_up.casefold() == wanted
        same = newest_name(one.method_version) == newest_name(reading.method_version)
        if alike and same and share > 0:
            low, high = usual_range(
                share, _smallest_share(reading), one.spread, one.degrees
            )
            return replace(reading, usual_share=Share(value=share, low=low, high=high))
    return reading


def one_a_line(text: str, what: str) -> tuple[str, ...]:
    r"""Read names or words, one a line.

    Raises
    ------
    InputError
        None, or one twice.

    Examples
    --------
    >>> one_a_line("bench\n north window \n", "The lights")
    ('bench', 'north window')
    """
    found = tuple(" ".join(line.split()) for line in text.splitlines() if line.strip())
    if not found or len({one.casefold() for one in found}) < len(found):
        msg = f"{what} need a line each, and none twice; {text!r} was given."
        raise InputError(msg)
    return found
