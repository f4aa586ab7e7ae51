"""Whether it is worth its minutes and its money."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.planning.cost_benefit import Costs, cost_benefit
from ui.cache import comparisons as cache_compare
from ui.compare import words
from ui.widgets.fields import number
from ui.widgets.notice import plain, plain_lines, refuse
from ui.words import literal

if TYPE_CHECKING:
    from analysis.model.comparison import PairResult, PieceTable
    from analysis.services.log import Log
    from ui.cache.comparisons import ComparisonAsked

_JOINTS = ("joints_sealed", "joint_sealing")


def show_cost_benefit(log: Log, asked: ComparisonAsked, pair: PairResult) -> None:
    """Weigh the extra work of the first level against repairs and seconds."""
    title = words.COST_BENEFIT_SEALING if asked.by in _JOINTS else words.COST_BENEFIT
    with st.expander(title):
        table = cache_compare.pieces(log, asked)
        if not any(_known(table, name) for name in ("repair_minutes", "second")):
            st.write(words.COST_BENEFIT_NOTE)
            return
        try:
            minutes = number(words.COST_BENEFIT_MINUTES, "worth minutes", unit="min")
            per_hour = number(words.COST_BENEFIT_HOUR, "worth hour")
            material = number(words.COST_BENEFIT_MATERIAL, "worth material")
            lost = number(words.COST_BENEFIT_SECOND, "worth second")
        except StruckfaceError as error:
            refuse(error)
            return
        if minutes is None or per_hour is None:
            st.write(words.COST_BENEFIT_TYPE)
            return
        try:
            costs = Costs(
                minutes=minutes,
                material=material or 0.0,
                per_hour=per_hour,
                lost_per_second=lost or 0.0,
            )
            found = cost_benefit(table, asked.by, pair.levels, costs)
        except StruckfaceError as error:
            refuse(error)
            return
        first, *rest = words.cost_benefit_lines(found)
        st.subheader(literal(first), anchor=False)
        plain_lines(rest)
        plain(words.cost_benefit_about(asked.by, pair))


def _known(table: PieceTable, name: str) -> bool:
    return name in table.text and bool((table.text[name] != "").any())
