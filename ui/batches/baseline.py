"""What counts as usual: frozen pours, deliberate changes, the rules in use."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import streamlit as st

from analysis.monitoring.note_words import note_words
from analysis.monitoring.rules import ALL_RULES, DEFAULT_RULES
from analysis.services import batch_marks
from ui import state
from ui.batches import words
from ui.widgets.fields import line, pick, tick
from ui.widgets.notice import hint, plain, plain_lines
from ui.widgets.presses import act_button

if TYPE_CHECKING:
    from datetime import date

    from analysis.model.batch_marks import BatchMark
    from analysis.model.monitoring import Track
    from analysis.services.log import Log
    from ui.cache import Scope

_RULE = "rule "


def show_baseline(log: Log, result: Track, scope: Scope) -> None:
    """Let the baseline be frozen, or started anew after a deliberate change."""
    with st.expander(words.BASELINE):
        plain(words.baseline_line(result))
        marked = batch_marks.marks(
            log, form=scope.form, product_line=scope.product_line
        )
        show_marks(log, marked)
        _freeze(log, result, scope, marked)
        _rebase(log, result, scope)


def show_marks(log: Log, marked: tuple[BatchMark, ...]) -> None:
    """Show what was decided, each with a way to take it back."""
    for mark in marked[::-1]:
        with st.container(
            border=True, horizontal=True, wrap=False, vertical_alignment="center"
        ):
            plain(words.mark_line(mark))
            act_button(
                words.TAKE_BACK,
                partial(batch_marks.take_back, log, mark),
                key=f"take back {mark.id}",
            )


def _freeze(
    log: Log, result: Track, scope: Scope, marked: tuple[BatchMark, ...]
) -> None:
    points = result.points
    newest = np.flatnonzero(points.era == points.era[-1])[::-1].tolist()
    names = {at: words.pour_choice(points, at) for at in newest}
    st.subheader(words.FREEZE, anchor=False)
    hint(words.FREEZE_WHY)
    first = pick(words.FIRST_POUR, names, f"freeze first {scope}")
    last = pick(words.LAST_POUR, names, f"freeze last {scope}")
    chosen = [at for at in (first, last) if at is not None]
    low, high = min(chosen, default=0), max(chosen, default=0)
    days = points.cast_on[[low, high]].tolist()
    # Frozen again after another stretch was is another save; a second press is not.
    known = [mark.id for mark in marked if not _is_of(mark, days)]
    token = state.save_token(("freeze", scope, days, known))
    act_button(
        words.FREEZE,
        lambda: batch_marks.freeze_baseline(
            log,
            result,
            low,
            high,
            save_token=token,
            form=scope.form,
            product_line=scope.product_line,
        ),
        key=f"freeze {scope}",
        about=days,
        wide=True,
        disabled=first is None or last is None,
    )


def _is_of(mark: BatchMark, days: list[date | None]) -> bool:
    return mark.kind == "baseline" and [mark.from_day, mark.to_day] == days


def _rebase(log: Log, result: Track, scope: Scope) -> None:
    points = result.points
    dated = np.flatnonzero(~np.isnat(points.cast_on))[::-1].tolist()
    names = {at: words.pour_choice(points, at) for at in dated if at > 0}
    st.subheader(words.REBASE, anchor=False)
    hint(words.REBASE_WHY)
    at = pick(words.CHANGED_FROM, names, f"rebase from {scope}")
    what = line(words.WHAT_CHANGED, f"rebase what {scope}")
    day = points.cast_on[at or 0].astype(object)
    token = state.save_token(("change", scope, day, what, batch_marks.taken_back(log)))
    act_button(
        words.START_ANEW,
        lambda: batch_marks.add_change(
            log,
            day,
            what,
            save_token=token,
            form=scope.form,
            product_line=scope.product_line,
        ),
        key=f"start anew {scope}",
        about=day,
        wide=True,
        disabled=at is None,
    )


def rules_in_use() -> tuple[str, ...]:
    """Return the names of the rules chosen here; the usual ones where none is."""
    usual = {rule.name for rule in DEFAULT_RULES}
    names = [rule.name for rule in ALL_RULES]
    chosen = [n for n in names if st.session_state.get(_RULE + n, n in usual)]
    return tuple(chosen or [name for name in names if name in usual])


def show_rules(result: Track) -> None:
    """Let rules be chosen; show their sources and how often chance marks a pour."""
    with st.expander(words.RULES):
        if result.false_alarm_rate is None:
            st.write(words.NO_RATE)
        for note in result.notes:
            plain(note_words(note))
        st.subheader(words.RULES_IN_USE, anchor=False)
        ticked = [
            tick(rule.name.capitalize(), _RULE + rule.name, first=rule in DEFAULT_RULES)
            for rule in ALL_RULES
        ]
        if not any(ticked):
            hint(words.ONE_RULE)
        for rule in result.rules:
            plain_lines((rule.name.capitalize(), f"Source: {rule.source}"))
