"""How the faces of a form are photographed: kept once, held against each next photo."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import streamlit as st

from analysis.errors import StruckfaceError
from analysis.model.workshop import PhotoRecipe
from analysis.services import records, set_up
from ui import state
from ui.forms import words
from ui.records.edit import take_out
from ui.widgets.fields import number
from ui.widgets.notice import plain_lines, refuse
from ui.widgets.presses import act_button
from ui.widgets.record_fields import box
from ui.widgets.record_words import label, photographed_lines

if TYPE_CHECKING:
    from analysis.model.workshop import Form
    from analysis.services.log import Log


def show_photographed(log: Log, form: Form) -> None:
    """Show what is kept of each face; let it be kept, changed or deleted."""
    st.header(words.PHOTOGRAPHED, anchor=False)
    found = set_up.kept_recipes(log, form.id or 0)
    if not found:
        st.write(words.NOT_PHOTOGRAPHED)
    for one in found:
        said = photographed_lines(one)
        plain_lines(said)
        st.button(
            words.DELETE,
            key=f"delete PhotoRecipe {one.id}",
            on_click=take_out,
            args=(log, one, words.PHOTOGRAPHED),
        )
    with box(words.CHANGE_PHOTOGRAPHED, f"photographed {form.id}"):
        try:
            _ask(log, form, found)
        except StruckfaceError as error:
            refuse(error)


def _ask(log: Log, form: Form, found: tuple[PhotoRecipe, ...]) -> None:
    """Ask for one face's recipe, and save it.

    Raises
    ------
    StruckfaceError
        What was typed cannot be kept.
    """
    only = found[0].face_name if len(found) == 1 else ""
    key = f"photographed face {form.id} {len(found)}"
    typed = st.text_input(words.FACE_NAME, value=only, key=key)
    name = " ".join(typed.split())
    blank = PhotoRecipe(form_id=form.id or 0, face_name=name)
    kept = next((one for one in found if one.face_name == name), blank)
    key = f"{form.id} {name} {kept.id} {kept.version}"
    asked = replace(
        kept,
        camera_mm=number(
            label("camera_mm"), f"camera {key}", unit="mm", first=kept.camera_mm
        ),
        lamp=_line("lamp", kept.lamp, words.LAMP_EXAMPLE, key),
        floor_marks=_line("floor_marks", kept.floor_marks, words.FLOOR_EXAMPLE, key),
    )
    act_button(
        words.SAVE,
        lambda: _keep(log, asked),
        key=f"save photographed {form.id}",
        about=key,
        wide=True,
    )
    act_button(
        words.TAKE_FROM_LAST,
        lambda: _keep(log, set_up.like_last_photo(log, asked, records.today())),
        key=f"take photographed {form.id}",
        about=key,
        wide=True,
    )


def _keep(log: Log, asked: PhotoRecipe) -> None:
    # Kept again after it was deleted is another save.
    known = len(records.list_all(log, PhotoRecipe, form_id=asked.form_id, hidden=True))
    token = state.save_token(("photographed", repr(asked), known))
    set_up.keep_recipe(log, asked, save_token=token)


def _line(name: str, kept: str, example: str, key: str) -> str:
    typed = st.text_input(
        label(name), value=kept, placeholder=example, key=f"{name} {key}"
    )
    return typed.strip()
