"""Which pours belong to a trial of the log: a plan that was kept before casting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analysis.model.log import Pour
from analysis.pieces.columns import alike
from analysis.services import records
from analysis.storage.saving import saved_id

if TYPE_CHECKING:
    from collections.abc import Mapping

    from analysis.pieces.columns import Column
    from analysis.services.log import Log

PREFIX = "plan "
TRIES = 20
COLUMNS = ("trial", "trial_factor", "trial_pours", "dealt")


@dataclass(frozen=True, slots=True, kw_only=True)
class TrialPour:
    """A pour cast by a kept plan.

    Attributes
    ----------
    trial : str
        What the trial is called: its question and the day it was written.
    factor : str
        What it is about.
    pours : int
        Pours planned in all.
    levels : mapping of str to str
        Level dealt to each form; the form is ``""`` where none was named.
    """

    trial: str
    factor: str
    pours: int
    levels: Mapping[str, str]


def token_of(key: str, number: int, attempt: int) -> str:
    """Return the save token of a pour of a kept plan.

    Examples
    --------
    >>> token_of("plan a", 2, 0), token_of("plan a", 2, 1)
    ('plan a pour 2', 'plan a pour 2 again 1')
    """
    return f"{key} pour {number}" + (f" again {attempt}" if attempt else "")


def trial_pours(log: Log) -> dict[str, TrialPour]:
    """Return the pours of the log that were cast by a kept plan, by name.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     trial_pours(open_log(folder))
    {}
    """
    keys = records.list_drafts(log, PREFIX)
    if not keys:
        return {}
    names = {pour.id: pour.name for pour in records.list_all(log, Pour)}
    found = {}
    for key in keys:
        content = records.load_draft(log, key)
        if content is None:
            continue
        made = content["plan"]
        for number in range(1, made["pours"] + 1):
            lots = {
                one["form"] or "": one["level"]
                for one in made["assignments"]
                if one["pour"] == number and not one.get("joint")
            }
            for attempt in range(TRIES):
                pour_id = saved_id(log, token_of(key, number, attempt))
                if pour_id is None:
                    break
                if pour_id in names:
                    found[names[pour_id]] = TrialPour(
                        trial=f"{made['by']} of {content['made_on']}, {key[-6:]}",
                        factor=made["by"],
                        pours=made["pours"],
                        levels=lots,
                    )
    return found


def with_trials(log: Log, columns: Mapping[str, Column]) -> dict[str, Column]:
    """Add each piece's trial, and whether its level is the one the lot gave it.

    Columns of a log without a trial are left as they are.

    Parameters
    ----------
    log : Log
        The log.
    columns : mapping of str to Column
        Of pieces, with ``pour`` and ``form``.
    """
    pours = trial_pours(log)
    if not pours:
        return dict(columns)
    called = columns["pour"]
    own = [pours.get(str(name)) for name in called.values]
    rows = [row for row, code in enumerate(called.code.tolist()) if own[code]]
    at = np.array(rows, dtype=np.int64)
    found = [_marks(own[called.code[row]], columns, row) for row in rows]
    none = alike(None, len(called))
    return dict(columns) | {
        name: none.put(at, [marks[name] for marks in found]) for name in COLUMNS
    }


def _marks(
    own: TrialPour | None, columns: Mapping[str, Column], row: int
) -> dict[str, object]:
    """Return the marks of a piece of a pour of a trial."""
    if own is None:
        return dict.fromkeys(COLUMNS)
    form, cast = (
        columns[name].values[columns[name].code[row]] if name in columns else None
        for name in ("form", own.factor)
    )
    lot = own.levels.get(str(form or ""))
    kept = lot is None or _alike(lot, cast)
    return {
        "trial": own.trial,
        "trial_factor": own.factor,
        "trial_pours": own.pours,
        "dealt": "by_lot" if kept else "not_by_lot",
    }


def _alike(lot: str, cast: object) -> bool:
    """Tell whether what was cast is what the lot gave; 60 and 60.0 are one."""
    try:
        return float(lot) == float(str(cast))
    except ValueError:
        return " ".join(lot.casefold().split()) == " ".join(
            str(cast).casefold().split()
        )
