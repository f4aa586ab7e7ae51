"""The next pours as a blocked, randomised plan, sized by the test that will judge it.

Both levels go into each pour where that can be done: the pour is the block, and what
differs from pour to pour drops out. Pours come in twos: levels are drawn by lot for the
first, and the second gives each form the other level, so that a good form favours
neither. One factor in such blocks is a shuffle; no design library is needed for it.
"""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from analysis.compare.confounding import find_aliases
from analysis.compare.level_words import first_large, level_words
from analysis.compare.levels import levels_in_order
from analysis.compare.power import (
    MOST_POURS,
    pours_needed,
    pours_of_margin,
    power_between,
    power_of_margin,
    power_within,
)
from analysis.errors import InputError
from analysis.fields import columns_of_role, row_fields
from analysis.model.field_words import column_words
from analysis.model.plan import OF_POURS, TWO, Hold, Plan
from analysis.pieces.sealing import JOINTS_SEALED
from analysis.planning.joints import SUPPOSED_BETWEEN_JOINTS, deal_joints, plan_joints
from analysis.planning.lots import deal_inside, deal_pours
from analysis.planning.plan_words import no_second_level, too_many
from analysis.planning.spreads import spreads
from analysis.vocabulary import MIXED, NONE, NOT_APPLICABLE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.comparison import PieceTable
    from analysis.model.plan import OwnedForm, PlanQuestion
    from analysis.planning.joints import JointPlan

USUAL_SEED = 20_011
MILDER = (0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1)
BEARABLE_POURS = 12
# What is there, or comes of itself: no lot can deal it out.
NOT_ASSIGNABLE = frozenset(
    {
        *columns_of_role(
            "result", "condition_of_day", "condition_of_measuring", "name"
        ),
        *(one.column for one in row_fields("form")),
        "form",
        "product_line",
    }
)
_MEASURING = columns_of_role("condition_of_measuring")


def plan(table: PieceTable, question: PlanQuestion, forms: Sequence[OwnedForm]) -> Plan:
    """Lay out the pours that would settle a question.

    Parameters
    ----------
    table : PieceTable
        What was cast so far; may be empty.
    question : PlanQuestion
        What is to be told apart.
    forms : sequence of OwnedForm
        Each can be cast once in a pour.

    Returns
    -------
    Plan
        Sized so that the permutation test of `analysis.compare.compare` finds the ratio
        with the chance asked for.

    Raises
    ------
    InputError
        The factor cannot be assigned, there are not two levels, there is no such form
        type, or more than `MOST_POURS` pours would be needed.

    Examples
    --------
    >>> from analysis.model.plan import OwnedForm
    >>> from analysis.model.plan import PlanQuestion
    >>> from analysis.pieces.table import piece_table
    >>> forms = [OwnedForm(name=name, form_type="trough") for name in "AB"]
    >>> asked = PlanQuestion(by="joint_sealing", levels=("tape", "none"))
    >>> found = plan(piece_table([]), asked, forms)
    >>> found.layout, found.pieces_per_level
    ('within_pours', 1)
    >>> sorted(one.level for one in found.assignments[:2])
    ['none', 'tape']
    """
    by = _factor(question.by)
    form_type, names = _forms_of(table, by, question.form_type, forms)
    alike = _of_type(table, form_type)
    levels = _levels(alike, by, question) or _levels(table, by, question)
    if not levels:
        raise InputError(no_second_level(by, levels_to_plan(table, by)))
    seed = USUAL_SEED if question.seed is None else question.seed
    whole = question.pieces_per_pour is None and question.margin is None
    if by == "joint_sealing" and whole:
        jointed = [form for form in forms if form.name in set(names)]
        found = plan_joints(jointed, question.ratio, question.power)
        if found is not None:
            return _of_joints(table, levels, form_type, question, found, seed)
    room = len(names) or TWO
    if question.pieces_per_pour is not None:
        room = min(room, question.pieces_per_pour)
    inside = by not in OF_POURS and room >= TWO
    pieces = room // TWO if inside else room
    within, between, supposed = spreads(alike, by)
    total, chance = _size(question, pieces, within, between, inside=inside)
    resolves, hold = _untangled(table, by, levels)
    random = np.random.default_rng(seed)
    deal = deal_inside if inside else deal_pours
    return Plan(
        by=by,
        levels=levels,
        form_type=form_type,
        ratio=question.ratio,
        power=question.power,
        layout="within_pours" if inside else "between_pours",
        pieces_per_level=pieces,
        pours=total,
        chance=chance,
        spread_within=within,
        spread_between=between,
        supposed=supposed,
        resolves=resolves,
        hold=hold,
        assignments=deal(random, levels, names or [None] * room, pieces, total),
        seed=seed,
        margin=question.margin,
    )


def _size(
    question: PlanQuestion, pieces: int, within: float, between: float, *, inside: bool
) -> tuple[int, float]:
    """Return how many pours settle a question, and the chance that they do.

    Raises
    ------
    InputError
        More than `MOST_POURS` would be needed.
    """
    of_pours = (between**2 + within**2 / pieces) ** 0.5
    margin, spread = question.margin, within if inside else of_pours

    def needed(ratio: float) -> int:
        if margin is not None:
            return pours_of_margin(pieces, spread, margin, question.power, mixed=inside)
        return pours_needed(
            between, within, pieces, ratio=ratio, power=question.power, mixed=inside
        )

    # Pours of each level: where a pour holds one level, twice as many in all.
    count = needed(question.ratio)
    total = count if inside else 2 * count
    if total > MOST_POURS:
        bearable = [one for one in MILDER if needed(one) <= BEARABLE_POURS]
        raise InputError(too_many(total, question, bearable))
    if margin is not None:
        return total, power_of_margin(count, pieces, spread, margin, mixed=inside)
    if inside:
        return total, power_within(count, pieces, within, question.ratio)
    return total, power_between(count, of_pours, question.ratio)


def _of_joints(
    table: PieceTable,
    levels: tuple[str, str],
    form_type: str | None,
    question: PlanQuestion,
    found: JointPlan,
    seed: int,
) -> Plan:
    """Lay out pieces whose joints hold both levels."""
    by = "joint_sealing"
    resolves, hold = _untangled(table, by, levels)
    return Plan(
        by=by,
        levels=levels,
        form_type=form_type,
        ratio=question.ratio,
        power=question.power,
        layout="within_pieces",
        pieces_per_level=found.joints_per_level,
        pours=found.pieces,
        chance=found.chance,
        spread_within=SUPPOSED_BETWEEN_JOINTS,
        spread_between=0.0,
        supposed=True,
        resolves=resolves,
        hold=hold,
        assignments=deal_joints(np.random.default_rng(seed), levels, found),
        seed=seed,
    )


def can_be_planned(by: str) -> bool:
    """Tell whether a factor can be assigned by lot.

    Examples
    --------
    >>> can_be_planned("joint_sealing"), can_be_planned("form")
    (True, False)
    """
    return by not in NOT_ASSIGNABLE


def levels_to_plan(table: PieceTable, by: str) -> tuple[str, ...]:
    r"""Return the levels in the log that a piece can be given.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = "piece,pour,joint_sealing\n1,A,mixed\n2,A,none\n3,A,tape\n"
    >>> levels_to_plan(read_table(rows), "joint_sealing")
    ('tape', 'none')
    """
    found = levels_in_order(table.levels(by).names) if by in table.text else ()
    return tuple(
        _level(table, by, one) for one in found if one not in {MIXED, NOT_APPLICABLE}
    )


def _level(table: PieceTable, by: str, cell: str) -> str:
    """Write a whole number as one types it."""
    return cell.removesuffix(".0") if by in table.number else cell


def tangled_with(table: PieceTable, by: str) -> tuple[str, ...]:
    r"""Return the settings the log cannot tell from a factor's two ends.

    Forms and their like are left out: forms swap levels in every plan.

    Examples
    --------
    >>> from analysis.pieces.table import read_table
    >>> rows = "piece,pour,mix,curing\n1,A,x,wet\n2,B,x,wet\n3,C,y,dry\n4,D,y,dry\n"
    >>> tangled_with(read_table(rows), "mix")
    ('curing',)
    """
    levels = levels_to_plan(table, by)
    if len(levels) < TWO:
        return ()
    found, _ = _untangled(table, by, (levels[0], levels[-1]))
    return tuple(name for name in found if name not in NOT_ASSIGNABLE)


def _factor(by: str) -> str:
    if by in NOT_ASSIGNABLE:
        msg = (
            f"{first_large(column_words(by))} cannot be dealt out by lot: plan by what "
            f"is done to a piece or a pour, such as joint sealing or mix."
        )
        raise InputError(msg)
    return "joint_sealing" if by == JOINTS_SEALED else by


def _levels(
    table: PieceTable, by: str, question: PlanQuestion
) -> tuple[str, str] | None:
    """Return the two levels to cast, None where there are fewer."""
    given = question.levels
    if question.by == JOINTS_SEALED and set(given) <= {"yes", "no"}:
        cells = table.text[by].tolist() if by in table.text else []
        seals = [one for one in levels_to_plan(table, by) if one != NONE]
        pair = max(seals, key=cells.count, default="tape"), NONE
        return pair[::-1] if given[:1] == ("no",) else pair
    levels = given or levels_to_plan(table, by)
    return (levels[0], levels[-1]) if len(levels) >= TWO else None


def _forms_of(
    table: PieceTable, by: str, wanted: str | None, forms: Sequence[OwnedForm]
) -> tuple[str | None, list[str]]:
    """Return the form type to cast and its forms."""
    owned = Counter(form.form_type for form in forms)
    if wanted is not None and wanted not in owned:
        msg = (
            f"There is no form of type {wanted!r} in the log: add one or take another."
        )
        raise InputError(msg)
    if not owned:
        return None, []
    known: dict[str | None, int] = {}
    if "form_type" in table.text and by in table.text:
        tried = table.levels(by)
        asked = tried.where(~np.isin(tried.names, ("", NOT_APPLICABLE)))
        kinds = table.levels("form_type").taken(asked)
        count = np.bincount(kinds.code, minlength=len(kinds.names))
        known = dict(zip(kinds.names.tolist(), count.tolist(), strict=True))

    def rank(kind: str | None) -> tuple[bool, int, int]:
        return owned[kind] >= TWO, _tried(table, by, kind), known.get(kind or "", 0)

    chosen = wanted if wanted is not None else max(owned, key=rank)
    return chosen, [form.name for form in forms if form.form_type == chosen]


def _tried(table: PieceTable, by: str, form_type: str | None) -> int:
    """Count the levels that were tried in forms of a type."""
    return len(levels_to_plan(_of_type(table, form_type), by))


def _of_type(table: PieceTable, form_type: str | None) -> PieceTable:
    if form_type is None or "form_type" not in table.text:
        return table
    types = table.levels("form_type")
    return table.taken(types.where(types.names == form_type))


def _untangled(
    table: PieceTable, by: str, levels: tuple[str, str]
) -> tuple[tuple[str, ...], tuple[Hold, ...]]:
    """Return what the log cannot tell from the factor, and what to keep it at."""
    if by not in table.text:
        return (), ()
    cast = table.levels(by)
    names = np.array([_level(table, by, name) for name in cast.names.tolist()])
    rows = np.flatnonzero(cast.where(np.isin(names, levels)))
    two = table.taken(rows)
    x = cast.where(names == levels[0])[rows].astype(np.float64)
    if not 0 < x.sum() < len(x):
        return (), ()
    words = (level_words(by, levels[0]), level_words(by, levels[1]))
    found = [one.factor for one in find_aliases(two, by, x, words)]
    found = [name for name in found if name not in _MEASURING]
    usual = {
        name: Counter(cell for cell in two.text[name].tolist() if cell)
        for name in found
        if name not in NOT_ASSIGNABLE
    }
    return tuple(found), tuple(
        Hold(factor=name, level=cells.most_common(1)[0][0])
        for name, cells in usual.items()
        if cells
    )
