"""Which photos of a batch may be one face in two lights: by card and by time."""

from __future__ import annotations

from datetime import datetime, timedelta
from itertools import pairwise
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

    from analysis.matching.whose import Shown

# The lamp is carried to the other side and the photo taken again within so long (common
# practice; the content decides).
_NEXT_SHOT = timedelta(minutes=2)
_NO_TIME = datetime.min  # noqa: DTZ901 - stands for no time


def likely_pairs(photos: Iterable[Shown]) -> tuple[tuple[int, int], ...]:
    """Return pairs of photos worth comparing, each photo with the one taken next.

    Cards of two pieces, or of two forms, part them. Photos without a time are taken in
    the order they were given.

    Parameters
    ----------
    photos : iterable of Shown
        In any order.

    Returns
    -------
    tuple of (int, int)
        Keys of both, the earlier one first.

    Examples
    --------
    >>> from analysis.matching.whose import Shown
    >>> noon = datetime(2026, 5, 5, 12)
    >>> late = noon + timedelta(seconds=20)
    >>> likely_pairs([Shown(id=1, taken_at=late), Shown(id=2, taken_at=noon)])
    ((2, 1),)
    """
    ordered = sorted(photos, key=lambda one: (_wall(one.taken_at), one.id))
    return tuple(
        (one.id, other.id)
        for one, other in pairwise(ordered)
        if _soon(one.taken_at, other.taken_at) and _agree(one, other)
    )


def _soon(one: datetime | None, other: datetime | None) -> bool:
    if one is None or other is None:
        # Both without a time: their order is all there is. One without: no pair.
        return one is other
    return _wall(other) - _wall(one) <= _NEXT_SHOT


def _agree(one: Shown, other: Shown) -> bool:
    """Tell whether the cards, and what the maker said, leave them one piece."""
    said = [
        set(photo.piece_ids) if photo.settled is None else {photo.settled}
        for photo in (one, other)
    ]
    forms = set(one.form_ids), set(other.form_ids)
    # Who says nothing contradicts nobody; who says something must share a piece.
    return all(not a or not b or bool(a & b) for a, b in (said, forms))


def _wall(moment: datetime | None) -> datetime:
    return _NO_TIME if moment is None else moment.replace(tzinfo=None)
