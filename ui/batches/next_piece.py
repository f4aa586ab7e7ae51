"""The next piece: its chance of meeting the finish target."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.outlook import TargetBand
from analysis.monitoring.target import chance_now
from analysis.services import batch_marks
from ui.batches import words
from ui.widgets.fields import number
from ui.widgets.notice import plain, plain_lines, refuse

if TYPE_CHECKING:
    from analysis.model.monitoring import PieceColumns
    from analysis.services.batches import Batches
    from analysis.services.log import Log


def show_chance(
    log: Log, pieces: PieceColumns, found: Batches, product_line: str | None
) -> None:
    """Say the chance, what it rests on and what limits it."""
    st.header(words.NEXT_PIECE, anchor=False)
    try:
        target = batch_marks.target_of(log, product_line)
        if target is None:
            target = _ask()
        else:
            plain(words.target_line(target))
        if target is None:
            st.write(words.TARGET_MISSING)
            return
        chance = chance_now(pieces, found.track, target)
    except StruckfaceError as error:
        refuse(error)
        return
    first, rest = words.chance_lines(chance)
    st.subheader(first, anchor=False)
    plain_lines(rest)


def _ask() -> TargetBand | None:
    high = number(words.TARGET_HIGH, "target high", unit="%")
    low = number(words.TARGET_LOW, "target low", unit="%")
    if high is None:
        return None
    return TargetBand(low=(low or 0.0) / 100, high=high / 100)
