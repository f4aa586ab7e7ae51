"""A piece just struck: its share, how it lies to what it was held against."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.workshop import FinishTarget


@dataclass(frozen=True, slots=True, kw_only=True)
class Unlike:
    """What differs between a piece and an earlier one.

    Attributes
    ----------
    label, unit : str
        Of the field.
    now, then : str
        Of this piece, and of the earlier one.
    """

    label: str
    unit: str
    now: str
    then: str


@dataclass(frozen=True, slots=True, kw_only=True)
class StrikeCard:
    """What is asked first when a piece is struck.

    Attributes
    ----------
    share, low, high : float or None
        Void share of the face, 0..1, and its interval of measurement; None where the
        piece is not measured.
    place : str
        To its target, as `analysis.pieces.target.place_to` says.
    target : FinishTarget or None
        In force for its product line.
    reference : str
        Name of the approved reference piece; empty where there is none or a target
        is set.
    beside : str
        ``more``, ``fewer`` or ``alike`` voids than the reference, by their intervals;
        empty without one.
    last : str
        Name of the piece it is told from; empty where the form has no other.
    last_is_good : bool
        Whether that one is inside the target, and not only the one before.
    unlike : tuple of Unlike
        What differs from it, as far as both are known.
    """

    share: float | None
    low: float | None
    high: float | None
    place: str
    target: FinishTarget | None = None
    reference: str = ""
    beside: str = ""
    last: str = ""
    last_is_good: bool = False
    unlike: tuple[Unlike, ...] = ()
