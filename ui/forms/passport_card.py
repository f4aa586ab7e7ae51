"""A form's passport on the screen: care, reminders, leaks, target, recipe."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.workshop import FormCare, FormReminder
from analysis.services import passport as service
from analysis.services import records
from ui import state
from ui.forms import words
from ui.forms.photographed import show_photographed
from ui.records.edit import show_taken_out, take_out
from ui.widgets.fields import day_format, number
from ui.widgets.notice import hint, plain, plain_lines, refuse, refusing
from ui.widgets.presses import act_button
from ui.widgets.record_fields import box
from ui.widgets.record_words import CARES, care_line, reminder_line

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analysis.model.passport import Due, Passport
    from analysis.model.workshop import Form
    from analysis.services.log import Log


def show_answer(log: Log, form: Form, advice: str) -> None:
    """Let an advice be answered as done, or say that it was."""
    kinds = service.ANSWERS.get(advice)
    if kinds is None:
        return
    done = service.passport(log, form, advice).answered
    if done is not None:
        plain(words.answered_line(done))
        return
    with box(words.ANSWER, f"answer {form.id}"):
        _ask_care(log, form, kinds, f"answer {form.id}")


def target_ends(log: Log, form: Form) -> tuple[float, ...]:
    """Return the ends of the form's target as void shares, 0..1."""
    target = service.passport(log, form).target
    if target is None:
        return ()
    ends = (target.low_share, target.high_share)
    return tuple(one for one in ends if one)


def show_passport(log: Log, form: Form) -> None:
    """Show what the log keeps of a form beside its castings."""
    found = service.passport(log, form)
    show_taken_out(log)
    st.header(words.TARGET, anchor=False)
    target = found.target
    plain(words.NO_TARGET if target is None else words.target_line(target))
    _recipe(log, form)
    show_photographed(log, form)
    if found.leaks:
        st.header(words.LEAKS, anchor=False)
        plain_lines([words.leak_line(one) for one in found.leaks])
    st.header(words.CARE, anchor=False)
    _due(log, form, found.due)
    _cares(log, form, found)
    asked = {"form_id": str(form.id)}
    st.page_link("pieces/page.py", label=words.CASTINGS, query_params=asked)


def _due(log: Log, form: Form, due: Sequence[Due]) -> None:
    for one in due:
        with _row():
            plain(words.due_line(one))
            st.button(
                words.DONE,
                key=f"done {one.reminder.id}",
                on_click=refusing(_done_today),
                args=(log, form, one),
            )


def _done_today(log: Log, form: Form, due: Due) -> None:
    care = FormCare(
        form_id=form.id or 0, kind=due.reminder.kind, done_on=records.today()
    )
    last = due.last
    if last is not None and (last.kind, last.done_on) == (care.kind, care.done_on):
        return  # a second tap, on what the first has noted already
    token = state.save_token(("done", due.reminder.id, last and last.id, care.done_on))
    service.add_care(log, form, care, save_token=token)


def _cares(log: Log, form: Form, found: Passport) -> None:
    if not found.cares:
        st.write(words.NO_CARE)
    for care in found.cares:
        _entry(log, care, care_line(care))
    with box(words.ADD_CARE, f"add care {form.id}"):
        _ask_care(log, form, tuple(CARES), f"care {form.id}")
    with box(words.REMINDERS, f"reminders {form.id}"):
        for one in found.due:
            _entry(log, one.reminder, reminder_line(one.reminder))
        _ask_reminder(log, form)


def _entry(log: Log, record: FormCare | FormReminder, said: str) -> None:
    with _row():
        plain(said)
        st.button(
            words.DELETE,
            key=f"delete {type(record).__name__} {record.id}",
            on_click=take_out,
            args=(log, record, said),
        )


def _ask_care(log: Log, form: Form, kinds: Sequence[str], key: str) -> None:
    kind = st.selectbox(
        words.WHAT, kinds, format_func=CARES.__getitem__, key=f"{key} kind"
    )
    joint = ""
    if kind == "joint_re_sealed" and form.joints:
        names = ["", *(one.name for one in form.joints)]
        joint = st.selectbox(
            words.WHICH_JOINT,
            names,
            format_func=lambda name: name or words.ALL_JOINTS,
            key=f"{key} joint",
        )
    day = st.date_input(
        words.DONE_ON, value=records.today(), format=day_format(), key=f"{key} day"
    )
    note = st.text_input(words.NOTE, key=f"{key} note")
    # Done again after it was deleted is another save.
    known = len(records.list_all(log, FormCare, form_id=form.id, hidden=True))
    token = state.save_token((key, kind, joint, day, note, known))
    care = FormCare(
        form_id=form.id or 0, kind=kind, done_on=day, joint=joint, note=note
    )
    act_button(
        words.SAVE,
        lambda: service.add_care(log, form, care, save_token=token),
        key=f"save {key}",
        wide=True,
    )


def _ask_reminder(log: Log, form: Form) -> None:
    kind = st.selectbox(
        words.REMIND_OF,
        ("waxed", "cleaned", "joint_re_sealed", "edge_repaired", "new_liner"),
        format_func=CARES.__getitem__,
        key=f"remind {form.id}",
    )
    try:
        asked_for = number(words.EVERY, f"every {form.id}", first=20)
    except StruckfaceError as error:
        refuse(error)
        return
    every = None if asked_for is None else int(asked_for)
    if every is None or every < 1 or every != asked_for:
        hint(words.EVERY_WHOLE)
        every = None
    known = len(records.list_all(log, FormReminder, form_id=form.id, hidden=True))
    token = state.save_token(("reminder", form.id, kind, every, known))
    asked = FormReminder(form_id=form.id or 0, kind=kind, every_uses=every or 1)
    act_button(
        words.ADD_REMINDER,
        lambda: records.add(log, asked, save_token=token),
        key=f"add reminder {form.id}",
        disabled=every is None,
    )


def _recipe(log: Log, form: Form) -> None:
    st.header(words.RECIPE, anchor=False)
    plain(form.set_up_recipe or words.NO_RECIPE)
    with box(words.CHANGE_RECIPE, f"recipe {form.id}"):
        text = st.text_area(
            words.RECIPE,
            value=form.set_up_recipe,
            placeholder=words.RECIPE_EXAMPLE,
            key=f"recipe of {form.id} {form.version}",
        )
        changed = replace(form, set_up_recipe=text.strip())
        act_button(
            words.SAVE,
            lambda: records.change(log, changed),
            key=f"save recipe {form.id}",
            about=form.version,
        )


def _row() -> st.delta_generator.DeltaGenerator:
    return st.container(
        horizontal=True,
        vertical_alignment="center",
        horizontal_alignment="distribute",
    )
