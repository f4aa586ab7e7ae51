"""Whether it is vibration, and what there is to ask about."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.vibration import DOSE_COLUMNS, VibrationQuestion
from analysis.model.workshop import ProductLine
from analysis.services.batch_marks import target_of
from analysis.storage.records import list_all
from analysis.storage.terms import words
from analysis.vibration.words.doses import by_hand
from analysis.vocabulary import NONE

if TYPE_CHECKING:
    from analysis.model.comparison import PieceTable
    from analysis.model.outlook import TargetBand
    from analysis.model.vibration import Dose
    from analysis.services.log import Log

__all__ = [
    "doses",
    "form_types",
    "methods",
    "targets",
    "usual_question",
]

# Until a finish is said: void area up to this share.
USUAL_HIGH = 0.006


def form_types(log: Log, table: PieceTable) -> tuple[str, ...]:
    """Return the form types to ask about: those cast most, then the log's words.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.tables import trials_of_log
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     form_types(log, trials_of_log(log))[:2]
    ('pot', 'trough')
    """
    return (
        *dict.fromkeys((*_most_first(table, "form_type"), *words(log, "form_type"))),
    )


def methods(log: Log, table: PieceTable, form_type: str) -> tuple[str, ...]:
    """Return the methods to ask about: those used most in a form type, hands last.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.tables import trials_of_log
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     "table" in methods(log, trials_of_log(log), "pot")
    True
    """
    used = _most_first(table, "vibration_method", form_type)
    shaken = [name for name in used if name != NONE]
    known = sorted(words(log, "vibration_method"), key=by_hand)
    return (*dict.fromkeys((*shaken, *known)),)


def targets(log: Log, table: PieceTable, form_type: str) -> dict[str, TargetBand]:
    """Return product lines with their finish targets: those cast most in a form type.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.tables import trials_of_log
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     targets(log, trials_of_log(log), "pot")
    {}
    """
    cast = _most_first(table, "product_line", form_type)
    known = (line.name for line in list_all(log, ProductLine))
    found = {name: target_of(log, name) for name in dict.fromkeys((*cast, *known))}
    return {name: one for name, one in found.items() if one is not None}


def doses(table: PieceTable, form_type: str, method: str) -> tuple[Dose, ...]:
    r"""Return what was counted of a method in a form type, what was counted most first.

    Examples
    --------
    >>> from analysis.services.tables import table_from_csv
    >>> rows = "piece,pour,form_type,vibration_method,strokes\n1,A,pot,rodding,25\n"
    >>> doses(table_from_csv(rows), "pot", "rodding")
    ('strokes',)
    """
    mine = np.ones(len(table), dtype=bool)
    for name, word in (("form_type", form_type), ("vibration_method", method)):
        mine &= table.text.get(name, np.full(len(table), "")) == word
    known: dict[Dose, int] = {
        dose: int((~np.isnan(table.number[column][mine])).sum())
        for dose, column in DOSE_COLUMNS.items()
        if column in table.number
    }
    found = sorted(known, key=lambda dose: -known[dose])
    return tuple(dose for dose in found if known[dose]) or ("seconds",)


def usual_question(log: Log, table: PieceTable, form_type: str) -> VibrationQuestion:
    """Return what is asked of a form type until something else is chosen.

    The method it was vibrated by most, and the finish of the line cast most in it.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.tables import trials_of_log
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     log = open_log(folder)
    ...     usual_question(log, trials_of_log(log), "pot").target_high
    0.006
    """
    wanted = targets(log, table, form_type)
    line = next(iter(wanted), "")
    method = methods(log, table, form_type)[0]
    return VibrationQuestion(
        form_type=form_type,
        method=method,
        dose=doses(table, form_type, method)[0],
        target_low=wanted[line].low if line else 0.0,
        target_high=wanted[line].high if line else USUAL_HIGH,
        product_line=line,
    )


def _most_first(
    table: PieceTable, column: str, form_type: str | None = None
) -> list[str]:
    """Return the words of a column by how often they were cast, unknown ones aside."""
    cells = table.text.get(column)
    if cells is None:
        return []
    if form_type is not None and "form_type" in table.text:
        cells = cells[table.text["form_type"] == form_type]
    return [name for name, _ in Counter(cells.tolist()).most_common() if name]
