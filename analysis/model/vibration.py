"""Vibration: the question whether it is the cause, and its answer."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from analysis.checks import named, number, seal_arrays
from analysis.errors import InputError

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from analysis.model.notes import Note

Decision = Literal["more", "same", "less", "other_cause_first", "not_enough_evidence"]
ReasonCode = Literal[
    "not_tried",
    "few_pours",
    "either_side",
    "one_amount",
    "with_days",
    "went_along",
    "with_pours",
    "by_chance",
    "nothing_cast",
]
LONGEST_S = 86_400.0
Dose = Literal["seconds", "strokes", "passes"]
DOSE_COLUMNS: dict[Dose, str] = {
    "seconds": "vibration_s",
    "strokes": "strokes",
    "passes": "passes",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class VibrationQuestion:
    """What is cast, how it is vibrated, and the finish that is wanted.

    Attributes
    ----------
    form_type, method : str
        Seconds are never pooled over either.
    target_low, target_high : float
        Wanted void share, 0..1; some lines are to have voids.
    current_s : float or None
        Seconds used now; None takes the latest pour's median.
    product_line : str
        The line the answer is for; ``""`` is what was cast lately.
    dose : str
        What is counted: ``seconds``, ``strokes`` of a rod or ``passes`` of a screed.
        The fields named ``_s`` hold that amount, whatever it is.

    Examples
    --------
    >>> VibrationQuestion(
    ...     form_type="pot", method="table", target_low=0.0, target_high=0.004
    ... ).current_s is None
    True
    """

    form_type: str
    method: str
    target_low: float
    target_high: float
    current_s: float | None = None
    product_line: str = ""
    dose: Dose = "seconds"

    def __post_init__(self) -> None:
        """Refuse what cannot be asked."""
        if self.dose not in DOSE_COLUMNS:
            msg = (
                f"The dose must be one of {', '.join(DOSE_COLUMNS)}, {self.dose!r} was "
                f"given."
            )
            raise InputError(msg)
        named(self.form_type, "The form type")
        named(self.method, "The vibration method")
        for value, name in (
            (self.target_low, "Lower end of the target"),
            (self.target_high, "Upper end of the target"),
        ):
            number(100 * number(value, name), name, low=0, high=100, unit="percent")
        if not self.target_low < self.target_high:
            msg = (
                f"The target's lower end {100 * self.target_low:g} percent must be "
                f"below its upper end {100 * self.target_high:g} percent: a target is "
                f"a band."
            )
            raise InputError(msg)
        if self.current_s is not None:
            unit = "s" if self.dose == "seconds" else self.dose
            name = f"{self.dose.capitalize()} used now"
            number(self.current_s, name, low=0, high=LONGEST_S, unit=unit)


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareSpan:
    """A void share with its 95 % interval, each 0..1."""

    middle: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstCause:
    """Something that comes before the seconds.

    Attributes
    ----------
    name : str
        Column: ``joint_band_percent``, ``form_use``, ``honeycomb_percent``, a factor.
    better, worse : str
        Levels, where it is a factor.
    ratio, low, high : float
        Share of the worse over the better, with its 95 % interval; 1 and None where
        no share tells of it.
    """

    name: str
    better: str = ""
    worse: str = ""
    ratio: float = 1.0
    low: float | None = None
    high: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenReason:
    """Why there is no decision: a code with the values it speaks of.

    Attributes
    ----------
    code : str
        ``not_tried``: nothing was cast near the amount used now; ``few_pours``;
        ``either_side``: a typical piece may lie on either side of the target;
        ``one_amount``: only one was tried; ``with_days``, ``went_along``,
        ``with_pours``: what changed along with it; ``by_chance``: no clear
        difference; ``nothing_cast``.
    names : tuple of str
        The column that went along; for ``nothing_cast`` the methods used for this
        form type, or the form types of the log.
    count : float
        Pours, or the only amount tried.
    """

    code: ReasonCode
    names: tuple[str, ...] = ()
    count: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class DoseEffect:
    """Share at the suggested amount over that at the one used now, 95 % interval."""

    ratio: float
    low: float
    high: float


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialCasting:
    """What to cast next so that the question is settled.

    Attributes
    ----------
    title : Note
        What it is about.
    steps : tuple of Note
        What to do, in order.
    times_s : tuple of float
        The two times of the trial; empty where it is about something else.
    """

    title: Note
    steps: tuple[Note, ...]
    times_s: tuple[float, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DoseCurve:
    """Expected share (geometric mean) against seconds: columns of one length.

    Attributes
    ----------
    seconds : ndarray of float64, (m,)
        Rising.
    middle, low, high : ndarray of float64, (m,)
        Share 0..1 and its 95 % interval, for pieces as cast lately.
    """

    seconds: NDArray[np.float64]
    middle: NDArray[np.float64]
    low: NDArray[np.float64]
    high: NDArray[np.float64]

    def __post_init__(self) -> None:
        """Seal the columns."""
        seal_arrays(self)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DosePieces:
    """The pieces an answer rests on: columns of one length.

    Attributes
    ----------
    piece, pour : ndarray of str, (n,)
        Names.
    seconds, share : ndarray of float64, (n,)
        Vibrated, and void share 0..1, zeros as zeros.
    """

    piece: NDArray[np.str_]
    pour: NDArray[np.str_]
    seconds: NDArray[np.float64]
    share: NDArray[np.float64]

    def __post_init__(self) -> None:
        """Seal the columns."""
        seal_arrays(self)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class VibrationAnswer:
    """Whether it is vibration, and what to cast next.

    Attributes
    ----------
    question : VibrationQuestion
        As asked.
    decision : str
        ``more``, ``same``, ``less``, ``other_cause_first``, ``not_enough_evidence``.
    current_s : float or None
        Seconds used now.
    suggested_s : float or None
        Within half the shortest and 1.75 times the longest time tried.
    expected : ShareSpan or None
        At the suggested time.
    now : ShareSpan or None
        At the time used now.
    tried_s : tuple of float
        Shortest and longest time tried; empty where none was.
    cause : FirstCause or None
        What comes first; None where nothing does, or where it is not known what.
    why : tuple of Note
        The weightiest first.
    rests_on : tuple of Note
        What was left out or adjusted for.
    trial : TrialCasting
        What to cast next.
    curve : DoseCurve or None
        None where fewer than two times were tried.
    pieces : DosePieces
        What it rests on.
    reasons : tuple of OpenReason
        Why there is no decision; empty where there is one.
    change : DoseEffect or None
        What the suggested amount should change; None where none is suggested.
    pours, left_out : int
        Pours it rests on; pieces of this form type and method that do not count.
    """

    question: VibrationQuestion
    decision: Decision
    current_s: float | None
    suggested_s: float | None
    expected: ShareSpan | None
    now: ShareSpan | None
    tried_s: tuple[float, ...]
    why: tuple[Note, ...]
    rests_on: tuple[Note, ...]
    trial: TrialCasting
    curve: DoseCurve | None
    pieces: DosePieces
    reasons: tuple[OpenReason, ...] = ()
    cause: FirstCause | None = None
    change: DoseEffect | None = None
    pours: int = 0
    left_out: int = 0
