"""What came of a piece: judged, repaired, measured by hand, approved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import named
from analysis.model.field_values import checked, with_fields
from analysis.model.grading import BY_HAND

if TYPE_CHECKING:
    from datetime import date


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("outcome")
class Outcome:
    """What became of a piece, as the maker judged it once. Judging again adds.

    Attributes
    ----------
    outcome : str or None
        One of ``OUTCOMES``.
    eye_score : int or None
        The maker's own impression, 1 (worst) to 10 (best).
    stage : str or None
        One of ``STAGES``.

    Examples
    --------
    >>> Outcome(piece_id=1, outcome="patched", eye_score=6).eye_score
    6
    """

    piece_id: int
    outcome: str | None = None
    eye_score: int | None = None
    stage: str | None = None
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse words and scores the log does not know."""
        checked(self, "outcome")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("repair")
class Repair:
    """Work on a piece after striking: minutes are money.

    Examples
    --------
    >>> Repair(piece_id=1, minutes=12.0, filler="cement slurry").minutes
    12.0
    """

    piece_id: int
    repaired_on: date | None = None
    minutes: float | None = None
    filler: str | None = None
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse an impossible time."""
        checked(self, "repair")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("hand_figures")
class HandFigures:
    """What a photo cannot give, measured on the piece; None is not measured.

    Attributes
    ----------
    joint : str
        The joint that leaks, has the step or the fin.
    leak_width_mm, leak_depth_mm : float or None
        Of the crumbly seam a leak left.
    step_mm, fin_mm : float or None
        From one side of the joint to the other; how high the fin stands.
    void_depth_mm : float or None
        Of the deepest void.
    void_volume_cm3 : float or None
        Depth times rectangle of the largest void.
    chip_depth_mm, chip_mm_per_m : float or None
        Depth of edge chips, and their length per m of edge.

    Examples
    --------
    >>> HandFigures(piece_id=1, step_mm=1.5).known
    {'step_mm': 1.5}
    """

    piece_id: int
    measured_on: date | None = None
    joint: str = ""
    leak_width_mm: float | None = None
    leak_depth_mm: float | None = None
    step_mm: float | None = None
    fin_mm: float | None = None
    void_depth_mm: float | None = None
    void_volume_cm3: float | None = None
    chip_depth_mm: float | None = None
    chip_mm_per_m: float | None = None
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse figures that cannot be."""
        checked(self, "hand_figures")

    @property
    def known(self) -> dict[str, float]:
        """Return the figures that were measured."""
        found = {name: getattr(self, name) for name in BY_HAND}
        return {name: value for name, value in found.items() if value is not None}


@dataclass(frozen=True, slots=True, kw_only=True)
class ReferencePiece:
    """A piece approved as what others of its product line are held beside.

    Attributes
    ----------
    piece_id : int
        The piece.
    product_line_id : int or None
        What it is a reference for; None for pieces without a product line.
    approved_on : date or None
        Day of approval.
    """

    piece_id: int
    product_line_id: int | None = None
    approved_on: date | None = None
    note: str = ""
    id: int | None = None
    version: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Verdict:
    """A reading held against the target that was in force.

    Attributes
    ----------
    reading_id, finish_target_id : int
        What was judged, by which version of the target.
    verdict : str
        The word for it.
    """

    reading_id: int
    finish_target_id: int
    verdict: str
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse an empty verdict."""
        named(self.verdict, "The verdict")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("seen_mark")
class SeenMark:
    """What the eye sees on a face beside its voids; never part of the void area.

    Attributes
    ----------
    piece_id : int
        The piece.
    mark : str
        A word, e.g. ``"bleed streaks"``.

    Examples
    --------
    >>> SeenMark(piece_id=1, mark="bleed streaks").mark
    'bleed streaks'
    """

    piece_id: int
    mark: str
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse a mark without a name."""
        named(self.mark, "The mark")
