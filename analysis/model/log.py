"""What was cast and how: the values the log keeps.

A field whose metadata names a vocabulary takes one of its words; what None, `NONE` and
`NOT_APPLICABLE` mean is said in `analysis.vocabulary`. Every record has an `id`,
given by the log, and a `version`, which counts its edits and is 0 before it is saved.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import each_once, named
from analysis.fields import checked, with_fields
from analysis.vocabulary import (
    MIXED,
)

if TYPE_CHECKING:
    from datetime import date, time


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("pour")
class Pour:
    """One batch of mix placed on one day.

    Attributes
    ----------
    name : str
        Unique among the pours.
    cast_on : datetime.date
        Local calendar day at the workshop; never shifted by a zone.
    cast_at : datetime.time or None
        Local wall time.
    zone : str
        The workshop's time zone, e.g. ``"Europe/Oslo"``; empty when not stated.
    mix_id : int or None
        The recipe.
    water_added_l : float or None
        Water actually added, not the recipe's.
    consistency : str or None
        A word; `slump_mm` and `flow_mm` where they were measured.
    cement_lot : str
        Bag or delivery.
    air_c, mix_c : float or None
        Temperatures, -50 to 80 degrees Celsius.
    humidity_share : float or None
        Relative humidity, 0..1.
    crew : str
        Who or how many.

    Examples
    --------
    >>> from datetime import date
    >>> Pour(name="12", cast_on=date(2026, 3, 31)).cast_on.isoformat()
    '2026-03-31'
    """

    name: str
    cast_on: date
    cast_at: time | None = None
    zone: str = ""
    mix_id: int | None = None
    water_added_l: float | None = None
    consistency: str | None = None
    slump_mm: float | None = None
    flow_mm: float | None = None
    cement_lot: str = ""
    air_c: float | None = None
    mix_c: float | None = None
    humidity_share: float | None = None
    crew: str = ""
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse what the log cannot keep."""
        named(self.name, "The pour")
        checked(self, "pour")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("joint")
class JointState:
    """How one joint of the form was sealed for one casting, and whether it leaked.

    Attributes
    ----------
    joint : str
        The form's name of the joint; empty stands for all joints alike.
    sealing, leak : str or None
        What sealed it; how much it leaked.
    """

    joint: str = ""
    sealing: str | None = None
    leak: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("step")
class Step:
    """One step of consolidation.

    Attributes
    ----------
    method, tool, applied_to, stop_rule : str or None
        How, with what, where, and what said it was enough.
    seconds : float or None
        How long, 0 to 86400 s.
    strokes : int or None
        Strokes or blows.
    speed : str
        The tool's setting, as it is written on it.
    fill_share : float or None
        How full the form was, 0..1.
    people : int or None
        Hands at it.
    certainty : str or None
        ``"measured"`` or ``"guessed"``.
    """

    method: str | None = None
    seconds: float | None = None
    strokes: int | None = None
    tool: str | None = None
    applied_to: str | None = None
    speed: str = ""
    fill_share: float | None = None
    people: int | None = None
    certainty: str | None = None
    stop_rule: str | None = None

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        checked(self, "step")


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("piece")
class Piece:
    """A casting: one piece out of one form in one pour.

    Attributes
    ----------
    name : str
        Unique among the pieces; kept as text, so ``"007"`` stays ``"007"``.
    pour_id : int
        The pour it was cast in; 0 while that pour is not saved yet.
    form_id, product_line_id : int or None
        The form it came out of; what it was cast for.
    joints : tuple of JointState
        Sealing and leak of each joint.
    steps : tuple of Step
        Consolidation, in the order done.
    release_agent, release_application : str or None
        What was on the form face, and how it got there.
    casting_process, orientation, curing : str or None
        How it was cast, how the form stood, how it was kept.
    lifts : int or None
        Layers it was filled in.
    fill_s, strike_after_h : float or None
        Time to fill; time from casting to striking.
    sealing_min, sealing_cost : float or None
        What sealing the joints took, in minutes and in the maker's currency.
    show_faces : str
        Which faces are seen.

    Examples
    --------
    >>> piece = Piece(name="7", pour_id=1, joints=(JointState(sealing="tape"),),
    ...               steps=(Step(method="table", seconds=40.0),
    ...                      Step(method="table", seconds=20.0)))
    >>> piece.joint_sealing, piece.vibration_method, piece.vibration_s
    ('tape', 'table', 60.0)
    """

    name: str
    pour_id: int
    form_id: int | None = None
    product_line_id: int | None = None
    joints: tuple[JointState, ...] = ()
    release_agent: str | None = None
    release_application: str | None = None
    steps: tuple[Step, ...] = ()
    casting_process: str | None = None
    orientation: str | None = None
    curing: str | None = None
    lifts: int | None = None
    fill_s: float | None = None
    strike_after_h: float | None = None
    sealing_min: float | None = None
    sealing_cost: float | None = None
    show_faces: str = ""
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse what the log cannot keep."""
        named(self.name, "The piece")
        each_once(tuple(state.joint for state in self.joints), f"Piece {self.name!r}")
        checked(self, "piece")

    @property
    def joint_sealing(self) -> str | None:
        """One sealing for all joints, `MIXED`, or None when any is not known."""
        return common(tuple(state.sealing for state in self.joints))

    @property
    def leak(self) -> str | None:
        """One leak for all joints, `MIXED`, or None when any is not known."""
        return common(tuple(state.leak for state in self.joints))

    @property
    def vibration_method(self) -> str | None:
        """One method for all steps, `MIXED`, or None when any is not known."""
        return common(tuple(step.method for step in self.steps))

    @property
    def vibration_s(self) -> float | None:
        """Total of the steps, s; None when any is not known or methods mix.

        Seconds of different methods do not add up.
        """
        if len(self.steps) == 1:
            return self.steps[0].seconds
        seconds = [step.seconds for step in self.steps if step.seconds is not None]
        if self.vibration_method in {None, MIXED} or len(seconds) < len(self.steps):
            return None
        return sum(seconds)


def common(values: tuple[str | None, ...]) -> str | None:
    """Return the one value they share."""
    if not values or None in values:
        return None
    return values[0] if len(set(values)) == 1 else MIXED


@dataclass(frozen=True, slots=True, kw_only=True)
@with_fields("photo")
class PhotoUse:
    """What a photo shows of a piece.

    Attributes
    ----------
    purpose : str
        One of ``PURPOSES``; only representative photos are pooled.
    stage : str or None
        One of ``STAGES``.
    surface_state : str or None
        One of ``SURFACE_STATES``.
    set_up : str or None
        Where and how it was lit and taken; faces compare best within one.
    age_h : float or None
        Hours from striking to the photo: a face dries and pales at first.
    """

    purpose: str = "representative"
    stage: str | None = None
    surface_state: str | None = None
    set_up: str | None = None
    age_h: float | None = None

    def __post_init__(self) -> None:
        """Refuse words the log does not know."""
        checked(self, "photo")
