"""Forms over their uses."""

from __future__ import annotations

from collections import Counter
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from analysis.monitoring.wear import form_wear, refinished_at
from analysis.services import batch_marks
from analysis.services.batches import measured_pieces

if TYPE_CHECKING:
    from collections.abc import Callable, Collection
    from datetime import date

    from analysis.model.comparison import PieceTable
    from analysis.model.monitoring import PieceColumns
    from analysis.model.outlook import FormWear, TargetBand
    from analysis.services.log import Log

    Judge = Callable[[Collection[str]], dict[str, FormWear]]


def wear(
    pieces: PieceColumns,
    *,
    targets: dict[str, TargetBand] | None = None,
    refinished: dict[str, date] | None = None,
    by_type: bool = False,
    only: Collection[str] | None = None,
    signs_only: bool = False,
) -> dict[str, FormWear]:
    """Judge the wear of every form, or of every form type of several forms.

    Parameters
    ----------
    pieces : PieceColumns
        From `measured_pieces`.
    targets : dict of str to TargetBand, optional
        Product line and its finish target.
    refinished : dict of str to date, optional
        Form and the first day of casting after it was refinished.
    by_type : bool
        Judge form types: a slope in common, so that few castings of each form do.
    only : collection of str, optional
        Forms or form types to judge; all by default.
    signs_only : bool
        The advice is all that is asked, as for `analysis.monitoring.wear.form_wear`.

    Returns
    -------
    dict of str to FormWear
        By form or form type, the product line with most castings; empty where no
        piece has both a form and a form use.

    Examples
    --------
    >>> from analysis.monitoring.made_pieces import pieces
    >>> table = pieces([0.01] * 3, form=["a"] * 3, form_use=[1, 2, 3])
    >>> wear(table)["a"].advice
    'too_early'
    """
    known = (pieces.form != "") & np.isfinite(pieces.form_use)
    if by_type:
        known &= np.isin(pieces.form_type, _types_of_several_forms(pieces))
    at = refinished_at(pieces, refinished or {})
    found: dict[str, FormWear] = {}
    for line in np.unique(pieces.product_line[known]):
        rows = known & (pieces.product_line == line)
        target = (targets or {}).get(str(line))
        for one in form_wear(
            pieces.take(rows),
            by_type=by_type,
            target=target,
            refinished=at,
            only=only,
            signs_only=signs_only,
        ):
            before = found.get(one.name)
            if before is None or len(one.use) > len(before.use):
                found[one.name] = one
    return found


def judge_of_log(log: Log, table: PieceTable, *, signs_only: bool = False) -> Judge:
    """Return what judges forms of a log, each of them once and only when asked for.

    Parameters
    ----------
    log : Log
        The log.
    table : PieceTable
        Its pieces.
    signs_only : bool
        The advice is all that is asked.

    Returns
    -------
    callable
        Given names of forms, their wear by name, without those that have no measured
        casting.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> from analysis.services.tables import table_from_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     judge_of_log(log, table_from_log(log))(["Pot 1"])
    {}
    """
    judged: dict[str, FormWear | None] = {}

    @cache
    def read() -> tuple[PieceColumns | None, dict[str, TargetBand], dict[str, date]]:
        days = batch_marks.refinished_marks(log)
        return (
            measured_pieces(table),
            batch_marks.targets_of_lines(log),
            {name: mark.from_day for name, mark in days.items()},
        )

    def judge(forms: Collection[str]) -> dict[str, FormWear]:
        asked = set(forms) - judged.keys()
        if asked:
            pieces, targets, refinished = read()
            found = {}
            if pieces is not None:
                found = wear(
                    pieces,
                    targets=targets,
                    refinished=refinished,
                    only=asked,
                    signs_only=signs_only,
                )
            judged.update({name: found.get(name) for name in asked})
        known = {name: judged[name] for name in sorted(forms)}
        return {name: one for name, one in known.items() if one is not None}

    return judge


def _types_of_several_forms(pieces: PieceColumns) -> list[str]:
    pairs = set(zip(pieces.form_type.tolist(), pieces.form.tolist(), strict=True))
    count = Counter(kind for kind, form in pairs if kind and form)
    return [kind for kind, forms in count.items() if forms > 1]
