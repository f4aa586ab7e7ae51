"""What the library of pieces is asked for, and what it answers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import one_of
from analysis.errors import InputError
from analysis.vocabulary import SEALINGS, STAGES

if TYPE_CHECKING:
    from datetime import date

    from analysis.model.log_views import Casting, ReadingLine
    from analysis.model.workshop import FinishTarget

# How a piece lies to the finish target of its product line.
PLACES = ("inside", "above", "below", "doubtful", "no target", "not measured")
ORDERS = ("newest", "oldest", "name", "most voids", "fewest voids")
LONGEST_SEARCH = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryAsk:
    """Which pieces are wanted, and in which order. What is None is not asked.

    Attributes
    ----------
    text : str
        Words, each to be found in the name of the piece, its pour or its form.
    form_id, pour_id : int or None
        Of this form; of this pour.
    form_type, method : str or None
        Words of the log: the form's type; how it was vibrated.
    sealing : str or None
        One of ``SEALINGS``.
    place : str or None
        One of `PLACES`.
    stage : str or None
        One of ``STAGES``: only pieces measured then, with the figures of then.
    from_day, to_day : datetime.date or None
        Cast on these days or between them.
    order : str
        One of `ORDERS`.

    Examples
    --------
    >>> LibraryAsk(text="trough", order="most voids").form_id is None
    True
    """

    text: str = ""
    form_id: int | None = None
    form_type: str | None = None
    pour_id: int | None = None
    sealing: str | None = None
    method: str | None = None
    place: str | None = None
    stage: str | None = None
    from_day: date | None = None
    to_day: date | None = None
    order: str = "newest"

    def __post_init__(self) -> None:
        """Refuse what the library does not know."""
        one_of(self.order, "Order", ORDERS)
        for given, label, words in (
            (self.sealing, "Joint sealing", SEALINGS),
            (self.place, "Place to the target", PLACES),
            (self.stage, "Stage", STAGES),
        ):
            if given is not None:
                one_of(given, label, words)
        if len(self.text) > LONGEST_SEARCH:
            msg = (
                f"The search has {len(self.text)} characters: "
                f"shorten it to {LONGEST_SEARCH}."
            )
            raise InputError(msg)
        first, last = self.from_day, self.to_day
        if first is not None and last is not None and first > last:
            msg = f"The period ends on {last}, before it begins on {first}: swap them."
            raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryCard:
    """A piece as it lies in the library.

    Attributes
    ----------
    casting : Casting
        The piece, its pour, which use of its form it was.
    form : str or None
        Name of its form.
    lines : tuple of ReadingLine
        The readings that stand for it, latest first.
    share, share_low, share_high : float or None
        Void share of all of them, 0..1, with the interval of measurement; no interval
        where the figure came with a table.
    target : FinishTarget or None
        In force for its product line.
    place : str
        One of `PLACES`.
    shown : ReadingLine or None
        Whose photo is its picture: one that stands for it, else its latest.
    """

    casting: Casting
    form: str | None
    lines: tuple[ReadingLine, ...]
    share: float | None
    share_low: float | None
    share_high: float | None
    target: FinishTarget | None
    place: str
    shown: ReadingLine | None


@dataclass(frozen=True, slots=True, kw_only=True)
class LibraryPage:
    """A part of the library.

    Attributes
    ----------
    cards : tuple of LibraryCard
        In the order asked for.
    count : int
        Pieces that meet what was asked, on all pages.
    start : int
        Place of the first card among them, from 0.
    """

    cards: tuple[LibraryCard, ...]
    count: int
    start: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Neighbours:
    """Where a piece stands among those asked for.

    Attributes
    ----------
    place : int or None
        From 0; None where it is not among them.
    count : int
        How many there are.
    before, after : int or None
        Keys of the pieces beside it.
    """

    place: int | None
    count: int
    before: int | None
    after: int | None
