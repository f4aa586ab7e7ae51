"""The one next step for a question: what to do, to what, and why."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from analysis.model.plan import Layout

StepKind = Literal[
    "retire",
    "refinish",
    "re_seal",
    "go_on",
    "seal",
    "remix",
    "cast",
    "look",
    "keep",
    "leave",
]
Reason = Literal[
    "left_target",
    "wears",
    "worn_again",
    "joints_open",
    "forms_worn",
    "under_way",
    "leaks",
    "stiff",
    "check_amount",
    "better_setting",
    "not_dealt",
    "not_separated",
    "open",
    "no_amount_will_do",
    "in_target",
    "shown",
    "alike",
    "too_small",
]
MEND: tuple[StepKind, ...] = ("retire", "refinish", "re_seal")


@dataclass(frozen=True, slots=True, kw_only=True)
class NextStep:
    """What to do next about a form type, a factor or a form.

    Attributes
    ----------
    kind : str
        ``retire``, ``refinish`` and ``re_seal`` are about `forms`; ``go_on`` and
        ``cast`` about a trial; ``seal`` and ``remix`` about all forms of the type;
        ``look`` where no amount of vibration will do; ``keep`` and ``leave`` where
        there is nothing to cast.
    reason : str
        Why.
    form_type : str or None
        What it is cast in; None where that is open.
    forms : tuple of str
        The forms to be mended.
    by : str
        Factor of the question, a column; ``""`` where it is about a form.
    levels : tuple of str
        The two to cast, or the one to keep.
    layout : str or None
        Of the trial, as in `analysis.model.plan.Plan`.
    pieces_per_level, pours, pours_cast : int
        Size of the trial, and what is cast of it.
    ratio : float or None
        Difference the trial is to find.
    castings_left : int or None
        Until a form that wears leaves its target.
    rests_on_pours : int
        Measured pours behind it.

    Examples
    --------
    >>> NextStep(kind="refinish", reason="left_target", forms=("Pot 2",)).mends
    True
    """

    kind: StepKind
    reason: Reason
    form_type: str | None = None
    forms: tuple[str, ...] = ()
    by: str = ""
    levels: tuple[str, ...] = ()
    layout: Layout | None = None
    pieces_per_level: int = 0
    pours: int = 0
    pours_cast: int = 0
    ratio: float | None = None
    castings_left: int | None = None
    rests_on_pours: int = 0

    @property
    def mends(self) -> bool:
        """Tell whether a form has to be put right before anything is cast in it."""
        return self.kind in MEND
