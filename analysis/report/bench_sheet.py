"""A plan on paper, with boxes to tick beside the mixer."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analysis.model.field_words import cell_words, column_words
from analysis.planning.plan_words import plan_notes
from analysis.report.paper import big, finished, heading, lines, new_paper, table

if TYPE_CHECKING:
    from analysis.model.plan import Plan

BOX = "\u2610"
_BLANK = " "
_WIDTHS = (1.3, 1.0, 3.2, 3.2, 2.0, 3.9)
_HEAD_MM, _ROW_MM = 22.0, 9.0


def bench_sheet(plan: Plan, sentence: str, *, made_on: str, page: str = "A4") -> bytes:
    """Return the sheet to take to the bench, as PDF.

    Parameters
    ----------
    plan : Plan
        What to cast.
    sentence : str
        The plan in one sentence.
    made_on : str
        Day it was made.
    page : str
        ``"A4"`` or ``"Letter"``.

    Raises
    ------
    InputError
        No such page.

    Examples
    --------
    >>> from analysis.model.plan import Assignment
    >>> from analysis.model.plan import Plan
    >>> made = Plan(
    ...     by="mix", levels=("a", "b"), form_type=None, ratio=0.5, power=0.8,
    ...     layout="between_pours", pieces_per_level=1, pours=1, chance=0.8,
    ...     spread_within=0.3, spread_between=0.3, supposed=True, resolves=(),
    ...     hold=(), assignments=(
    ...         Assignment(pour=1, piece=1, form=None, level="a", order=1),))
    >>> bench_sheet(made, "Cast one pour.", made_on="2026-03-31")[:4]
    b'%PDF'
    """
    name = column_words(plan.by)
    title = f"Bench sheet: {name} {plan.levels[0]} or {plan.levels[1]}"
    sheet = new_paper(title, page=page, foot=f"{title}, planned {made_on}")
    big(sheet, sentence)
    held = [
        f"{column_words(one.factor)}: {cell_words(one.factor, one.level)}"
        for one in plan.hold
    ]
    if held:
        heading(sheet, "Keep the same in every pour")
        lines(sheet, held, bullet=BOX)
    lines(sheet, plan_notes(plan), small=True)
    for pour in range(1, plan.pours + 1):
        planned = sorted(
            (one for one in plan.assignments if one.pour == pour),
            key=lambda one: one.order,
        )
        if sheet.will_page_break(_HEAD_MM + _ROW_MM * len(planned)):
            sheet.add_page()  # a pour stays on one page
        heading(sheet, f"Pour {pour}     day ____________     called ____________")
        table(
            sheet,
            ("Done", "Fill", "Form", name[:1].upper() + name[1:], "Piece", "Seen"),
            [
                (
                    BOX,
                    f"{one.order}.",
                    one.place,
                    one.level,
                    _BLANK,
                    _BLANK,
                )
                for one in planned
            ],
            widths=_WIDTHS,
        )
    return finished(sheet)
