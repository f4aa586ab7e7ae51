"""Forms, mixes and product lines: each listed, opened, corrected, taken out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from analysis.model.afterwards import HandFigures, Outcome, Repair
from analysis.model.log import Piece, Pour
from analysis.model.workshop import (
    FinishTarget,
    Form,
    FormCare,
    FormReminder,
    Mix,
    PhotoRecipe,
    ProductLine,
)
from analysis.services import records
from ui.records import words
from ui.records.edit import bring_back, show_adding, show_editing, take_out
from ui.widgets import record_words
from ui.widgets.notice import hint, plain, plain_lines

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from typing import Any

    from analysis.services.log import Log
    from analysis.services.records import Record

_OPEN = "record opened"


def show_forms(log: Log) -> None:
    """List the forms."""
    show_adding(log, Form, words.ADD["forms"])
    forms = records.list_all(log, Form)
    if not forms:
        st.write(words.NONE_YET["forms"])
    for form in forms:
        with st.container(border=True):
            if _row(f"form {form.id}", words.form_brief(form)):
                names = (*record_words.FORM_FACTS, "note")
                lines = record_words.facts(form, names, {})
                plain_lines([*words.form_joints(form), *lines])
                _change(log, form, form.name)


def show_mixes(log: Log) -> None:
    """List the mixes."""
    show_adding(log, Mix, words.ADD["mixes"])
    mixes = records.list_all(log, Mix)
    if not mixes:
        st.write(words.NONE_YET["mixes"])
    for mix in mixes:
        with st.container(border=True):
            if _row(f"mix {mix.id}", words.mix_brief(mix)):
                _note(mix)
                _change(log, mix, mix.name)


def show_lines(log: Log) -> None:
    """List the product lines with their finish targets, every version of them."""
    show_adding(log, ProductLine, words.ADD["lines"])
    lines = records.list_all(log, ProductLine)
    if not lines:
        st.write(words.NONE_YET["lines"])
    for line in lines:
        targets = records.list_all(log, FinishTarget, product_line_id=line.id)
        now = words.target_line(targets[0]) if targets else words.NO_TARGET
        with st.container(border=True):
            if _row(f"line {line.id}", [line.name, now]):
                _note(line)
                for target in targets[1:]:
                    plain(f"{words.TARGET_BEFORE}: {words.target_line(target)}")
                if targets:
                    hint(words.TARGETS_STAY)
                show_adding(
                    log, FinishTarget, words.NEW_TARGET, product_line_id=line.id or 0
                )
                _change(log, line, line.name)


def show_bin(log: Log) -> None:
    """List what was taken out, to bring it back."""
    found = [
        _out(log, Pour),
        _out(log, Piece),
        _out(log, Form),
        _out(log, Mix),
        _out(log, ProductLine),
        _out(log, FinishTarget),
        _out(log, Outcome),
        _out(log, Repair),
        _out(log, HandFigures),
        _out(log, FormCare),
        _out(log, FormReminder),
        _out(log, PhotoRecipe),
    ]
    if not any(found):
        st.write(words.NOTHING_OUT)


def _out(log: Log, kind: type[Record]) -> int:
    """List the records of a kind that are out; return how many."""
    hidden = records.list_all(log, kind, hidden=True)
    for record in hidden:
        with st.container(
            border=True,
            horizontal=True,
            wrap=False,
            vertical_alignment="center",
            horizontal_alignment="distribute",
        ):
            plain(f"{words.KINDS[kind.__name__]} {_name(record)}")
            st.button(
                words.BRING_BACK,
                key=f"bring back {kind.__name__} {record.id}",
                on_click=bring_back,
                args=(log, kind, record.id),
            )
    return len(hidden)


_TOLD: dict[type, Callable[[Any], str]] = {
    FinishTarget: words.target_line,
    Outcome: words.outcome_line,
    Repair: words.repair_line,
    HandFigures: words.by_hand_line,
    FormCare: record_words.care_line,
    FormReminder: record_words.reminder_line,
    PhotoRecipe: lambda one: "; ".join(record_words.photographed_lines(one)),
}


def _name(record: object) -> str:
    told = _TOLD.get(type(record))
    return str(getattr(record, "name", "")) if told is None else told(record)


def _row(key: str, lines: Iterable[str]) -> bool:
    """Show a record in brief; tell whether it is open."""
    is_open = st.session_state.get(_OPEN) == key
    with st.container(
        horizontal=True,
        wrap=False,
        vertical_alignment="center",
        horizontal_alignment="distribute",
    ):
        plain_lines(lines)
        st.button(
            words.CLOSE if is_open else words.OPEN,
            key=f"open {key}",
            on_click=_open,
            args=("" if is_open else key,),
        )
    return is_open


def _note(record: Mix | ProductLine) -> None:
    if record.note:
        plain(record.note)


def _open(key: str) -> None:
    st.session_state[_OPEN] = key


def _change(log: Log, record: Record, name: str) -> None:
    show_editing(log, record, words.CORRECT)
    st.button(
        words.TAKE_OUT,
        key=f"take out {type(record).__name__} {record.id}",
        on_click=take_out,
        args=(log, record, name),
    )
