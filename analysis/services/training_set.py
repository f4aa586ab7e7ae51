"""Reviewed photos as a training set: one file, made when it is asked for.

Nothing of it is sent anywhere: the bytes go to whoever asked, and only after consent.
"""

from __future__ import annotations

import io
import json
import zipfile
from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import named, plain_text
from analysis.errors import InputError
from analysis.model.review import seen_all
from analysis.report.coco import coco_annotations
from analysis.services.photos import encoded, read_photo
from analysis.storage.photo_store import photo_bytes
from analysis.storage.reading_lines import list_readings
from analysis.storage.readings import load_reading
from analysis.storage.reviews import marks_of_review

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence
    from datetime import date

    from analysis.model.log_views import ReadingLine
    from analysis.services.log import Log

CONSENT = (
    "The one who made this file may pass these photos on, and agrees that they are "
    "used to train and to test the finding of voids, by whoever is given the file."
)
_INSIDE = (
    "images/: the photos, upright, without camera data, place or time.\n"
    "annotations.json: outlines of voids, honeycomb, face and left-out areas, and of "
    "what a person turned down, in the COCO layout. Under an image, whole_face_seen "
    "tells whether the reviewer said to have looked at all of it.\n"
    "Not inside: names of pieces, pours, forms, customers or reviewers, and the log.\n"
)


@dataclass(frozen=True, slots=True, kw_only=True)
class TrainingSet:
    """What was put into a file.

    Attributes
    ----------
    data : bytes
        The zip.
    photos, voids, turned_down : int
    """

    data: bytes
    photos: int
    voids: int
    turned_down: int


def reviewed_lines(log: Log) -> tuple[ReadingLine, ...]:
    """Return the latest review of each photo, latest first.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     reviewed_lines(open_log(folder))
    ()
    """
    latest: dict[str, ReadingLine] = {}
    for line in list_readings(log):
        if line.reviews_id is not None:
            latest.setdefault(line.photo_sha256, line)
    return tuple(latest.values())


def training_set(
    log: Log,
    lines: Sequence[ReadingLine],
    *,
    agreed_by: str,
    agreed_on: date,
    consent: bool,
    progress: Callable[[float, str], None] | None = None,
) -> TrainingSet:
    """Put reviewed photos and their outlines into one zip.

    Parameters
    ----------
    log : Log
    lines : sequence of ReadingLine
        Reviews of this log.
    agreed_by : str
        A name or a word for whoever agrees; written into the file.
    agreed_on : date
    consent : bool
        Whether `CONSENT` was agreed to.
    progress : callable, optional
        Told the part done, 0..1, and what is being done.

    Raises
    ------
    InputError
        No consent, nobody who gives it, or no reviewed photo.
    """
    if not consent:
        msg = "No file is made without consent: agree first, or leave it."
        raise InputError(msg)
    named(agreed_by, "Whoever agrees")
    plain_text(agreed_by, "Whoever agrees")
    if not lines:
        msg = "No photo is reviewed yet: review one void by void first."
        raise InputError(msg)
    tell = progress or (lambda _part, _what: None)
    file = io.BytesIO()
    readings = [load_reading(log, line.id) for line in lines]
    names = [f"{line.photo_sha256}.png" for line in lines]
    coco = coco_annotations(list(zip(names, readings, strict=True)), turned_down=True)
    images = coco["images"]
    assert isinstance(images, list)  # noqa: S101  built so
    for line, image in zip(lines, images, strict=True):
        image["whole_face_seen"] = seen_all(marks_of_review(log, line.id))
    with zipfile.ZipFile(file, "w", zipfile.ZIP_STORED) as archive:
        for at, (line, name) in enumerate(zip(lines, names, strict=True)):
            tell(at / len(lines), f"Photo {at + 1} of {len(lines)}")
            photo = read_photo(photo_bytes(log, line.photo_sha256), name)
            archive.writestr(f"images/{name}", encoded(photo.pixels))
        archive.writestr("annotations.json", json.dumps(coco, allow_nan=False))
        said = f"{CONSENT}\nAgreed by {agreed_by.strip()} on {agreed_on}.\n\n{_INSIDE}"
        archive.writestr("CONSENT.txt", said)
    return TrainingSet(
        data=file.getvalue(),
        photos=len(lines),
        voids=sum(len(one.voids) for one in readings),
        turned_down=sum(_by_hand(one.rejected.reason) for one in readings),
    )


def _by_hand(reasons: tuple[str, ...]) -> int:
    return sum(reason.startswith("by hand") for reason in reasons)
