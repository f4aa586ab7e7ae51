"""Which reading stands for a photo, and which photos stand for a piece.

Representative photos only: a close-up of the worst spot says nothing of a face. One
stage: the one asked for, else the piece's earliest. One reading of each photo: a
person's review before the machine's, else the latest. Photos with a scale before those
without, dry faces before wet ones.
"""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass
from typing import TYPE_CHECKING, Protocol, TypeVar

import numpy as np

from analysis.pieces.columns import coded
from analysis.vocabulary import STAGES

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

    from numpy.typing import NDArray

    from analysis.model.log import PhotoUse

REPRESENTATIVE = "representative"
WET = frozenset({"damp", "wet"})


class MeasuredPhoto(Protocol):
    """What is looked at of a reading."""

    @property
    def id(self) -> int:
        """Key in the log."""

    @property
    def piece_id(self) -> int:
        """Whose face it is."""

    @property
    def photo_sha256(self) -> str:
        """The photo measured."""

    @property
    def use(self) -> PhotoUse:
        """What the photo shows."""

    @property
    def reviews_id(self) -> int | None:
        """The reading it is a person's review of."""

    @property
    def measured_at(self) -> datetime:
        """When, UTC."""

    @property
    def smallest_counted_mm(self) -> float | None:
        """None without a scale."""


AReading = TypeVar("AReading", bound=MeasuredPhoto)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class MeasuredPhotos:
    """The same of n readings, as columns.

    Attributes
    ----------
    id, piece_id : ndarray of int64, (n,)
        Keys in the log.
    photo : ndarray of int64, (n,)
        One number for each photo.
    age : ndarray of int64, (n,)
        `age_of` its stage.
    measured_at : ndarray, (n,)
        When, or places in that order.
    reviewed, representative, sized, wet : ndarray of bool, (n,)
        Whether it is a person's review; the photo shows the face as it is, has a
        scale, shows a wet face.
    """

    id: NDArray[np.int64]
    piece_id: NDArray[np.int64]
    photo: NDArray[np.int64]
    age: NDArray[np.int64]
    measured_at: NDArray[np.int64]
    reviewed: NDArray[np.bool_]
    representative: NDArray[np.bool_]
    sized: NDArray[np.bool_]
    wet: NDArray[np.bool_]


def standing_rows(
    photos: MeasuredPhotos, *, stage: str | None = None
) -> NDArray[np.int64]:
    """Return which readings stand for their pieces, by piece, latest first.

    Parameters
    ----------
    photos : MeasuredPhotos
        Of any pieces, in any order; each key stands once.
    stage : str, optional
        Only at this stage; by default each piece's earliest.

    Returns
    -------
    ndarray of int64
        Rows of `photos`.
    """
    rows = np.flatnonzero(photos.representative)
    # Of each piece, photo and stage the last by review, time and key: a person's
    # review stands, however late an automatic reading is.
    order = (photos.id, photos.measured_at, photos.reviewed)
    of_photo = (photos.age, photos.photo, photos.piece_id)
    rows = rows[np.lexsort([one[rows] for one in (*order, *of_photo)])]
    rows = rows[_ends(*(one[rows] for one in of_photo))]
    piece = photos.piece_id[rows]  # in order
    if stage is None:
        wanted = _of_piece(np.minimum, photos.age[rows], piece)
    else:
        wanted = np.full(len(rows), age_of(stage))
    rows = rows[photos.age[rows] == wanted]
    # Where better ones are, photos without a scale go, and then those of a wet face.
    for better in (photos.sized, np.logical_not(photos.wet)):
        good = np.asarray(better[rows])
        some = _of_piece(np.maximum, good, photos.piece_id[rows])
        rows = rows[good | np.logical_not(some)]
    keys = (-photos.id, -photos.measured_at, photos.piece_id)
    return np.asarray(rows[np.lexsort([one[rows] for one in keys])])


def _ends(*keys: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Tell which rows are the last of a run in which all keys are alike."""
    last = np.ones(len(keys[0]), dtype=bool)
    last[:-1] = np.any([one[1:] != one[:-1] for one in keys], axis=0)
    return last


def _of_piece(
    rule: np.ufunc, values: NDArray[np.generic], piece: NDArray[np.int64]
) -> NDArray[np.generic]:
    """Return for each row what a rule makes of all rows of its piece, in runs."""
    start = np.flatnonzero(np.diff(piece, prepend=-1))
    if not len(start):
        return values
    found = rule.reduceat(values, start)
    return np.repeat(found, np.diff(start, append=len(piece)))


def standing_readings(
    readings: Iterable[AReading], *, stage: str | None = None
) -> dict[int, tuple[AReading, ...]]:
    """Return the readings that stand for each piece, latest first.

    Parameters
    ----------
    readings : iterable of MeasuredPhoto
        Of any pieces, in any order.
    stage : str, optional
        Only at this stage; by default each piece's earliest.

    Returns
    -------
    dict of int to tuple
        By piece; a piece that nothing stands for is left out.

    Examples
    --------
    >>> standing_readings([])
    {}
    """
    given = list(readings)
    chosen: defaultdict[int, list[AReading]] = defaultdict(list)
    for row in standing_rows(_columns(given), stage=stage).tolist():
        chosen[given[row].piece_id].append(given[row])
    return {key: tuple(its) for key, its in chosen.items()}


def _columns(readings: list[AReading]) -> MeasuredPhotos:
    """Return what is looked at of readings as columns."""
    when = {
        at: place
        for place, at in enumerate(sorted({one.measured_at for one in readings}))
    }
    uses = [one.use for one in readings]

    def keys(values: Iterable[int]) -> NDArray[np.int64]:
        return np.fromiter(values, np.int64, len(readings))

    def marks(values: Iterable[bool]) -> NDArray[np.bool_]:
        return np.fromiter(values, np.bool_, len(readings))

    return MeasuredPhotos(
        id=keys(one.id for one in readings),
        piece_id=keys(one.piece_id for one in readings),
        photo=coded([one.photo_sha256 for one in readings]).code,
        age=keys(age_of(use.stage) for use in uses),
        measured_at=keys(when[one.measured_at] for one in readings),
        reviewed=marks(one.reviews_id is not None for one in readings),
        representative=marks(use.purpose == REPRESENTATIVE for use in uses),
        sized=marks(one.smallest_counted_mm is not None for one in readings),
        wet=marks(use.surface_state in WET for use in uses),
    )


def stands_for(
    readings: Iterable[AReading], *, stage: str | None = None
) -> tuple[AReading, ...]:
    """Return the readings that stand for the one piece all of them are of.

    Examples
    --------
    >>> stands_for([])
    ()
    """
    return next(iter(standing_readings(readings, stage=stage).values()), ())


def age_of(stage: str | None) -> int:
    """Return a stage's place in a piece's life; unknown comes last.

    Examples
    --------
    >>> age_of("as_struck"), age_of(None) > age_of("surface_sealed")
    (0, True)
    """
    return STAGES.index(stage) if stage in STAGES else len(STAGES)
