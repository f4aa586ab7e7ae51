"""What was cast and how: the values the log keeps.

A field whose metadata names a vocabulary takes one of its words; what None, `NONE` and
`NOT_APPLICABLE` mean is said in `analysis.vocabulary`. Every record has an `id`,
given by the log, and a `version`, which counts its edits and is 0 before it is saved.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from analysis.checks import each_once, named
from analysis.model.field_values import checked, with_fields
from analysis.vocabulary import HAND_METHODS, MIXED, THEN

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
    passes : float or None
        Passes of a screed, a plate or a roller.
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
    passes: float | None = None
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
        """The method, or the sequence of them; None when any is not known.

        Steps that follow one another by the same method are one of it.
        """
        methods = [step.method for step in self.steps]
        if not methods or None in methods:
            return None
        return THEN.join(str(name) for name, _ in groupby(methods))

    @property
    def vibration_s(self) -> float | None:
        """Total of the steps that are timed, s; None when that is not known.

        Seconds of different methods do not add up.
        """
        return self._total("seconds")

    @property
    def strokes(self) -> int | None:
        """Total of the steps that are counted in strokes; None when not known."""
        found = self._total("strokes")
        return None if found is None else round(found)

    @property
    def passes(self) -> float | None:
        """Total of the steps that are counted in passes; None when not known."""
        return self._total("passes")

    def _total(self, name: str) -> float | None:
        """Add an amount up over the steps of the one method that has it."""
        if len(self.steps) == 1:
            only: float | None = getattr(self.steps[0], name)
            return only
        told = {step.method for step in self.steps if getattr(step, name) is not None}
        if self.vibration_method is None or len(told) != 1:
            return None
        amounts = [getattr(step, name) for step in self.steps if step.method in told]
        return None if None in amounts else float(sum(amounts))


def steps_of(
    method: str | None,
    *,
    seconds: float | None = None,
    strokes: int | None = None,
    passes: float | None = None,
) -> tuple[Step, ...]:
    """Return the steps of a sequence told in one line.

    Strokes and passes belong to the first step by hand, seconds to the last one that
    is not.

    Examples
    --------
    >>> first, second = steps_of("rodding then table", seconds=40.0, strokes=25)
    >>> (first.method, first.strokes), (second.method, second.seconds)
    (('rodding', 25), ('table', 40.0))
    >>> steps_of(None)
    ()
    """
    names = [None] if method is None else [one.strip() for one in method.split(THEN)]
    hand = [
        n for n, name in enumerate(names) if (name or "").casefold() in HAND_METHODS
    ]
    counted = hand[0] if hand else 0
    timed = max(set(range(len(names))) - set(hand), default=len(names) - 1)
    steps = tuple(
        Step(
            method=name,
            seconds=seconds if n == timed else None,
            strokes=strokes if n == counted else None,
            passes=passes if n == counted else None,
        )
        for n, name in enumerate(names)
    )
    return () if steps == (Step(),) else steps


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
