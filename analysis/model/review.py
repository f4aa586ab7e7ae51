"""A person's last word on a reading: what counts, what does not, what was missed."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from analysis.checks import number, one_of, points
from analysis.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

ACTIONS = ("reject", "bring_back", "add", "replace", "seen_all")
REASONS = ("stain", "grain", "crack", "joint", "tie_hole", "shadow", "other")
# How a reason stands in a catalogue of rejected spots: kind, then words.
REASON_KINDS = {
    "stain": ("stain", "by hand: stain or damp"),
    "grain": ("grain", "by hand: grain"),
    "crack": ("crack", "by hand: crack"),
    "joint": ("joint_or_fin", "by hand: joint or fin"),
    "tie_hole": ("other", "by hand: tie hole"),
    "shadow": ("other", "by hand: shadow"),
    "other": ("other", "by hand: no void"),
    "replaced": ("other", "by hand: drawn anew"),
}


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Outline:
    """Where a void that was missed ends.

    Attributes
    ----------
    line_px : ndarray of float64, (n, 2)
        Boundary, (row, col), n of 3 or more.
    area_px : float
        Sub-pixel area inside the boundary, px², more than 0.
    contrast : float
        Depth of its darkest part below the background, as a share of it, 0..1.
    drawn : bool
        True when a person drew it, False when it was found around a tap.
    """

    line_px: NDArray[np.float64]
    area_px: float
    contrast: float
    drawn: bool

    def __post_init__(self) -> None:
        """Seal the line and refuse an empty one."""
        line = points(self.line_px, "Outline of a void", least=3)
        object.__setattr__(self, "line_px", line)
        number(self.area_px, "Area of a void", above=0, unit="px²")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Mark:
    """One decision of a reviewer.

    Spots are numbered: the counted voids of the automatic reading from 0, then its
    turned-down spots, then what was added, in the order of adding.

    Attributes
    ----------
    action : str
        One of `ACTIONS`.
    spot : int
        Which spot; for ``"add"`` the number the new one takes.
    reason : str
        One of `REASONS` for ``"reject"``, else empty.
    outline : Outline or None
        Of an added void.
    gone : tuple of int
        For ``"replace"`` the spots whose place is taken: one that is cut in two or
        drawn anew, two that are joined.
    outlines : tuple of Outline
        For ``"replace"`` what takes their place; numbered from `spot` on.
    """

    action: str
    spot: int
    reason: str = ""
    outline: Outline | None = None
    gone: tuple[int, ...] = ()
    outlines: tuple[Outline, ...] = ()

    def __post_init__(self) -> None:
        """Refuse half a decision."""
        one_of(self.action, "What is done to a spot", ACTIONS)
        number(self.spot, "Number of a spot", low=0)
        if self.action == "reject":
            one_of(self.reason, "Reason to turn a void down", REASONS)
        if (self.action == "add") != (self.outline is not None):
            msg = (
                f"An outline belongs to an added void and to no other, it was "
                f"{'given' if self.outline is not None else 'missing'} for "
                f"{self.action!r}: give it for 'add' only."
            )
            raise InputError(msg)
        whole = bool(self.gone) and bool(self.outlines)
        if whole != (self.action == "replace"):
            msg = (
                f"'replace' names spots and what takes their place, {len(self.gone)} "
                f"and {len(self.outlines)} were given for {self.action!r}: give both."
            )
            raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Review:
    """The decisions in force, and those taken back.

    Attributes
    ----------
    marks : tuple of Mark
        In the order made.
    undone : tuple of Mark
        Taken back, the one to be done again next last.
    """

    marks: tuple[Mark, ...] = ()
    undone: tuple[Mark, ...] = ()

    def done(self, mark: Mark) -> Review:
        """Add a decision; what was taken back before cannot be done again."""
        return Review(marks=(*self.marks, mark))

    def undo(self) -> Review:
        """Take the last decision back; without one, nothing changes."""
        if not self.marks:
            return self
        return Review(marks=self.marks[:-1], undone=(*self.undone, self.marks[-1]))

    def redo(self) -> Review:
        """Do again what was taken back last; without that, nothing changes."""
        if not self.undone:
            return self
        return Review(marks=(*self.marks, self.undone[-1]), undone=self.undone[:-1])


@dataclass(frozen=True, slots=True, kw_only=True)
class Decided:
    """Where the decisions leave one spot.

    Attributes
    ----------
    counted : bool
    reason : str
        One of `REASONS` where a person turned it down, else empty.
    by_hand : bool
        Whether a person decided it.
    """

    counted: bool
    reason: str = ""
    by_hand: bool = False


def decided(
    marks: Sequence[Mark], counted: int, turned_down: int
) -> tuple[tuple[Decided, ...], tuple[Outline, ...]]:
    """Play decisions back on an automatic reading.

    Parameters
    ----------
    marks : sequence of Mark
    counted, turned_down : int
        Voids and turned-down spots of the automatic reading.

    Returns
    -------
    spots : tuple of Decided
        One per spot, added ones last.
    added : tuple of Outline

    Raises
    ------
    InputError
        A decision is about a spot that is not there.

    Examples
    --------
    >>> spots, _ = decided([Mark(action="reject", spot=0, reason="stain")], 1, 1)
    >>> [spot.counted for spot in spots]
    [False, False]
    """
    spots = [Decided(counted=True)] * counted + [Decided(counted=False)] * turned_down
    first = len(spots)
    added: list[Outline] = []
    for mark in marks:
        if mark.action == "seen_all":
            continue
        if mark.action == "replace":
            _replace(mark, spots, added)
            continue
        if mark.spot > len(spots) - (mark.outline is None) or (
            mark.outline is not None and mark.spot != len(spots)
        ):
            msg = (
                f"A decision is about spot {mark.spot}, but there are {len(spots)}: "
                "open the review again."
            )
            raise InputError(msg)
        if mark.outline is not None:
            added.append(mark.outline)
            spots.append(Decided(counted=True, by_hand=True))
            continue
        new = Decided(
            counted=mark.action == "bring_back", reason=mark.reason, by_hand=True
        )
        # Back where the tool had it is no decision any more.
        as_found = mark.spot < first and (mark.spot < counted) == new.counted
        spots[mark.spot] = replace(new, by_hand=not as_found or bool(new.reason))
    return tuple(spots), tuple(added)


def _replace(mark: Mark, spots: list[Decided], added: list[Outline]) -> None:
    """Let new outlines take the place of spots, on the lists given."""
    if mark.spot != len(spots) or not all(0 <= at < len(spots) for at in mark.gone):
        msg = (
            f"A decision is about spots {', '.join(map(str, mark.gone))}, but there "
            f"are {len(spots)}: open the review again."
        )
        raise InputError(msg)
    for at in mark.gone:
        spots[at] = Decided(counted=False, reason="replaced", by_hand=True)
    added.extend(mark.outlines)
    spots.extend(Decided(counted=True, by_hand=True) for _ in mark.outlines)


def seen_all(marks: Sequence[Mark]) -> bool:
    """Tell whether the reviewer said to have looked at the whole face.

    Examples
    --------
    >>> seen_all([Mark(action="seen_all", spot=0)])
    True
    """
    return any(mark.action == "seen_all" for mark in marks)
