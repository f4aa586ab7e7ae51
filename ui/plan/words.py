"""Words of the page that plans the next pour."""

from __future__ import annotations

from datetime import date
from types import MappingProxyType
from typing import TYPE_CHECKING

from analysis.compare.level_words import level_words
from analysis.model.field_words import label_of
from analysis.model.writing import day
from ui.pours.words import LOG_POUR
from ui.words import CHOOSE

if TYPE_CHECKING:
    from analysis.model.plan import Assignment, Plan
    from analysis.services.plans import KeptPlan

__all__ = ["CHOOSE", "LOG_POUR"]

PLAN = "Plan the next pour"
INTRO = "What to cast to get a clear answer, and not just another try."

# the question
FACTOR = "What do you want to know about?"
FIRST = "One way"
SECOND = "The other way"
SAME_LEVELS = "Choose two different ways."
TWO_LEVELS = "Choose or type two ways to cast it."
SIZE = "How large a difference should it find?"
SIZES = MappingProxyType(
    {
        "half": "Half",
        "third": "A third less",
        "fifth": "A fifth less",
        "alike": "No worse",
    }
)
# "No worse": a quarter more void area would still do.
MARGIN = 1.25
RATIOS = MappingProxyType({"half": 0.5, "third": 0.67, "fifth": 0.8})
FOUND = MappingProxyType(
    {0.5: "half the void area", 0.67: "a third less", 0.8: "a fifth less"}
)
MORE = "Forms and pieces"
FORM_TYPE = "Cast in"
ANY_TYPE = "The forms that suit best"
AT_MOST = "At most this many pieces a pour"

# the answer
WHY = "Why so"
POURS = "Pour by pour"
THE_REST = "The pours after that"
HOLD = "Keep the same"
KEEP = "Keep this plan"
SHEET = "Bench sheet (PDF)"
PAPER = "Paper"

# a plan being cast
DONE = "All pours are cast. See the answer in Compare."
LOG_THIS = "Log this pour"
ALL_POURS = "All pours"
LOGGED = "Cast and in the log"
TICK = "Cast, logged elsewhere"
THROW_AWAY = "Delete this plan"
THROW_SURE = "Delete it"
ANOTHER = "Make another plan"
HALF_FILLED = "There is an unfinished pour on Log a pour: save or delete it first."


def way(by: str, name: str) -> str:
    """Name a way to cast in a list.

    Examples
    --------
    >>> way("joint_sealing", "none"), way("vibration_s", "20"), way("mix", "grey")
    ('open joints', '20 s', 'grey')
    """
    if by == "joint_sealing" and name == "none":
        return "open joints"
    return f"{name} s" if by == "vibration_s" else name


def example(by: str) -> str:
    """Say how a way could be typed."""
    return "seconds" if by == "vibration_s" else label_of(by).lower()


def tangled(name: str, others: tuple[str, ...]) -> str:
    """Say what Compare cannot tell apart yet.

    Examples
    --------
    >>> tangled("release_agent", ("mix",))
    'So far the log cannot tell release agent from mix.'
    """
    first, *rest = (label_of(one).lower() for one in (name, *others))
    return f"So far the log cannot tell {first} from {', '.join(rest)}."


def chance_line(plan: Plan) -> str:
    """Say how sure the plan is to find the difference.

    Examples
    --------
    >>> from analysis.model.plan import Plan
    >>> made = Plan(
    ...     by="mix", levels=("a", "b"), form_type=None, ratio=0.5, power=0.8,
    ...     layout="between_pours", pieces_per_level=1, pours=8, chance=0.87,
    ...     spread_within=0.3, spread_between=0.3, supposed=False, resolves=(),
    ...     hold=(), assignments=())
    >>> chance_line(made)
    'If one way gives half the void area, 87 of 100 such trials will show it.'
    """
    hundred = min(99, round(100 * plan.chance))
    if plan.margin is not None:
        first, second = (level_words(plan.by, level) for level in plan.levels)
        return (
            f"If both are alike, {hundred} of 100 such trials will show {first} no "
            f"worse than {plan.margin:g} times {second}."
        )
    found = FOUND.get(plan.ratio, f"{plan.ratio:g} times the void area")
    return f"If one way gives {found}, {hundred} of 100 such trials will show it."


def plan_title(plan: Plan) -> str:
    """Name a plan."""
    first, second = (level_words(plan.by, level) for level in plan.levels)
    return f"{first[:1].upper()}{first[1:]} or {second}"


def made_line(kept: KeptPlan) -> str:
    """Say when a plan was made and how far it is cast."""
    made_on = day(date.fromisoformat(kept.made_on))
    return f"Made {made_on}. {len(kept.cast)} of {kept.plan.pours} pours are cast."


def pour_title(number: int, plan: Plan) -> str:
    """Name a pour of a plan."""
    return f"Pour {number} of {plan.pours}"


def piece_line(plan: Plan, one: Assignment) -> str:
    """Say what goes into a form, in the order of filling."""
    return f"{one.order}. {one.place or 'Any form'}: {way(plan.by, one.level)}"


def hold_line(name: str, level: str) -> str:
    """Say what to keep the same."""
    return f"{label_of(name)}: {level}"
