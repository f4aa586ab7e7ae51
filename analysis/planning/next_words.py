"""The one next step in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.compare.level_words import level_words
from analysis.model.field_words import column_words
from analysis.model.writing import all_of
from analysis.planning.plan_words import layout_sentence

if TYPE_CHECKING:
    from analysis.model.next_step import NextStep


def _these(step: NextStep) -> str:
    """Name what is cast, several of them."""
    return f"the {step.form_type} forms" if step.form_type else "the forms"


def _factor(by: str) -> str:
    return "vibration time" if by == "vibration_s" else column_words(by)


def step_sentence(step: NextStep) -> str:
    """Say what to do next, in one sentence.

    Examples
    --------
    >>> from analysis.model.next_step import NextStep
    >>> step_sentence(
    ...     NextStep(kind="refinish", reason="left_target", forms=("Pot 2",)))
    'First refinish Pot 2.'
    >>> step_sentence(NextStep(kind="refinish", reason="wears", forms=("Pot 2",),
    ...                        castings_left=12))
    'Refinish Pot 2 within about 12 castings.'
    >>> step_sentence(NextStep(kind="keep", reason="in_target", by="vibration_s",
    ...                        levels=("40",)))
    'Keep 40 s of vibration: there is nothing to cast.'
    >>> step_sentence(NextStep(
    ...     kind="cast", reason="open", form_type="pot", by="joint_sealing",
    ...     levels=("tape", "none"), layout="within_pours", pieces_per_level=1,
    ...     pours=8))
    'Cast 8 pours, each with 1 pot with joints sealed with tape and 1 with open joints.'
    """
    if step.mends:
        return _mending(step)
    names = [level_words(step.by, level) for level in step.levels]
    if step.kind == "go_on":
        return (
            f"Go on with the trial of {_factor(step.by)}: {step.pours_cast} of "
            f"{step.pours} pours are cast."
        )
    if step.kind == "cast" and step.layout is not None:
        return layout_sentence(
            names=(names[0], names[1]),
            form_type=step.form_type,
            layout=step.layout,
            pieces_per_level=step.pieces_per_level,
            pours=step.pours,
        )
    if step.kind == "keep":
        kept = all_of(names) if names else "it as it is"
        return f"Keep {kept}: there is nothing to cast."
    if step.kind == "leave":
        return f"Leave {_factor(step.by)} as it is: look for another cause."
    return {
        "seal": f"First seal and clamp the joints of {_these(step)}.",
        "remix": "First use a mix that can be worked, in thinner layers.",
    }.get(
        step.kind,
        "Change one thing at a time, with the same vibration: release agent, joints, "
        "mix or form face.",
    )


def _mending(step: NextStep) -> str:
    forms = all_of(step.forms) if step.forms else _these(step)
    if step.kind == "retire":
        return f"First retire {forms}."
    if step.kind == "re_seal":
        return f"First re-seal the joints of {forms}."
    if step.castings_left is None:
        return f"First refinish {forms}."
    return f"Refinish {forms} within about {step.castings_left} castings."


def step_reason(step: NextStep) -> str:
    """Say why, in one sentence.

    Examples
    --------
    >>> from analysis.model.next_step import NextStep
    >>> step_reason(NextStep(kind="refinish", reason="left_target", forms=("Pot 2",)))
    'By its wear it has left the finish target: anything cast in it tells of the form.'
    """
    several = len(step.forms) > 1
    it, has, its = ("they", "have", "their") if several else ("it", "has", "its")
    factor = _factor(step.by)
    if step.reason == "check_amount" and len(step.levels) > 1:
        better = level_words(step.by, step.levels[1])
        return (
            f"The log says that {better} is better: a trial with both shows whether it "
            "is."
        )
    if step.reason == "better_setting" and len(step.levels) > 1:
        better = level_words(step.by, step.levels[1])
        return f"In the log {better} did better, with the same vibration."
    return {
        "left_target": (
            f"By {its} wear {it} {has} left the finish target: anything cast in "
            f"{'them' if several else 'it'} tells of the "
            f"{'forms' if several else 'form'}."
        ),
        "wears": f"Voids rise with {its} use.",
        "worn_again": f"Voids rise again after {it} {has} been refinished.",
        "joints_open": "Voids along the joints rise with use.",
        "forms_worn": "They give more voids than at first, with the same vibration.",
        "under_way": "A trial that is begun comes before another one.",
        "leaks": "The voids sit along the joints: vibration drives more grout out.",
        "stiff": "Stones show on most pieces, and the mix was logged as stiff.",
        "not_dealt": (
            f"The log shows a difference, but no lot dealt the {factor}: what went "
            f"along with it may be the cause."
        ),
        "not_separated": f"So far the log cannot tell {factor} from what went along.",
        "open": f"The log does not settle it: {factor} may or may not matter.",
        "no_amount_will_do": "No amount near those tried reaches the target.",
        "in_target": "Pieces meet their finish target.",
        "shown": "Pieces dealt by lot showed it.",
        "alike": "The log rules out a difference that would matter.",
        "too_small": "Any difference is too small to be found with 60 pours.",
    }.get(step.reason, "")


def step_keys(step: NextStep) -> dict[str, object]:
    """Return a step in plain types, as the command line writes it.

    Examples
    --------
    >>> from analysis.model.next_step import NextStep
    >>> step_keys(NextStep(kind="keep", reason="in_target"))["kind"]
    'keep'
    """
    return {
        "kind": step.kind,
        "reason": step.reason,
        "form_type": step.form_type,
        "forms": list(step.forms),
        "factor": step.by or None,
        "levels": list(step.levels),
        "layout": step.layout,
        "pieces_per_level_per_pour": step.pieces_per_level or None,
        "pours": step.pours or None,
        "pours_cast": step.pours_cast,
        "ratio": step.ratio,
        "castings_left": step.castings_left,
        "rests_on_pours": step.rests_on_pours,
        "sentence": step_sentence(step),
        "why": step_reason(step),
    }
