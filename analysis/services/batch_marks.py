"""What the maker decided: targets, changes, frozen baselines, refinished forms."""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

import numpy as np

from analysis.errors import InputError, NotInLogError
from analysis.model import workshop
from analysis.model.batch_marks import BatchMark
from analysis.model.outlook import TargetBand
from analysis.monitoring.baseline import FEWEST_POURS
from analysis.storage.records import add, hide, list_all

if TYPE_CHECKING:
    from datetime import date

    from analysis.model.monitoring import Track
    from analysis.services.log import Log

_Named = TypeVar("_Named", workshop.Form, workshop.ProductLine)


def target_of(log: Log, product_line: str | None) -> TargetBand | None:
    """Return the finish target in force for a product line, None where there is none.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     target_of(open_log(folder), "troughs") is None
    True
    """
    line_id = _id_of(log, workshop.ProductLine, product_line)
    if line_id is None:
        return None
    stored = list_all(log, workshop.FinishTarget, product_line_id=line_id)
    if not stored:
        return None
    low, high = stored[0].low_share, stored[0].high_share
    if (low is None and high is None) or low == high:
        return None
    return TargetBand(
        low=0.0 if low is None else low, high=1.0 if high is None else high
    )


def marks(
    log: Log, *, form: str | None = None, product_line: str | None = None
) -> tuple[BatchMark, ...]:
    """Return the changes and frozen baselines that hold for this form and line.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     marks(open_log(folder))
    ()
    """
    form_id = _id_of(log, workshop.Form, form)
    line_id = _id_of(log, workshop.ProductLine, product_line)
    return tuple(
        mark
        for mark in list_all(log, BatchMark)
        if mark.kind != "refinished"
        and mark.form_id in {None, form_id}
        and mark.product_line_id in {None, line_id}
    )


def freeze_baseline(
    log: Log,
    result: Track,
    first: int,
    last: int,
    *,
    save_token: str,
    form: str | None = None,
    product_line: str | None = None,
) -> None:
    """Take the limits from these pours from now on, in place of those frozen before.

    Parameters
    ----------
    log : Log
        The log.
    result : Track
        The chart the pours were chosen from.
    first, last : int
        Its points, both included; of one stretch between breaks.
    save_token : str
        Made once per form shown.
    form, product_line : str, optional
        Whose chart it is.

    Raises
    ------
    InputError
        Fewer than 8 pours, a break between them, or a day that is not known.
    """
    points = result.points
    span = slice(first, last + 1)
    count = len(points.pour[span])
    if count < FEWEST_POURS:
        msg = f"The baseline has {count} pours: choose at least {FEWEST_POURS}."
        raise InputError(msg)
    if points.era[first] != points.era[last]:
        msg = "There is a change between these pours: choose pours after it."
        raise InputError(msg)
    from_day, to_day = _day(points.cast_on[first]), _day(points.cast_on[last])
    form_id, line_id = _scope(log, form, product_line)
    add(
        log,
        BatchMark(
            kind="baseline",
            from_day=from_day,
            to_day=to_day,
            form_id=form_id,
            product_line_id=line_id,
        ),
        save_token=save_token,
    )


def add_change(
    log: Log,
    from_day: date,
    what: str,
    *,
    save_token: str,
    form: str | None = None,
    product_line: str | None = None,
) -> None:
    """Judge pours anew from a day on.

    Raises
    ------
    InputError
        It is not said what was changed.
    """
    form_id, line_id = _scope(log, form, product_line)
    mark = BatchMark(
        kind="change",
        from_day=from_day,
        form_id=form_id,
        product_line_id=line_id,
        note=" ".join(what.split()),
    )
    add(log, mark, save_token=save_token)


def add_refinished(log: Log, form: str, from_day: date, *, save_token: str) -> None:
    """Keep that a form's face was refinished before this day's casting.

    Raises
    ------
    NotInLogError
        There is no such form.
    """
    form_id, _ = _scope(log, form, None)
    mark = BatchMark(kind="refinished", from_day=from_day, form_id=form_id)
    add(log, mark, save_token=save_token)


def taken_back(log: Log) -> int:
    """Count what was taken back, so that a form filled in again is a new one.

    Examples
    --------
    >>> import tempfile
    >>> from analysis.services.log import open_log
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     taken_back(open_log(folder))
    0
    """
    return len(list_all(log, BatchMark, hidden=True))


def take_back(log: Log, mark: BatchMark) -> None:
    """Take back a change, a frozen baseline or a refinishing."""
    hide(log, BatchMark, mark.id or 0)


def refinished_marks(log: Log) -> dict[str, BatchMark]:
    """Return the last refinishing of each form, by its name."""
    names = {form.id: form.name for form in list_all(log, workshop.Form)}
    found: dict[str, BatchMark] = {}
    for mark in list_all(log, BatchMark):
        name = names.get(mark.form_id)
        if mark.kind != "refinished" or name is None:
            continue
        if name not in found or mark.from_day >= found[name].from_day:
            found[name] = mark
    return found


def targets_of_lines(log: Log) -> dict[str, TargetBand]:
    """Return the finish target in force for every product line that has one."""
    names = [line.name for line in list_all(log, workshop.ProductLine)]
    found = {name: target_of(log, name) for name in names}
    return {name: target for name, target in found.items() if target is not None}


def _scope(
    log: Log, form: str | None, product_line: str | None
) -> tuple[int | None, int | None]:
    ids = (
        _id_of(log, workshop.Form, form),
        _id_of(log, workshop.ProductLine, product_line),
    )
    for name, found in zip((form, product_line), ids, strict=True):
        if name is not None and found is None:
            msg = f"{name} was removed from the log: choose another."
            raise NotInLogError(msg)
    return ids


def _id_of(log: Log, kind: type[_Named], name: str | None) -> int | None:
    if name is None:
        return None
    return next((one.id for one in list_all(log, kind) if one.name == name), None)


def _day(day: np.datetime64) -> date:
    if np.isnat(day):
        msg = "The day of this pour is not known: log when it was cast."
        raise InputError(msg)
    found: date = day.astype(object)
    return found
