"""What is cast, how it is vibrated, and which finish is wanted."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.vibration import VibrationQuestion
from analysis.services import vibration_questions as service
from ui.cache import next_steps
from ui.vibration import words
from ui.widgets.fields import number, pick

if TYPE_CHECKING:
    from analysis.model.comparison import PieceTable
    from analysis.services.log import Log


def ask(log: Log, table: PieceTable) -> VibrationQuestion:
    """Ask; the form type whose answer tells most is chosen until then.

    Raises
    ------
    InputError
        The finish typed in is no band.
    """
    types = service.form_types(log, table)
    first = next_steps.type_to_ask(log) or types[0]
    named = dict(zip(types, types, strict=True))
    form_type = (
        pick(words.FORM_TYPE, named, "v type", index=types.index(first)) or first
    )
    methods = service.methods(log, table, form_type)
    method = (
        pick(
            words.METHOD,
            dict(zip(methods, methods, strict=True)),
            f"v method {form_type}",
            index=0,
        )
        or methods[0]
    )
    counted = service.doses(table, form_type, method)
    dose = counted[0]
    if len(counted) > 1:
        names = {at: words.DOSES[one] for at, one in enumerate(counted)}
        at = pick(words.DOSE, names, f"v dose {form_type} {method}", index=0)
        dose = counted[at or 0]
    low, high, line = _wanted(log, table, form_type)
    return VibrationQuestion(
        form_type=form_type,
        method=method,
        target_low=low,
        target_high=high,
        current_s=number(
            words.NOWS[dose],
            f"v now {dose}" if dose != "seconds" else "v now",
            unit="s" if dose == "seconds" else "",
            help_text=words.NOW_HELP,
        ),
        dose=dose,
        product_line=line,
    )


def _wanted(log: Log, table: PieceTable, form_type: str) -> tuple[float, float, str]:
    """Take the finish of a product line, or let one be typed."""
    targets = service.targets(log, table, form_type)
    names = {
        line: f"{line}: {words.band_line(found.low, found.high)}"
        for line, found in targets.items()
    } | {"": words.TYPED}
    line = pick(words.WANTED, names, f"v wanted {form_type}", index=0) or ""
    if line:
        return targets[line].low, targets[line].high, line
    places = st.columns(2)
    with places[0]:
        low = number(words.LOW, "v low", unit="%")
    with places[1]:
        high = number(words.HIGH, "v high", unit="%", first=words.NOT_KNOWN_HIGH)
    high = words.NOT_KNOWN_HIGH if high is None else high
    return (0.0 if low is None else low / 100), high / 100, ""
