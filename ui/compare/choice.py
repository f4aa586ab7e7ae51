"""What is compared, on what, and on which pieces."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.compare.choices import factors, outcomes
from analysis.compare.levels import levels_in_order
from analysis.model.field_words import label_of
from analysis.vocabulary import STAGES
from ui.cache import comparisons as cache_compare
from ui.cache.comparisons import ComparisonAsked
from ui.compare import words
from ui.widgets.fields import day_format, pick
from ui.words import STAGES as STAGE_WORDS

if TYPE_CHECKING:
    from datetime import date

    from analysis.model.comparison import Comparison, PairResult, PieceTable
    from analysis.services.log import Log

_SEALED = "joints_sealed"
_ANY = ""


def choose(log: Log, table: PieceTable) -> ComparisonAsked:
    """Let factor, outcome and pieces be chosen; joint sealing until then."""
    offered = factors(table)
    names = [name for name in dict.fromkeys((_SEALED, *offered)) if name in table.text]
    names = names or list(offered)
    known = outcomes(table) or ("void_area_percent",)
    by = pick(
        words.FACTOR,
        {name: label_of(name) for name in names or [_SEALED]},
        "compare by",
        index=0,
    )
    outcome = known[0]
    if len(known) > 1:
        shown = {name: words.outcome(name) for name in known}
        outcome = pick(words.OUTCOME, shown, "compare outcome", index=0) or known[0]
    by = by or _SEALED
    with st.expander(words.WHICH_PIECES):
        stage = _stage(log)
        alike = _alike(table)
        from_day, to_day = _days()
        others = [name for name in offered if name != by]
        within = _several(words.WITHIN, others, "compare within")
        adjust = _several(words.ADJUST, others, "compare adjust")
    return ComparisonAsked(
        by=by,
        outcome=outcome,
        stage=stage,
        alike=alike,
        from_day=from_day,
        to_day=to_day,
        within=within,
        adjust_for=tuple(name for name in adjust if name not in within),
    )


def choose_pair(comparison: Comparison) -> PairResult:
    """Let two of several levels be chosen."""
    pairs = comparison.pairs
    if len(pairs) == 1:
        return comparison.head
    names = {
        at: words.pair_choice(comparison.by, pair) for at, pair in enumerate(pairs)
    }
    ends = (comparison.levels[0], comparison.levels[-1])  # "none" stands last
    first = next(at for at, pair in enumerate(pairs) if pair.levels == ends)
    key = f"compare pair {comparison.by} {comparison.levels}"
    chosen = pick(words.PAIR, names, key, index=first)
    return pairs[first if chosen is None else chosen]


def _stage(log: Log) -> str | None:
    seen = set(cache_compare.table(log).text.get("stage", ()))
    names = {_ANY: words.EARLIEST} | {
        name: STAGE_WORDS[name] for name in STAGES if name in seen
    }
    if len(names) < 3:  # noqa: PLR2004  one stage is no choice
        return None
    return pick(words.STAGE, names, "compare stage", index=0) or None


def _alike(table: PieceTable) -> tuple[tuple[str, str], ...]:
    chosen = []
    for name, label in (
        ("form_type", words.FORM_TYPE),
        ("product_line", words.LINE),
    ):
        found = levels_in_order(table.levels(name).names) if name in table.text else ()
        if len(found) > 1:
            names = {_ANY: words.ANY, **{level: level for level in found}}
            level = pick(label, names, f"compare {name}", index=0)
            chosen += [(name, level)] if level else []
    return tuple(chosen)


def _days() -> tuple[date | None, date | None]:
    first, last = st.columns(2)
    from_day: date | None = first.date_input(
        words.FROM_DAY,
        value=None,
        format=day_format(),
        key="compare from",
        persist_state="session",
    )
    to_day: date | None = last.date_input(
        words.TO_DAY,
        value=None,
        format=day_format(),
        key="compare to",
        persist_state="session",
    )
    return from_day, to_day


def _several(label: str, offered: list[str], key: str) -> tuple[str, ...]:
    if not offered:
        return ()
    chosen: list[str] = st.multiselect(
        label, offered, format_func=label_of, key=key, placeholder=words.ANY_NONE
    )
    return tuple(chosen)
