"""Propose the piece each photo of a batch shows: by card, by time, by what was cast."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING

from analysis.model.waiting import BY_CARD, BY_FORM_CARD, BY_TIME, ONLY_ONE, UNKNOWN

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

# A photo without a card belongs to the card before it for so long (common practice:
# a piece is photographed in one go).
_ONE_GO = timedelta(minutes=5)
# Pieces are struck and photographed within so many days of the pour.
_FRESH_DAYS = 14


@dataclass(frozen=True, slots=True, kw_only=True)
class Shown:
    """A photo as far as it says whose it is.

    Attributes
    ----------
    id : int
        Of the photo.
    taken_at : datetime or None
        Camera time; zones are left out of account within a batch.
    piece_ids, form_ids : tuple of int
        What the cards in it say.
    settled : int or None
        The piece the maker said it shows; it gets no proposal, those after it may go
        with it.
    """

    id: int
    taken_at: datetime | None
    piece_ids: tuple[int, ...] = ()
    form_ids: tuple[int, ...] = ()
    settled: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Candidate:
    """A piece that photos may show.

    Attributes
    ----------
    piece_id : int
        Its key.
    form_id : int or None
        The form it was cast in.
    cast_on : date
        Day of its pour.
    photos : int
        Photos of it in the log.
    """

    piece_id: int
    form_id: int | None
    cast_on: date
    photos: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """What is proposed for a photo.

    Attributes
    ----------
    id : int
        Of the photo.
    piece_id : int or None
        None where nothing speaks for one piece more than for another.
    why : str
        One of `analysis.model.waiting.WHYS`.
    """

    id: int
    piece_id: int | None
    why: str


def propose_pieces(
    photos: Iterable[Shown], candidates: Sequence[Candidate]
) -> tuple[Proposal, ...]:
    """Propose the piece of each photo.

    A card of a piece decides. A form's card decides where one fresh piece of that form
    has no photo yet. A photo without a card goes with the one taken before it within
    five minutes. Else the only fresh piece without a photo is proposed. Two cards of
    two pieces in one photo decide nothing.

    Parameters
    ----------
    photos : iterable of Shown
        In any order.
    candidates : sequence of Candidate
        The pieces of the log.

    Returns
    -------
    tuple of Proposal
        In the order the photos were taken, without the settled ones.

    Examples
    --------
    >>> photo = Shown(id=1, taken_at=None, piece_ids=(7,))
    >>> piece = Candidate(piece_id=7, form_id=2, cast_on=date(2026, 5, 1), photos=0)
    >>> propose_pieces([photo], [piece])[0].why
    'card'
    """
    known = {one.piece_id: one for one in candidates}
    found: list[Proposal] = []
    before: tuple[datetime, int] | None = None
    photos = sorted(photos, key=_when)
    for photo in photos:
        if photo.settled is not None:
            if photo.taken_at is not None:
                before = (_wall(photo.taken_at), photo.settled)
            continue
        piece_id, why = _by_card(photo, known)
        if piece_id is None and why == UNKNOWN and not _has_card(photo):
            piece_id, why = _by_time(photo, before)
        if piece_id is not None and photo.taken_at is not None:
            before = (_wall(photo.taken_at), piece_id)
        # A card ends the run of the piece before, even where it decides nothing.
        elif _has_card(photo):
            before = None
        found.append(Proposal(id=photo.id, piece_id=piece_id, why=why))
    # In a second pass, since only now is it known which pieces other photos took.
    taken = {one.piece_id for one in found} | {photo.settled for photo in photos}
    dates = {photo.id: photo.taken_at for photo in photos}
    return tuple(
        one
        if one.piece_id is not None
        else _only_one(one, dates[one.id], candidates, taken)
        for one in found
    )


def _has_card(photo: Shown) -> bool:
    return bool(photo.piece_ids or photo.form_ids)


def _by_card(photo: Shown, known: dict[int, Candidate]) -> tuple[int | None, str]:
    own = {one for one in photo.piece_ids if one in known}
    if len(own) == 1:
        return own.pop(), BY_CARD
    if own or photo.piece_ids:
        return None, UNKNOWN
    fresh = [
        one.piece_id
        for one in known.values()
        if one.form_id in photo.form_ids and _is_fresh(one, photo.taken_at)
    ]
    return (fresh[0], BY_FORM_CARD) if len(fresh) == 1 else (None, UNKNOWN)


def _by_time(
    photo: Shown, before: tuple[datetime, int] | None
) -> tuple[int | None, str]:
    if photo.taken_at is None or before is None:
        return None, UNKNOWN
    apart = _wall(photo.taken_at) - before[0]
    return (before[1], BY_TIME) if apart <= _ONE_GO else (None, UNKNOWN)


def _only_one(
    proposal: Proposal,
    taken_at: datetime | None,
    candidates: Sequence[Candidate],
    taken: set[int | None],
) -> Proposal:
    if taken_at is None:
        return proposal
    left = [
        one.piece_id
        for one in candidates
        if _is_fresh(one, taken_at) and one.piece_id not in taken
    ]
    if len(left) != 1:
        return proposal
    return Proposal(id=proposal.id, piece_id=left[0], why=ONLY_ONE)


def _is_fresh(piece: Candidate, taken_at: datetime | None) -> bool:
    if piece.photos:
        return False
    if taken_at is None:
        return True
    return 0 <= (taken_at.date() - piece.cast_on).days <= _FRESH_DAYS


def _wall(moment: datetime) -> datetime:
    return moment.replace(tzinfo=None)


def _when(photo: Shown) -> tuple[datetime, int]:
    taken = photo.taken_at
    return (datetime.min if taken is None else _wall(taken), photo.id)  # noqa: DTZ901
