"""The headline of a comparison: its verdict as a code, with the values it speaks of."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from analysis.model.comparison import Alias, Verdict


@dataclass(frozen=True, slots=True, kw_only=True)
class Headline:
    """What the answer of a comparison comes to.

    Attributes
    ----------
    verdict : str
        The code: which sentence is said.
    by, outcome : str
        What was compared, on what: columns of the table of pieces.
    levels : tuple of str
        The first is the one that is spoken of.
    ratio, low, high : float or None
        First over second level, with the 95 % interval.
    counted : int
        Pours that the answer rests on; pieces where joints of one piece are compared.
    in_pieces : bool
        Whether `counted` are pieces.
    of_each : tuple of int
        Pours of the first and the second level.
    aliases : tuple of Alias
        What cannot be told from the factor.
    adjusted_for : tuple of str
        Columns that were taken out; ``cast_on`` is drift over time.
    left_out : int
        Pieces of the two levels that had nothing to be paired with.
    """

    verdict: Verdict
    by: str
    outcome: str
    levels: tuple[str, str]
    ratio: float | None = None
    low: float | None = None
    high: float | None = None
    counted: int = 0
    in_pieces: bool = False
    of_each: tuple[int, int] = (0, 0)
    aliases: tuple[Alias, ...] = ()
    adjusted_for: tuple[str, ...] = ()
    left_out: int = 0
