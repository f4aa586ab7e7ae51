"""Which reading stands for a photo, and which photos stand for a piece.

Representative photos only: a close-up of the worst spot says nothing of a face. One
stage: the one asked for, else the piece's earliest. One reading of each photo: a
person's review before the machine's, else the latest. Photos with a scale before those
without, dry faces before wet ones.
"""

from __future__ import annotations

from collections import defaultdict
from typing import TYPE_CHECKING, Protocol, TypeVar

from analysis.vocabulary import STAGES

if TYPE_CHECKING:
    from collections.abc import Iterable
    from datetime import datetime

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
    of_photo: defaultdict[tuple[int, str, str | None], list[AReading]] = defaultdict(
        list
    )
    for one in readings:
        if one.use.purpose == REPRESENTATIVE:
            of_photo[one.piece_id, one.photo_sha256, one.use.stage].append(one)
    of_piece: defaultdict[int, list[AReading]] = defaultdict(list)
    for its in of_photo.values():
        best = max(its, key=_rank)
        of_piece[best.piece_id].append(best)
    chosen: dict[int, tuple[AReading, ...]] = {}
    for piece_id, its in of_piece.items():
        wanted = stage or min((one.use.stage for one in its), key=age_of)
        kept = [one for one in its if one.use.stage == wanted]
        if kept:
            latest = sorted(kept, key=lambda one: (one.measured_at, one.id))
            chosen[piece_id] = tuple(_comparable(latest[::-1]))
    return chosen


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


def _rank(one: MeasuredPhoto) -> tuple[bool, datetime, int]:
    # A person's review stands, however late an automatic reading is.
    return one.reviews_id is not None, one.measured_at, one.id


def _comparable(readings: list[AReading]) -> list[AReading]:
    """Leave out photos without a scale, or of a wet face, where better ones are."""
    sized = [one for one in readings if one.smallest_counted_mm is not None] or readings
    return [one for one in sized if one.use.surface_state not in WET] or sized
