"""What the planner reads of a log, read once, and the trials laid out from it."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import partial
from typing import TYPE_CHECKING

from analysis.errors import InputError
from analysis.model.plan import OwnedForm, PlanQuestion
from analysis.model.workshop import Form
from analysis.planning.pour_plan import plan
from analysis.services import plans, records
from analysis.services.forms import judge_of_log
from analysis.services.tables import trials_of_log

if TYPE_CHECKING:
    from collections.abc import Collection, Mapping

    from analysis.model.comparison import PieceTable
    from analysis.model.next_step import NextStep
    from analysis.model.outlook import FormWear
    from analysis.model.plan import Plan
    from analysis.model.vibration import VibrationAnswer, VibrationQuestion
    from analysis.services.forms import Judge
    from analysis.services.log import Log
    from analysis.services.plans import KeptPlan


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Shop:
    """What the planner reads of a log, read once.

    Attributes
    ----------
    log : Log
        The log.
    table : PieceTable
        Its pieces.
    forms : tuple of OwnedForm
        Its forms.
    wear : callable
        Given names of forms, their wear by name, where they were cast and measured. Its
        advice is sure; p and castings left of a form without wear are rough.
    kept : tuple of KeptPlan
        Trials that are kept.
    found : dict of VibrationQuestion to tuple
        Answers worked out already: many pairs of a comparison ask the same.
    planned : dict
        Trials laid out already, or why they cannot be, by question and forms.
    """

    log: Log
    table: PieceTable
    forms: tuple[OwnedForm, ...]
    wear: Judge
    kept: tuple[KeptPlan, ...]
    found: dict[VibrationQuestion, tuple[VibrationAnswer, NextStep]] = field(
        default_factory=dict
    )
    planned: dict[tuple[PlanQuestion, bool], Plan | InputError] = field(
        default_factory=dict
    )


def shop_of_log(
    log: Log,
    table: PieceTable | None = None,
    worn: Mapping[str, FormWear] | None = None,
) -> Shop:
    """Read what the planner needs.

    Parameters
    ----------
    log : Log
        The log.
    table : PieceTable, optional
        Its pieces, where they were read already.
    worn : mapping of str to FormWear, optional
        The wear of its forms, where it was judged already.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     shop_of_log(open_log(folder)).kept
    ()
    """
    table = trials_of_log(log) if table is None else table
    if worn is None:
        judge = judge_of_log(log, table, signs_only=True)
    else:
        judge = partial(_among, worn)
    forms = tuple(
        OwnedForm(
            name=form.name,
            form_type=form.form_type,
            joints=tuple(joint.name for joint in form.joints),
        )
        for form in records.list_all(log, Form)
    )
    return Shop(
        log=log,
        table=table,
        forms=forms,
        wear=judge,
        kept=plans.kept_plans(log),
    )


def _among(worn: Mapping[str, FormWear], forms: Collection[str]) -> dict[str, FormWear]:
    return {name: worn[name] for name in sorted(forms) if name in worn}


def sized(shop: Shop, asked: PlanQuestion) -> Plan | None:
    """Lay a trial out; None where it would take more pours than anyone casts.

    A form type that no form of the log is of yet is laid out with two of them.
    """
    kinds = {one.form_type for one in shop.forms}
    try:
        if asked.form_type is not None and asked.form_type not in kinds:
            laid_out = planned(shop, replace(asked, form_type=None), in_forms=False)
            return replace(laid_out, form_type=asked.form_type)
        return planned(shop, asked)
    except InputError:
        return None


def planned(shop: Shop, asked: PlanQuestion, *, in_forms: bool = True) -> Plan:
    """Lay a trial out once, however often it is asked for."""
    key = asked, in_forms
    if key not in shop.planned:
        try:
            forms = shop.forms if in_forms else ()
            shop.planned[key] = plan(shop.table, asked, forms)
        except InputError as error:
            shop.planned[key] = error
    found = shop.planned[key]
    if isinstance(found, InputError):
        raise found
    return found
