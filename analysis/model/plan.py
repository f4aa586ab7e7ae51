"""What to cast next so that a question is settled."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from analysis.checks import named, number
from analysis.errors import InputError
from analysis.fields import row_fields

Layout = Literal["within_pours", "between_pours", "within_pieces"]
TWO = 2
# What a whole pour shares; it cannot differ between its pieces.
OF_POURS = frozenset(one.column for one in row_fields("pour") if one.role == "setting")


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnedForm:
    """A form that can be cast once in a pour, and the names of its joints."""

    name: str
    form_type: str | None = None
    joints: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class PlanQuestion:
    """What is to be told apart.

    Attributes
    ----------
    by : str
        The factor, a column of the table of pieces.
    levels : tuple of str
        Its two levels; empty takes them from the log.
    form_type : str or None
        Forms to cast in; None takes the type cast most with the factor known.
    ratio : float
        Difference to be found, as a ratio of geometric means.
    power : float
        Chance of finding it, 0.5 to 0.99.
    pieces_per_pour : int or None
        At most this many pieces a pour; None takes every form of the type.
    margin : float or None
        Where the first level is only to be no worse than the second: the ratio that
        would still do, more than 1; the size is for that, `ratio` is not asked.
    seed : int or None
        Of the lots; None takes a fixed one here, and a fresh one for each plan where
        a plan is made for a log.

    Examples
    --------
    >>> PlanQuestion(by="joint_sealing", levels=("tape", "none")).ratio
    0.5
    """

    by: str
    levels: tuple[str, ...] = ()
    form_type: str | None = None
    ratio: float = 0.5
    power: float = 0.8
    pieces_per_pour: int | None = None
    margin: float | None = None
    seed: int | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be planned."""
        named(self.by, "The factor")
        number(self.ratio, "Ratio", above=0, high=100)
        if 0.95 < self.ratio < 1 / 0.95:  # noqa: PLR2004  5 percent
            msg = (
                f"Ratio must differ from 1 by at least 5 percent, {self.ratio:g} was "
                "given: take for example 0.5 for half the void area."
            )
            raise InputError(msg)
        number(self.power, "Power", low=0.5, high=0.99)
        if self.margin is not None:
            number(self.margin, "Margin", above=1.0, high=100)
        if self.levels and (
            len(self.levels) != TWO or self.levels[0] == self.levels[1]
        ):
            msg = (
                f"A plan needs two different levels, {', '.join(self.levels)} was "
                "given: name two."
            )
            raise InputError(msg)
        for level in self.levels:
            named(level, "The level")
        if self.pieces_per_pour is not None:
            number(self.pieces_per_pour, "Pieces per pour", low=1, high=100)


@dataclass(frozen=True, slots=True, kw_only=True)
class Assignment:
    """One planned piece.

    Attributes
    ----------
    pour, piece : int
        Number of the pour in the plan and of the piece in the pour, from 1.
    form : str or None
        None where no form is logged yet.
    level : str
        Drawn by lot.
    order : int
        When it is filled in its pour, from 1; by lot.
    joint : str
        The joint the level is for, where the joints of a piece are dealt out.
    """

    pour: int
    piece: int
    form: str | None
    level: str
    order: int
    joint: str = ""

    @property
    def place(self) -> str:
        """Say where the level goes: a form, or a joint of it; empty for any form."""
        return " / ".join(part for part in (self.form, self.joint) if part)


@dataclass(frozen=True, slots=True, kw_only=True)
class Hold:
    """A setting to keep alike in all planned pieces, and at what."""

    factor: str
    level: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Plan:
    """Pours to cast.

    Attributes
    ----------
    by, levels, form_type, ratio, power
        The question, as it was filled in.
    layout : str
        ``within_pours``: both levels in each pour; ``between_pours``: one level a pour,
        in pairs of pours that follow one another; ``within_pieces``: both levels on
        joints of each piece, one piece a pour.
    pieces_per_level : int
        Pieces of a level in a pour that has it; joints, where those are dealt out.
    pours : int
        In all.
    chance : float
        Of finding the ratio with these pours, 0..1, simulated.
    spread_within, spread_between : float
        Standard deviations of natural-log shares the size rests on.
    supposed : bool
        The log is too young to give them.
    resolves : tuple of str
        Factors that the log cannot tell from this one, and the plan can.
    hold : tuple of Hold
        What to keep alike.
    assignments : tuple of Assignment
        Piece by piece.
    seed : int
        Of the lots, so that they can be drawn again.
    margin : float or None
        Where the first level is only to be no worse than the second.
    """

    by: str
    levels: tuple[str, str]
    form_type: str | None
    ratio: float
    power: float
    layout: Layout
    pieces_per_level: int
    pours: int
    chance: float
    spread_within: float
    spread_between: float
    supposed: bool
    resolves: tuple[str, ...]
    hold: tuple[Hold, ...]
    assignments: tuple[Assignment, ...]
    seed: int = 0
    margin: float | None = None
