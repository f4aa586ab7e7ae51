"""What was cast, how, and what came out: the values the log keeps.

Everywhere None is 'not known', `NONE` is 'there was none' and `NOT_APPLICABLE` is
'the question does not arise': three different things.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analysis.checks import number, one_of
from analysis.errors import InputError

if TYPE_CHECKING:
    from datetime import date, datetime, time

NONE = "none"
NOT_APPLICABLE = "not applicable"
MIXED = "mixed"

STAGES = ("as_struck", "brushed", "ground", "polished", "filled", "surface_sealed")
PURPOSES = ("representative", "worst_spot", "show", "relief")
SURFACE_STATES = ("dry", "damp", "wet")
CERTAINTIES = ("measured", "guessed")

# Vocabularies the maker may add to; the words are starting points, common practice.
VOCABULARIES: dict[str, tuple[str, ...]] = {
    "form_type": ("pot", "trough", "bench leg", "panel"),
    "release_agent": ("oil", "water-based release", "wax"),
    "joint_sealing": ("open", "tape", "silicone", "foam strip"),
    "leak": ("slight", "strong"),
    "vibration_method": (
        "rodding",
        "tapping",
        "table",
        "poker",
        "external vibrator",
    ),
}

_LONGEST_NAME = 200


def _named(value: object, what: str) -> None:
    """Refuse a blank or endless name."""
    if not isinstance(value, str) or not value.strip():
        msg = f"{what} needs a name, {value!r} was given: type one."
        raise InputError(msg)
    if len(value) > _LONGEST_NAME:
        msg = (
            f"{what} has a name of {len(value)} characters: "
            f"shorten it to {_LONGEST_NAME}."
        )
        raise InputError(msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Form:
    """A reusable form.

    Attributes
    ----------
    name : str
        Unique among the forms in use.
    form_type : str or None
        What it casts.
    starting_use_count : int
        Castings made in it before the log began, 0 or more.
    note : str
        Free text.
    id : int or None
        Given by the log.
    version : int
        Counts the edits; 0 before it is saved.

    Examples
    --------
    >>> Form(name="Trough A", form_type="trough").starting_use_count
    0
    """

    name: str
    form_type: str | None = None
    starting_use_count: int = 0
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse what the log cannot keep."""
        _named(self.name, "The form")
        number(
            self.starting_use_count, "Castings before the log began", low=0, high=100000
        )


@dataclass(frozen=True, slots=True, kw_only=True)
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
    note : str
        Free text.
    id, version
        As in `Form`.

    Examples
    --------
    >>> from datetime import date
    >>> Pour(name="12", cast_on=date(2026, 3, 31)).cast_on.isoformat()
    '2026-03-31'
    """

    name: str
    cast_on: date
    cast_at: time | None = None
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse a pour without a name."""
        _named(self.name, "The pour")


@dataclass(frozen=True, slots=True, kw_only=True)
class JointState:
    """How one joint of the form was sealed for one casting.

    Attributes
    ----------
    joint : str
        The form's name of the joint; empty stands for all joints alike.
    sealing : str or None
        What sealed it, or `NONE`.
    leak : str or None
        Whether it leaked: `NONE`, or how much.
    """

    joint: str = ""
    sealing: str | None = None
    leak: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One step of consolidation.

    Attributes
    ----------
    method : str or None
        Kind of consolidation, or `NONE`.
    seconds : float or None
        How long, 0 to 86400 s.
    """

    method: str | None = None
    seconds: float | None = None

    def __post_init__(self) -> None:
        """Refuse an impossible time."""
        if self.seconds is not None:
            number(self.seconds, "Vibration", low=0, high=86400, unit="s")


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A casting: one piece out of one form in one pour.

    Attributes
    ----------
    name : str
        Unique among the pieces; kept as text, so ``"007"`` stays ``"007"``.
    pour_id : int
        The pour it was cast in.
    form_id : int or None
        The form it came out of.
    joints : tuple of JointState
        Sealing of each joint.
    release_agent : str or None
        What was on the form face.
    steps : tuple of Step
        Consolidation, in the order done.
    note : str
        Free text.
    id, version
        As in `Form`.

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
    joints: tuple[JointState, ...] = ()
    release_agent: str | None = None
    steps: tuple[Step, ...] = ()
    note: str = ""
    id: int | None = None
    version: int = 0

    def __post_init__(self) -> None:
        """Refuse a piece without a name or with a joint named twice."""
        _named(self.name, "The piece")
        names = [state.joint for state in self.joints]
        if len(set(names)) < len(names):
            msg = f"Piece {self.name!r} names a joint twice: give each joint once."
            raise InputError(msg)

    @property
    def joint_sealing(self) -> str | None:
        """One sealing for all joints, `MIXED`, or None when any is not known."""
        return _common(tuple(state.sealing for state in self.joints))

    @property
    def vibration_method(self) -> str | None:
        """One method for all steps, `MIXED`, or None when any is not known."""
        return _common(tuple(step.method for step in self.steps))

    @property
    def vibration_s(self) -> float | None:
        """Total of the steps, s; None when any is not known or methods mix.

        Seconds of different methods do not add up.
        """
        seconds = [step.seconds for step in self.steps if step.seconds is not None]
        if self.vibration_method in {None, MIXED} or len(seconds) < len(self.steps):
            return None
        return sum(seconds)


def _common(values: tuple[str | None, ...]) -> str | None:
    """Return the one value they share."""
    if not values or None in values:
        return None
    return values[0] if len(set(values)) == 1 else MIXED


@dataclass(frozen=True, slots=True, kw_only=True)
class PhotoUse:
    """What a photo shows of a piece.

    Attributes
    ----------
    purpose : str
        One of `PURPOSES`; only representative photos are pooled.
    stage : str or None
        One of `STAGES`.
    surface_state : str or None
        One of `SURFACE_STATES`.
    """

    purpose: str = "representative"
    stage: str | None = None
    surface_state: str | None = None

    def __post_init__(self) -> None:
        """Refuse words the log does not know."""
        one_of(self.purpose, "Purpose of the photo", PURPOSES)
        if self.stage is not None:
            one_of(self.stage, "Stage", STAGES)
        if self.surface_state is not None:
            one_of(self.surface_state, "Surface state", SURFACE_STATES)


@dataclass(frozen=True, slots=True, kw_only=True)
class Saved:
    """Outcome of a save.

    Attributes
    ----------
    id : int
        Of the record.
    already_saved : bool
        True when this save token had been used: nothing was written again.
    """

    id: int
    already_saved: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class ReadingLine:
    """A stored reading in brief, for lists. Shares are 0..1.

    Attributes
    ----------
    id, piece_id : int
        Of the reading and its piece.
    photo_sha256, photo_name : str
        The photo measured.
    use : PhotoUse
        What the photo shows.
    measured_at, saved_at : datetime.datetime
        UTC.
    taken_at : str or None
        Camera time as the file states it, ISO; with a zone only if it has one.
    method_version : str
        Version of the measuring steps.
    void_share, void_share_low, void_share_high : float
        With the interval of measurement.
    void_count : int
        Counted voids.
    smallest_counted_mm : float or None
        None without a scale.
    """

    id: int
    piece_id: int
    photo_sha256: str
    photo_name: str
    use: PhotoUse
    measured_at: datetime
    saved_at: datetime
    taken_at: str | None
    method_version: str
    void_share: float
    void_share_low: float
    void_share_high: float
    void_count: int
    smallest_counted_mm: float | None
