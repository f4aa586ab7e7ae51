"""Sentences about a plan."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.compare.level_words import level_words
from analysis.model.field_words import column_words
from analysis.model.plan import OF_POURS

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.plan import Layout, Plan, PlanQuestion

_OF_JOINTS = (
    "Both ways are on joints of one piece, so mix, pour, form and hands drop out."
)


def too_many(total: int, question: PlanQuestion, bearable: Sequence[float]) -> str:
    """Say that a difference is too small to be worth looking for.

    Examples
    --------
    >>> from analysis.model.plan import PlanQuestion
    >>> too_many(90, PlanQuestion(by="mix", ratio=0.9), [0.6, 0.5])
    'To see a ratio of 0.9 takes about 90 pours: ask for 0.6, which takes 12 or fewer.'
    """
    if question.margin is not None:
        return (
            f"To show no worse than {question.margin:g} times takes more than 60 "
            f"pours: allow a wider margin, or cast more pieces in a pour."
        )
    ask = "cast more pieces in a pour, or look for another cause"
    if bearable:
        ask = f"ask for {bearable[0]:g}, which takes 12 or fewer"
    return f"To see a ratio of {question.ratio:g} takes about {total} pours: {ask}."


def no_second_level(by: str, levels: Sequence[str]) -> str:
    """Say that there is nothing to compare with.

    Examples
    --------
    >>> no_second_level("joint_sealing", ("tape",))
    'Of joint sealing only tape was tried: name the two levels to cast.'
    """
    tried = f"only {levels[0]} was tried" if levels else "nothing was tried yet"
    return f"Of {column_words(by)} {tried}: name the two levels to cast."


def plan_notes(plan: Plan) -> tuple[str, ...]:
    """Say why a plan is laid out as it is, and what it asks for.

    Examples
    --------
    >>> from analysis.model.plan import PlanQuestion
    >>> from analysis.pieces.table import piece_table
    >>> from analysis.planning.pour_plan import plan
    >>> asked = PlanQuestion(by="mix", levels=("a", "b"))
    >>> plan_notes(plan(piece_table([]), asked, ()))[0][:44]
    'A pour has only one mix, so pours are compar'
    """
    by, others = column_words(plan.by), ", ".join(map(column_words, plan.resolves))
    if plan.layout == "within_pieces":
        notes = [
            _OF_JOINTS,
            "Hang the sheet at the bench: each joint by its name, as the lot drew it.",
            "Mark each joint line on the photo by name: its band is what is compared.",
            "How much joints of a piece differ is supposed until the log tells.",
        ]
        if others:
            notes.append(f"So far the log cannot tell {by} from {others}.")
        notes.append("Keep everything else alike. Seal by the lot drawn, not by eye.")
        return tuple(notes)
    notes = _layout_notes(plan)
    if plan.supposed:
        notes.append(
            "The log is too short to tell how much pieces differ, so a usual "
            "difference is assumed. Plan again after a few pours."
        )
    if others:
        notes.append(f"So far the log cannot tell {by} from {others}; these pours can.")
    notes.append("Keep everything else the same. Cast by the lots drawn, not by eye.")
    return tuple(notes)


def _layout_notes(plan: Plan) -> list[str]:
    if plan.layout == "within_pours":
        notes = ["Every pour has both ways, so differences between pours cancel out."]
        if any(one.form for one in plan.assignments):
            notes.append("Forms take turns, so that a good form favours neither.")
        return notes
    if plan.by in OF_POURS:
        told = (
            f"A pour has only one {column_words(plan.by)}, so pours are compared: in "
            f"pairs, with the order drawn by lot."
        )
    else:
        kind = plan.form_type or "piece"
        told = (
            f"With one {kind} a pour, pours are compared: in pairs, with the order "
            f"drawn by lot. With a second {kind} form you would need far fewer pours."
        )
    return [told]


def plan_sentence(plan: Plan) -> str:
    """Say what to cast.

    Examples
    --------
    >>> from analysis.model.plan import PlanQuestion
    >>> from analysis.planning.pour_plan import plan
    >>> from analysis.pieces.table import piece_table
    >>> asked = PlanQuestion(by="mix", levels=("a", "b"))
    >>> plan_sentence(plan(piece_table([]), asked, ()))
    'Cast 24 pours of 2 pieces, taking turns between mix a and mix b.'
    """
    first, second = (level_words(plan.by, level) for level in plan.levels)
    return layout_sentence(
        names=(first, second),
        form_type=plan.form_type,
        layout=plan.layout,
        pieces_per_level=plan.pieces_per_level,
        pours=plan.pours,
    )


def layout_sentence(
    *,
    names: tuple[str, str],
    form_type: str | None,
    layout: Layout,
    pieces_per_level: int,
    pours: int,
) -> str:
    """Say what to cast, from the size of a trial.

    Examples
    --------
    >>> layout_sentence(names=("tape", "open joints"), form_type="pot",
    ...                 layout="within_pours", pieces_per_level=2, pours=5)
    'Cast 5 pours, each with 2 pots with tape and 2 with open joints.'
    """
    first, second = names
    count = pieces_per_level
    kind = form_type or "piece"
    if layout == "within_pours":
        return (
            f"Cast {pours} pours, each with {count} {kind}{'' if count == 1 else 's'} "
            f"with {first} and {count} with {second}."
        )
    if layout == "within_pieces":
        if pours == 1:
            return (
                f"Cast 1 {kind}, {count} of its joints with {first} and {count} with "
                f"{second}."
            )
        return (
            f"Cast {pours} {kind}s, one a pour, in each {count} joints with {first} "
            f"and {count} with {second}."
        )
    many = "1 piece" if count == 1 else f"{count} pieces"
    return f"Cast {pours} pours of {many}, taking turns between {first} and {second}."


def plan_keys(plan: Plan) -> dict[str, object]:
    """Return a plan in plain types, as the command line writes it.

    Examples
    --------
    >>> from analysis.model.plan import PlanQuestion
    >>> from analysis.planning.pour_plan import plan
    >>> from analysis.pieces.table import piece_table
    >>> asked = PlanQuestion(by="mix", levels=("a", "b"))
    >>> plan_keys(plan(piece_table([]), asked, ()))["factor"]
    'mix'
    """
    return {
        "factor": plan.by,
        "levels": list(plan.levels),
        "ratio": plan.ratio,
        "margin": plan.margin,
        "power": plan.power,
        "chance": round(plan.chance, 3),
        "layout": plan.layout,
        "form_type": plan.form_type,
        "pieces_per_level_per_pour": plan.pieces_per_level,
        "pours": plan.pours,
        "spread_within": round(plan.spread_within, 4),
        "spread_between": round(plan.spread_between, 4),
        "spreads_supposed": plan.supposed,
        "resolves": list(plan.resolves),
        "hold": [{"factor": one.factor, "level": one.level} for one in plan.hold],
        "assignments": [
            {
                "pour": one.pour,
                "piece": one.piece,
                "form": one.form,
                "level": one.level,
                "order": one.order,
                **({"joint": one.joint} if one.joint else {}),
            }
            for one in plan.assignments
        ],
        "notes": list(plan_notes(plan)),
    }
